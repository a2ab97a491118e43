"""What the creator reads in the terminal: findings, a summary, a progress bar."""

from __future__ import annotations

import os
import re
import shutil
import sys
import textwrap
from collections.abc import Callable, Iterator, Sequence
from contextlib import contextmanager

import typer
from rich.console import Console
from rich.progress import BarColumn, Progress, TaskProgressColumn, TextColumn, TimeRemainingColumn

from episodekit.base.findings import Finding, Severity
from episodekit.base.text import counted

_COLOURS = {
    Severity.ERROR: typer.colors.RED,
    Severity.WARNING: typer.colors.YELLOW,
    Severity.NOTE: typer.colors.CYAN,
}

_UNSEEN = re.compile("[\x00-\x1f\x7f-\x9f\u202a-\u202e\u2066-\u2069]")
"""Control characters, and those that turn the order of what follows (Unicode Standard Annex 9)."""


def on_one_line(text: str) -> str:
    r"""A text in which nothing breaks the line, moves the cursor or turns the order: such characters are written out.

    >>> print(on_one_line("top-\n1.mp4"))
    top-\n1.mp4
    """
    return _UNSEEN.sub(lambda found: found[0].encode("unicode_escape").decode("ascii"), text)


def say(text: str = "") -> None:
    """A line on standard output."""
    typer.echo(text)


def complain(text: str) -> None:
    """A line on standard error."""
    typer.echo(text, err=True)


def filled(text: str, indent: str = "") -> str:
    """Text wrapped to the terminal, later lines indented; as it is where there is no terminal."""
    if not sys.stdout.isatty():
        return text
    width = max(40, min(100, shutil.get_terminal_size().columns))
    return textwrap.fill(
        text, width, subsequent_indent=indent, break_long_words=False, break_on_hyphens=False
    )


def show_findings(findings: Sequence[Finding], *, err: bool = True) -> None:
    """Each finding on a line of its own, then how many there are. Nothing if there are none."""
    for found in findings:
        head = f"{found.severity} {found.code}"
        line = filled(on_one_line(str(found)), "    ")
        if (
            "NO_COLOR" not in os.environ
        ):  # the convention of no-color.org; without a terminal nothing is coloured
            line = line.replace(head, typer.style(head, fg=_COLOURS[found.severity]), 1)
        typer.echo(line, err=err)
    if findings:
        typer.echo(count_findings(findings), err=err)


def count_findings(findings: Sequence[Finding]) -> str:
    """How many of each severity.

    >>> count_findings([])
    'nothing to report'
    """
    counts = [(severity, sum(f.severity is severity for f in findings)) for severity in Severity]
    return (
        ", ".join(counted(count, severity.value) for severity, count in counts if count)
        or "nothing to report"
    )


@contextmanager
def progress_bar(label: str) -> Iterator[Callable[[int, int], None]]:
    """A bar with the time left, on standard error. Nothing is drawn where there is no terminal."""
    columns = (TextColumn("{task.description}"), BarColumn(), TaskProgressColumn(), TimeRemainingColumn())
    console = Console(file=sys.stderr)
    with Progress(*columns, console=console, transient=True, disable=not console.is_terminal) as progress:
        task = progress.add_task(label, total=None)

        def update(done: int, total: int) -> None:
            progress.update(task, completed=done, total=total)

        yield update
