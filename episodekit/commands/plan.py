"""`plan JOB`: the shot list, the narration, the chapters and the plan as data."""

from __future__ import annotations

import typer

from episodekit.base.text import counted
from episodekit.base.time import clock
from episodekit.commands.shared import ERRORS, Job, exit_code
from episodekit.formats.chapters_text import write_chapters_text
from episodekit.formats.plan_json import document, write_plan_json
from episodekit.formats.shot_list_csv import write_shot_list_csv
from episodekit.outside.job_folder import OUT, compile_job, open_job, write_whole
from episodekit.outside.pages import page
from episodekit.outside.terminal import say, show_findings


def plan(job: Job) -> None:
    """Compile the job into a timed shot list, a narration script and chapter stamps.

    Works from whatever exists: the plan alone gives planned times; with a bench log and footage the times
    are those of the draft. Written to out/, which is safe to delete:

    \b
    shot-list.html   shots in screen and filming order, to print or read on a phone
    shot-list.csv    the same for a spreadsheet
    narration.html   what is said, beat by beat, with its time
    chapters.txt     stamps and titles for the description
    plan.json        all of it as data

    Example: episodekit plan my-job
    """
    episode, findings = compile_job(open_job(job))
    show_findings(findings)
    if episode is None:
        raise typer.Exit(ERRORS)
    doc = document(episode, findings)
    out = job / OUT
    write_whole(out / "plan.json", write_plan_json(doc))
    write_whole(out / "shot-list.html", page("shot-list.html", doc))
    write_whole(out / "shot-list.csv", write_shot_list_csv(doc))
    write_whole(out / "narration.html", page("narration.html", doc))
    write_whole(out / "chapters.txt", write_chapters_text(episode.chapters))
    left = sum(not shot.filmed for shot in doc.shots)
    say(
        f"{clock(episode.runtime)}, {counted(len(doc.shots), 'shot')}, {left} to film, {counted(doc.words, 'word')}"
    )
    say(f"Written to {out}: shot-list.html, shot-list.csv, narration.html, chapters.txt, plan.json")
    raise typer.Exit(exit_code(findings))
