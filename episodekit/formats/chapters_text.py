"""chapters.txt: stamps and titles for a video's description, one a line.

Carries whole seconds only, rounded down. The first line is 0:00, as hosts ask.
"""

from __future__ import annotations

from collections.abc import Sequence

from episodekit.chapters.mark import Chapter


def write_chapters_text(chapters: Sequence[Chapter]) -> str:
    """The text, with a newline at its end.

    >>> from episodekit.base.time import Ms
    >>> write_chapters_text([Chapter("Cold open", Ms(0)), Chapter("Teardown", Ms(64_500))])
    '0:00 Cold open\\n1:04 Teardown\\n'
    """
    return "".join(f"{chapter.stamp} {chapter.title}\n" for chapter in chapters)
