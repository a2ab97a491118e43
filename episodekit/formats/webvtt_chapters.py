"""WebVTT chapters, for the `track` element of a web page with `kind="chapters"`.

Source: W3C, "WebVTT: The Web Video Text Tracks Format", files with chapter title text. Carries start, end and
title, to the millisecond. Not the episode's title, and no chapter inside another.
"""

from __future__ import annotations

from collections.abc import Sequence

from episodekit.base.time import Ms
from episodekit.formats.chapter_list import chapter_rows
from episodekit.timeline.model import ChapterMark

_ESCAPES = {"&": "&amp;", "<": "&lt;", ">": "&gt;"}  # the last so that no title holds an arrow


def write_webvtt_chapters(chapters: Sequence[ChapterMark], length: Ms) -> str:
    """The file's text, one cue a chapter. Raises ValueError for a bad list.

    >>> print(write_webvtt_chapters([ChapterMark(Ms(0), "In --> out")], Ms(61_500)), end="")
    WEBVTT
    <BLANKLINE>
    1
    00:00:00.000 --> 00:01:01.500
    In --&gt; out
    """
    blocks = ["WEBVTT\n"]
    for number, row in enumerate(chapter_rows(chapters, length), 1):
        title = "".join(_ESCAPES.get(sign, sign) for sign in row.title)
        blocks.append(f"{number}\n{_clock(row.start)} --> {_clock(row.end)}\n{title}\n")
    return "\n".join(blocks)


def _clock(ms: Ms) -> str:
    """Hours, minutes, seconds and milliseconds."""
    return f"{ms // 3_600_000:02d}:{ms // 60_000 % 60:02d}:{ms // 1000 % 60:02d}.{ms % 1000:03d}"
