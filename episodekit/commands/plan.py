"""`plan JOB`: the shot list, the narration, the chapters and the plan as data."""

from __future__ import annotations

import typer

from episodekit.base.text import counted
from episodekit.commands.shared import ERRORS, Job, exit_code
from episodekit.outside.job_folder import compile_job, open_job, out_folder
from episodekit.outside.page_words import runtime_line
from episodekit.outside.plan_files import write_plan_files
from episodekit.outside.terminal import say, show_findings


def plan(job: Job) -> None:
    """Write shot list, narration and chapters.

    Works from whatever exists: the plan alone gives planned times; with a bench log and footage the times
    are those of the draft. Written to out/, which is safe to delete:

    \b
    shot-list.html   shots in screen and filming order, to print or read on a phone
    shot-list.csv    the same for a spreadsheet
    narration.html   what is said, beat by beat, with its time
    chapters.txt     stamps and titles for the description
    plan.json        all of it as data
    pack/            description.txt, chapters for players, muxers and feeds, ad breaks, deadlines.ics;
                     with footage the draft for editors: timeline.otio, draft.edl

    Example: episodekit plan my-job
    """
    out = out_folder(job)
    episode, findings = compile_job(open_job(job))
    show_findings(findings)
    if episode is None:
        raise typer.Exit(ERRORS)
    made = write_plan_files(out, episode, findings)
    doc = made.doc
    left = sum(not shot.filmed for shot in doc.shots)
    shots, words = counted(len(doc.shots), "shot"), counted(doc.words, "word")
    say(f"{runtime_line(doc)}; {shots}, {left} to film; {words}")
    for deadline in doc.deadlines:
        say(f"{deadline.day}: {deadline.what}")
    say(f"Written to {out}: {', '.join(made.names)}")
    raise typer.Exit(exit_code(findings))
