"""What the commands share: the argument that names a job, and the exit codes."""

from __future__ import annotations

from pathlib import Path
from typing import Annotated

import typer

from episodekit.base.findings import Finding, has_errors

CLEAN, ERRORS, USAGE, OUTSIDE, BUG, INTERRUPTED = 0, 1, 2, 3, 4, 130

Job = Annotated[
    Path,
    typer.Argument(
        metavar="JOB",
        help="The job folder: the one that holds job.md.",
        exists=True,
        file_okay=False,
        resolve_path=False,
    ),
]


def exit_code(findings: tuple[Finding, ...]) -> int:
    """1 if any finding is an error, else 0."""
    return ERRORS if has_errors(findings) else CLEAN
