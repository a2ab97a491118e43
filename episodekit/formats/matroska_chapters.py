"""Matroska chapter XML, which a Matroska muxer reads.

Source: RFC 9559, section 5.1.7 (the elements' names), in the XML form that mkvmerge documents. Carries start,
end and title of one edition, to the millisecond; the language of titles is given as undetermined, since a plan
does not tell it. Not the episode's title, and nothing nested, hidden or ordered.
"""

from __future__ import annotations

from collections.abc import Sequence
from xml.sax.saxutils import escape

from episodekit.base.time import Ms
from episodekit.formats.chapter_list import chapter_rows
from episodekit.timeline.model import ChapterMark


def write_matroska_chapters(chapters: Sequence[ChapterMark], length: Ms) -> str:
    """The XML, with a newline at its end. Raises ValueError for a bad list.

    >>> text = write_matroska_chapters([ChapterMark(Ms(0), "Flux & wick")], Ms(61_500))
    >>> "<ChapterTimeEnd>00:01:01.500000000</ChapterTimeEnd>" in text, "Flux &amp; wick" in text
    (True, True)
    """
    lines = ['<?xml version="1.0" encoding="UTF-8"?>', "<Chapters>"]
    rows = chapter_rows(chapters, length)
    if rows:  # an edition needs a chapter; a file without any may be empty
        lines.append("  <EditionEntry>")
        for number, row in enumerate(rows, 1):
            lines += [
                "    <ChapterAtom>",
                f"      <ChapterUID>{number}</ChapterUID>",
                f"      <ChapterTimeStart>{_clock(row.start)}</ChapterTimeStart>",
                f"      <ChapterTimeEnd>{_clock(row.end)}</ChapterTimeEnd>",
                "      <ChapterDisplay>",
                f"        <ChapterString>{escape(row.title)}</ChapterString>",
                "        <ChapterLanguage>und</ChapterLanguage>",
                "      </ChapterDisplay>",
                "    </ChapterAtom>",
            ]
        lines.append("  </EditionEntry>")
    lines.append("</Chapters>")
    return "\n".join(lines) + "\n"


def _clock(ms: Ms) -> str:
    """Hours, minutes, seconds and nanoseconds."""
    return f"{ms // 3_600_000:02d}:{ms // 60_000 % 60:02d}:{ms // 1000 % 60:02d}.{ms % 1000:03d}000000"
