"""ffmetadata, the text file from which ffmpeg takes a title and chapters.

Source: FFmpeg documentation, "Metadata". Carries a title and chapters with start, end and title in
milliseconds; nothing else. ffmpeg itself accepts unsorted, late and endless chapters without a word
and writes a damaged list, so they are refused here.
"""

from __future__ import annotations

from collections.abc import Sequence
from itertools import pairwise

from episodekit.base.time import Ms
from episodekit.timeline.model import ChapterMark

TITLE_BYTES = 65_535
"""An MP4 text sample states its length in 16 bits; ffmpeg would cut a longer title modulo 65,536."""


def ffmetadata(title: str, chapters: Sequence[ChapterMark], length: Ms) -> str:
    r"""The file's text. Each chapter ends where the next begins, the last at `length`.

    Raises ValueError for chapters that are not in ascending order, that do not begin at 0, that begin
    at or after the end, and for a title that is longer than MP4 can hold.

    >>> print(ffmetadata("Pack; swap", [ChapterMark(Ms(0), "Cold open")], Ms(5000)), end="")
    ;FFMETADATA1
    title=Pack\; swap
    [CHAPTER]
    TIMEBASE=1/1000
    START=0
    END=5000
    title=Cold open
    """
    for mark in chapters:
        if len(mark.title.encode()) > TITLE_BYTES:
            raise ValueError(f"the chapter title {mark.title[:40]!r}... is longer than {TITLE_BYTES} bytes")
    if chapters and chapters[0].start != 0:
        raise ValueError(f"the first chapter starts at {chapters[0].start} ms; players need one at 0")
    for one, two in pairwise(chapters):
        if two.start <= one.start:
            raise ValueError(f"chapter {two.title!r} at {two.start} ms does not come after {one.start} ms")
    if chapters and chapters[-1].start >= length:
        raise ValueError(f"chapter {chapters[-1].title!r} starts at {chapters[-1].start} ms, after the end")
    lines = [";FFMETADATA1", f"title={_escaped(title)}"]
    ends = [mark.start for mark in chapters[1:]] + [length]
    for mark, end in zip(chapters, ends, strict=False):
        lines += ["[CHAPTER]", "TIMEBASE=1/1000", f"START={mark.start}", f"END={end}"]
        lines.append(f"title={_escaped(mark.title)}")
    return "\n".join(lines) + "\n"


def _escaped(text: str) -> str:
    """Special characters behind a backslash; a line break becomes a space, since players show one line."""
    line = " ".join(text.split())
    return "".join(f"\\{sign}" if sign in "=;#\\" else sign for sign in line)
