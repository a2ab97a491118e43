"""JSON chapters 1.2, which players load beside an episode; served as `application/json+chapters`.

Source: Podcasting 2.0, "JSON Chapters Format", version 1.2 of 2021-04-15. Carries the episode's title and each
chapter's start, end and title, in seconds to the millisecond. The format's pictures, links, places and hidden
chapters are not written: a plan has none.
"""

from __future__ import annotations

import json
from collections.abc import Sequence

from episodekit.base.text import one_line
from episodekit.base.time import Ms
from episodekit.formats.chapter_list import chapter_rows
from episodekit.timeline.model import ChapterMark


def write_json_chapters(title: str, chapters: Sequence[ChapterMark], length: Ms) -> str:
    """The JSON, with a newline at its end. Raises ValueError for a bad list.

    >>> text = write_json_chapters("Lamp", [ChapterMark(Ms(0), "Open"), ChapterMark(Ms(2500), "End")], Ms(4000))
    >>> json.loads(text)["chapters"][1]
    {'startTime': 2.5, 'endTime': 4, 'title': 'End'}
    """
    rows = [
        {"startTime": _seconds(row.start), "endTime": _seconds(row.end), "title": row.title}
        for row in chapter_rows(chapters, length)
    ]
    made = {"version": "1.2.0", "title": one_line(title), "chapters": rows}
    return json.dumps(made, ensure_ascii=False, indent=2) + "\n"


def _seconds(ms: Ms) -> float | int:
    """Seconds as JSON writes them: the shortest decimal that is the same millisecond."""
    return ms // 1000 if ms % 1000 == 0 else ms / 1000
