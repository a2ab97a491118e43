"""`draft JOB`: the episode as a video that plays."""

from __future__ import annotations

from pathlib import Path
from typing import Annotated

import typer

from episodekit.base.findings import has_errors, in_order
from episodekit.base.text import counted
from episodekit.base.time import clock
from episodekit.commands.shared import ERRORS, Job, exit_code
from episodekit.outside.files import remove
from episodekit.outside.job_folder import compile_job, open_job, out_folder
from episodekit.outside.media.engine import render
from episodekit.outside.plan_files import write_plan_files
from episodekit.outside.terminal import complain, progress_bar, say, show_findings
from episodekit.timeline.private import must_not_be_cut


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
) -> None:
    """Cut the draft video.

    Footage at the logged times, fitted to the words, and slates for what is missing. Recorded takes are heard
    at their beats, the last one of each.

    A job without footage becomes an animatic. Pieces already rendered are kept in out/cache, so after an
    edit only what changed is rendered again, and a stopped run goes on where it was. Your footage is only
    ever read. Ctrl-C leaves nothing half-written. The files of `plan` are written beside the draft.

    With --cluster the pieces are cut by other machines too. Job folder and out/cache must lie at the same path
    on each of them, on shared storage. A worker that is lost costs only the pieces it had begun.

    With errors in the job the draft is cut from what can be read, and the exit status is 1. What is marked
    private is hidden; if it cannot be told what or where, no draft is cut.

    Example: episodekit draft my-job
    """
    out = out_folder(job)
    episode, findings = compile_job(open_job(job))
    if episode is None:
        show_findings(findings)
        raise typer.Exit(ERRORS)
    target = out / ("draft-timecode.mp4" if timecode else "draft.mp4")
    if must_not_be_cut(findings):
        remove(target)
        show_findings(findings)
        complain("No draft is cut, and an older one is gone, until what is private can be hidden.")
        raise typer.Exit(ERRORS)
    with progress_bar("Cutting the draft") as progress:
        made = render(
            episode.timeline,
            episode.clips_by_path,
            job,
            target,
            out / "cache",
            workers=workers,
            ffmpeg=None if ffmpeg is None else str(ffmpeg),
            cluster=cluster,
            narration=episode.narration,
            timecode=timecode,
            progress=progress,
        )
    findings = in_order((*findings, *made.findings))
    write_plan_files(out, episode, findings)
    show_findings(findings)
    if has_errors(findings) and made.delivered:
        complain("The draft was cut all the same, without what the errors name.")
    if not made.delivered:
        complain("There is no draft, and an older one is gone, since something private could be seen in it.")
        raise typer.Exit(ERRORS)
    pieces = f"{counted(made.segments_rendered, 'piece')} rendered, {made.segments_reused} kept"
    say(f"{target}: {clock(episode.runtime)}, {pieces}")
    if episode.reads:  # measuring takes longer than a tenth of the draft, so it is not done unasked
        say(f"Prove the sponsor's terms in it with: episodekit proof {job}")
    raise typer.Exit(exit_code(findings))
