"""The list of chapters as every chapter format takes it: checked once, before a file or a program sees it.

Players and muxers accept a bad list without a word and then show none of it, or a damaged one.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from itertools import pairwise

from episodekit.base.text import one_line
from episodekit.base.time import Ms
from episodekit.timeline.model import ChapterMark


@dataclass(frozen=True)
class ChapterRow:
    """A chapter from `start` to `end` in ms, half-open, with a title on one line."""

    start: Ms
    end: Ms
    title: str


def chapter_rows(
    chapters: Sequence[ChapterMark], length: Ms, *, most: int | None = None, title_bytes: int | None = None
) -> tuple[ChapterRow, ...]:
    """The chapters of a video of `length` ms; each ends where the next begins, the last at the end.

    Titles lose line breaks and control characters. Raises ValueError for chapters that do not begin at 0, do
    not ascend, begin at or after the end or have no title, for more than `most` of them, and for a title of
    more than `title_bytes` bytes.

    >>> chapter_rows([ChapterMark(Ms(0), "Cold open"), ChapterMark(Ms(700), "Repair")], Ms(900))[0].end
    700
    """
    rows = [(mark.start, one_line(mark.title)) for mark in chapters]
    if most is not None and len(rows) > most:
        raise ValueError(f"there are {len(rows)} chapters; the file holds {most} at most")
    for start, title in rows:
        if not title:
            raise ValueError(f"the chapter at {start} ms has no title")
        if title_bytes is not None and len(title.encode()) > title_bytes:
            raise ValueError(f"the chapter title {title[:40]!r}... is longer than {title_bytes} bytes")
    if rows and rows[0][0] != 0:
        raise ValueError(f"the first chapter starts at {rows[0][0]} ms; players need one at 0")
    for (before, _), (start, title) in pairwise(rows):
        if start <= before:
            raise ValueError(f"chapter {title!r} at {start} ms does not come after {before} ms")
    if rows and rows[-1][0] >= length:
        raise ValueError(f"chapter {rows[-1][1]!r} starts at {rows[-1][0]} ms, after the end")
    ends = [*(start for start, _ in rows[1:]), length]
    return tuple(ChapterRow(start, end, title) for (start, title), end in zip(rows, ends, strict=False))
