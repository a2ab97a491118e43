"""Cautions shown in turns: as many at a time as every frame can hold, so that none is ever lost."""

from __future__ import annotations

import re
import unicodedata
from collections.abc import Iterator, Sequence
from itertools import accumulate

# Letters at a time. A board over footage holds so many in every accepted frame, even a square one, beside a
# disclosure (a test draws them); over the 6 s that a caution shows by default they are read at 19 letters
# a second, about the pace of subtitles (common practice, no source). A slate has the whole frame.
ON_FOOTAGE = 115
ON_SLATE = 355
_ENDS = (r"[.!?] ", r"[;:] ", r", ", r" ")


def in_turns(texts: Sequence[str], most: int) -> tuple[tuple[str, ...], ...]:
    """The texts in order, in groups of at most so many letters; a wide letter counts as two.

    A text that is longer by itself is parted, best at the end of a sentence, and goes on in the next turn.

    >>> in_turns(["Fume: extraction on", "Static: wrist strap on", "Eyes"], 30)
    (('Fume: extraction on',), ('Static: wrist strap on', 'Eyes'))
    """
    turns: list[list[str]] = []
    left = 0
    for part in (part for text in texts for part in _parts(text, most)):
        if not turns or breadth(part) > left:
            turns.append([])
            left = most
        turns[-1].append(part)
        left -= breadth(part)
    return tuple(tuple(turn) for turn in turns)


def breadth(text: str) -> int:
    """How many letters wide a text is about: ideographs count twice, marks on letters not at all."""
    return sum(
        0 if unicodedata.combining(c) else 2 if unicodedata.east_asian_width(c) in "WF" else 1 for c in text
    )


def shares(first: int, last: int, turns: int, longest: int) -> Iterator[tuple[int, int]]:
    """The frames of each turn: `longest` each, or even shares where the stretch is too short for that.

    Turns without a frame are left out.
    """
    end = min(last, first + turns * longest)
    for turn in range(turns):
        a, b = (first + (end - first) * n // turns for n in (turn, turn + 1))
        if a < b:
            yield a, b


def _reach(text: str, most: int) -> int:
    """How many characters from the start are at most so many letters wide; at least one."""
    sums = accumulate(breadth(character) for character in text)
    return next((max(1, n) for n, wide in enumerate(sums) if wide > most), len(text))


def _parts(text: str, most: int) -> Iterator[str]:
    text = " ".join(text.split())
    while (reach := _reach(text, most)) < len(text):
        cuts = (max((m.end() for m in re.finditer(end, text[:reach])), default=0) for end in _ENDS)
        cut = next((cut for cut in cuts if cut > reach // 2), reach)
        yield text[:cut].rstrip()
        text = text[cut:].lstrip()
    if text:
        yield text
