"""ffmetadata, the text file from which ffmpeg takes a title and chapters.

Source: FFmpeg documentation, "Metadata". Carries a title and chapters with start, end and title in
milliseconds, nothing else; a title that ends with a backslash only with a space after it. ffmpeg itself
accepts unsorted, late and endless chapters without a word and writes a damaged list, so they are refused
here, and so is what an MP4 cannot hold.
"""

from __future__ import annotations

from collections.abc import Sequence

from episodekit.base.text import one_line
from episodekit.base.time import Ms
from episodekit.formats.chapter_list import chapter_rows
from episodekit.timeline.model import ChapterMark

CHAPTERS = 255
TITLE_BYTES = 255
"""An MP4 holds chapters twice. The older list counts them, and the bytes of a title, in 8 bits: ffmpeg leaves out
the 256th chapter there, and cuts a longer title, through a letter if need be. Measured."""


def ffmetadata(title: str, chapters: Sequence[ChapterMark], length: Ms) -> str:
    r"""The file's text. Each chapter ends where the next begins, the last at `length`.

    Raises ValueError for chapters that are not in ascending order, that do not begin at 0, that begin
    at or after the end, for more than `CHAPTERS`, and for a title of more than `TITLE_BYTES` bytes.

    >>> print(ffmetadata("Pack; swap", [ChapterMark(Ms(0), "Cold open")], Ms(5000)), end="")
    ;FFMETADATA1
    title=Pack\; swap
    [CHAPTER]
    TIMEBASE=1/1000
    START=0
    END=5000
    title=Cold open
    """
    lines = [";FFMETADATA1", f"title={_escaped(title)}"]
    for row in chapter_rows(chapters, length, most=CHAPTERS, title_bytes=TITLE_BYTES):
        lines += ["[CHAPTER]", "TIMEBASE=1/1000", f"START={row.start}", f"END={row.end}"]
        lines.append(f"title={_escaped(row.title)}")
    return "\n".join(lines) + "\n"


def _escaped(text: str) -> str:
    """Special characters behind a backslash; a line break becomes a space, since players show one line.

    A title that ends with a backslash gets a space after it: ffmpeg 9 takes an escaped one at a line's end for
    a continued line, and loses the chapter. Measured.
    """
    line = "".join(f"\\{sign}" if sign in "=;#\\" else sign for sign in one_line(text))
    return f"{line} " if line.endswith("\\") else line
