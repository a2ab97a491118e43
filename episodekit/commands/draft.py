"""`draft JOB`: the episode as a video that plays."""

from __future__ import annotations

from pathlib import Path
from typing import Annotated

import typer

from episodekit.base.findings import has_errors, in_order
from episodekit.base.time import Ms, clock, frames_to_ms
from episodekit.commands.shared import ERRORS, USAGE, Job, exit_code
from episodekit.job.units import duration
from episodekit.outside.files import remove
from episodekit.outside.job_folder import compile_job, open_job, out_folder, words_by_step
from episodekit.outside.media.engine import render
from episodekit.outside.media.probing.identity import identified
from episodekit.outside.media.recipes.quality import Quality, drafts_in, named
from episodekit.outside.plan_files import write_plan_files
from episodekit.outside.terminal import complain, progress_bar, say, show_findings
from episodekit.timeline.excerpt import NoSuchPlace, part_of
from episodekit.timeline.private import must_not_be_cut

GIGABYTE = 1_000_000_000


def _time(text: str) -> Ms:
    try:
        return duration(text)
    except ValueError as problem:
        raise typer.BadParameter(f"{problem}.") from problem


def draft(
    job: Job,
    workers: Annotated[
        int | None, typer.Option(min=1, max=64, help="Pieces rendered side by side; all cores if left out.")
    ] = None,
    timecode: Annotated[
        bool,
        typer.Option(
            "--timecode", help="Burn timecode and clip names in; written to out/draft-timecode.mp4."
        ),
    ] = False,
    ffmpeg: Annotated[
        Path | None,
        typer.Option(help="Another ffmpeg than the one that comes along.", exists=True, dir_okay=False),
    ] = None,
    cluster: Annotated[
        str | None,
        typer.Option(metavar="ADDRESS", help="Cut on the workers of a Dask cluster, as tcp://bench-pc:8786."),
    ] = None,
    quality: Annotated[
        Quality,
        typer.Option(
            help="draft: the plan's size, cut fast. review: 1080 lines at least. full: the cameras' size."
        ),
    ] = Quality.DRAFT,
    only: Annotated[
        str | None, typer.Option(metavar="STEP", help="A look at one step, written to out/look-STEP.mp4.")
    ] = None,
    start: Annotated[
        Ms | None,
        typer.Option(
            "--from", metavar="TIME", parser=_time, help="A look from this time of the draft, as 1:00."
        ),
    ] = None,
    end: Annotated[
        Ms | None, typer.Option("--to", metavar="TIME", parser=_time, help="A look up to this time, as 2:30.")
    ] = None,
    keep: Annotated[
        float | None,
        typer.Option(
            min=0,
            max=1_000_000,
            metavar="GB",
            help="Pieces kept in out/cache, those least recently used go first; 20, or half of the free disk.",
        ),
    ] = None,
    full_hash: Annotated[
        bool,
        typer.Option("--full-hash", help="Read every byte of the footage to see whether it changed."),
    ] = False,
) -> None:
    """Cut the draft video.

    Footage at the logged times, fitted to the words, and slates for what is missing. Recorded takes are heard
    at their beats, the last one of each.

    A job without footage becomes an animatic. Pieces already rendered are kept in out/cache, so after an
    edit only what changed is rendered again, and a stopped run goes on where it was. Your footage is only
    ever read. Ctrl-C leaves nothing half-written. The files of `plan` are written beside the draft.

    With --cluster the pieces are cut by other machines too. Job folder and out/cache must lie at the same path
    on each of them, on shared storage. A worker that is lost costs only the pieces it had begun.

    --only, or --from and --to, cut a look at one place: whole shots, with the pieces that the draft uses too.
    Footage is known by its size and samples of its content; --full-hash reads all of it, once, after a file
    was changed by something else than a camera.

    With errors in the job the draft is cut from what can be read, and the exit status is 1. What is marked
    private is hidden; if it cannot be told what or where, no draft is cut.

    Example: episodekit draft my-job
    """
    out = out_folder(job)
    opened = open_job(job)
    episode, findings = compile_job(opened)
    if episode is None:
        show_findings(findings)
        raise typer.Exit(ERRORS)
    try:
        part = part_of(episode.timeline, episode.narration, only, start, end)
    except NoSuchPlace as problem:
        complain(str(problem))
        raise typer.Exit(USAGE) from problem
    if part.name:
        say(f"A look from {clock(part.begin)} to {clock(part.end)} of the draft.")
    if must_not_be_cut(findings):
        for older in drafts_in(out):
            remove(older)
        show_findings(findings)
        complain("No draft is cut, and older ones and looks are gone, until what is private can be hidden.")
        raise typer.Exit(ERRORS)
    clips = identified(episode.clips_by_path, job, out / "cache", every_byte=full_hash)
    target = out / named(quality, part.name, timecode=timecode)
    with progress_bar("Cutting the draft") as progress:
        made = render(
            part.timeline,
            clips,
            job,
            target,
            out / "cache",
            workers=workers,
            ffmpeg=None if ffmpeg is None else str(ffmpeg),
            cluster=cluster,
            timecode=timecode,
            quality=quality,
            keep=None if keep is None else int(keep * GIGABYTE),
            words=None if part.name else words_by_step(opened),
            narration=part.narration,
            progress=progress,
        )
    findings = in_order((*findings, *made.findings))
    if not part.name:
        write_plan_files(out, episode, findings)
    show_findings(findings)
    if has_errors(findings) and made.delivered:
        complain("The draft was cut all the same, without what the errors name.")
    if made.gone:
        say(f"Removed, since they were cut before it was private: {', '.join(made.gone)}. Cut them again.")
    if not made.delivered:
        complain("There is no draft, and an older one is gone, since something private could be seen in it.")
        raise typer.Exit(ERRORS)
    say(f"{target}: {clock(frames_to_ms(made.frames, part.timeline.rate))}, {made.told}")
    # measuring takes longer than a tenth of the draft, so it is not done unasked
    if episode.reads and not part.name:
        say(f"Prove the sponsor's terms in it with: episodekit proof {job}")
    raise typer.Exit(exit_code(findings))
