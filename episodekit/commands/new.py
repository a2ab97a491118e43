"""`new DIR`: a job folder to start from."""

from __future__ import annotations

import shlex
from pathlib import Path
from typing import Annotated

import typer

from episodekit.commands.shared import USAGE
from episodekit.outside.new_job import NotEmpty, make_job
from episodekit.outside.terminal import complain, say


def new(
    folder: Annotated[
        Path, typer.Argument(metavar="DIR", help="The folder to make; it may exist if it is empty.")
    ],
) -> None:
    """Make a job folder with a plan to fill in.

    The plan is plain Markdown: headings are sections and steps, lines that start with > are spoken, list
    items such as `- bench: 10 min` are facts, and everything else is a note to yourself. The folder also
    gets footage/ for the camera files and job.schema.json, with which editors complete and check the
    settings at the top of job.md.

    Example: episodekit new my-job
    """
    try:
        made = make_job(folder)
    except NotEmpty as error:
        complain(str(error))
        raise typer.Exit(USAGE) from None
    say(f"Made {', '.join(made)} in {folder}.")
    say(f"Next: write job.md, then `episodekit plan {shlex.quote(str(folder))}` for the shot list.")
