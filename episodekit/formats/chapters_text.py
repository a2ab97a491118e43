"""chapters.txt: stamps and titles for a video's description, one a line.

Carries whole seconds only, rounded down, and no ends. The first line is 0:00, as hosts ask; that there are
enough lines, far enough apart, is the choice of the chapters, not of this file.
"""

from __future__ import annotations

from collections.abc import Sequence

from episodekit.base.time import Ms, clock
from episodekit.formats.chapter_list import chapter_rows
from episodekit.timeline.model import ChapterMark


def write_chapters_text(chapters: Sequence[ChapterMark], length: Ms) -> str:
    """The text, with a newline at its end. Raises ValueError for a bad list.

    >>> write_chapters_text([ChapterMark(Ms(0), "Cold open"), ChapterMark(Ms(64_500), "Teardown")], Ms(90_000))
    '0:00 Cold open\\n1:04 Teardown\\n'
    """
    return "".join(f"{clock(row.start)} {row.title}\n" for row in chapter_rows(chapters, length))
