"""`sync JOB`: when each clip rolled, by the log's clock."""

from __future__ import annotations

import typer

from episodekit.commands.shared import ERRORS, Job, exit_code
from episodekit.outside.clocks.clock_search import clock_clues, heard_clues
from episodekit.outside.clocks.job_sync import left_out, sync_job
from episodekit.outside.clocks.sync_file import write_sync
from episodekit.outside.clocks.sync_page import sync_page
from episodekit.outside.files import write_whole
from episodekit.outside.job_folder import open_job, out_folder
from episodekit.outside.terminal import on_one_line, progress_bar, say, show_findings
from episodekit.sync.told import sureness


def sync(job: Job) -> None:
    """Put every clip on the log's clock.

    Takes the surest evidence there is for each clip: the clock of `episodekit bench` where it is filmed, its
    chirps where they are heard, sound that a placed clip heard too, start timecode, creation time, `clock:` in
    job.md. Says how sure it is; what cannot be told well enough is not placed. Where nothing was measured at
    all, clips stay where their files say, unchecked.

    \b
    sync.json   where each clip lies; check, plan and draft use it
    sync.html   each day as a strip: what nobody filmed, what no step uses

    Example: episodekit sync my-job
    """
    out = out_folder(job)
    opened = open_job(job)
    if opened.plan is None:
        show_findings(opened.findings)
        raise typer.Exit(ERRORS)
    with progress_bar("Looking for the clock") as progress:
        clues = clock_clues(opened, out / "cache", progress)
    with progress_bar("Listening for chirps") as progress:
        clues += heard_clues(opened, opened.plan, out / "cache", progress)
    with progress_bar("Listening to the clips") as progress:
        synced, findings = sync_job(opened, opened.plan, clues, out / "cache", progress)
    findings = (*left_out(opened, opened.plan, synced), *findings)
    file = write_sync(job, synced)
    page = out / "sync.html"
    write_whole(page, sync_page(opened, opened.plan, synced, findings))
    said = [on_one_line(f"{one.clip}: {sureness(one)}") for one in synced]
    say("\n".join(said) or "There is no clip in footage/ that can be used.")
    show_findings(findings)
    say(f"{file}, {page}")
    raise typer.Exit(exit_code(findings))
