"""`check JOB`: everything that is wrong, in one pass."""

from __future__ import annotations

import json
from enum import StrEnum
from typing import Annotated

import typer

from episodekit.commands.shared import Job, exit_code
from episodekit.formats.plan_json import finding_doc
from episodekit.outside.job_folder import compile_job, open_job
from episodekit.outside.terminal import count_findings, say, show_findings


class Format(StrEnum):
    """How the findings are printed."""

    TEXT = "text"
    JSON = "json"


def check(
    job: Job,
    format: Annotated[
        Format, typer.Option(help="text for people, json for editors and scripts.")
    ] = Format.TEXT,
) -> None:
    """Report everything that is wrong.

    The plan, the bench log and the footage are checked in one pass.

    Each line says where, how bad, which rule, what is wrong and what to do. An error would make the
    result wrong or incomplete; a warning wants a look; a note only tells. Nothing is written.

    Exit status: 0 without errors, 1 with errors.

    Example: episodekit check my-job
    """
    _, findings = compile_job(open_job(job))
    if format is Format.JSON:
        say(json.dumps({"version": 1, "findings": [finding_doc(f).model_dump() for f in findings]}, indent=2))
    elif findings:
        show_findings(findings, err=False)
    else:
        say(count_findings(findings))
    raise typer.Exit(exit_code(findings))
