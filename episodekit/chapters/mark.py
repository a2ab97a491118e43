"""Mark the chapters: the best choice of starts, titled, and what is told of it."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from episodekit.base.findings import Finding
from episodekit.base.text import one_line
from episodekit.base.time import Ms, clock
from episodekit.chapters.choose import Terms, choose
from episodekit.chapters.starts import Start
from episodekit.chapters.told import told
from episodekit.job.model import Plan

TITLE_BYTES = 255
"""The older of an MP4's two chapter lists counts a title's bytes in 8 bits; ffmpeg would cut a letter in two."""


@dataclass(frozen=True)
class Chapter:
    """A chapter: `start` in ms, as it goes into the file; its stamp is whole seconds, rounded down.

    Rounded down, because a viewer who lands a little early sees the section begin, one who lands late has
    missed it.
    """

    title: str
    start: Ms

    @property
    def stamp(self) -> str:
        """As it stands in a description."""
        return clock(self.start)


def terms_of(plan: Plan) -> Terms:
    """What the host and the creator ask of chapters."""
    limits, wishes = plan.front.limits, plan.front.chapters
    return Terms(
        limits.chapter_length, limits.chapters, wishes.most.high, wishes.apart.low, wishes.apart.high
    )


def mark_chapters(
    plan: Plan, starts: Sequence[Start], runtime: Ms
) -> tuple[tuple[Chapter, ...], tuple[Finding, ...]]:
    """Chapters of an episode of `runtime` ms, and findings.

    The first is at 0:00. What begins no chapter of its own belongs to the chapter before it.
    """
    terms = terms_of(plan)
    chosen = choose(starts, runtime, terms)
    chapters = tuple(
        Chapter(_title(starts[index].title, number), starts[index].start if number > 1 else Ms(0))
        for number, index in enumerate(chosen, 1)
    )
    return chapters, told(plan, starts, chosen, runtime, terms)


def _title(title: str, number: int) -> str:
    """A title that players and files can hold: one line of at most 200 characters (common practice, no source)."""
    line = one_line(title) or f"Chapter {number}"
    if len(line) > 200 or len(line.encode()) > TITLE_BYTES:
        line = line[:199].encode()[: TITLE_BYTES - len("…".encode())].decode("utf-8", "ignore").rstrip() + "…"
    return line
