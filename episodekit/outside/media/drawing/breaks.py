"""Where a line may end, and which way it runs.

Breaks follow the plain cases of Unicode UAX #14 (spaces, zero-width spaces, hyphens and slashes, between
ideographs) and never part a letter from its marks (UAX #29). Thai, Lao, Khmer and Burmese have no spaces: without
a dictionary their words cannot be told, so they are broken between any two letters. Every line of a paragraph runs
as the paragraph does (UAX #9), whatever word it begins with.
"""

from __future__ import annotations

import re
import unicodedata
from collections.abc import Sequence
from functools import lru_cache
from itertools import pairwise

from episodekit.outside.media.drawing.fonts import can_shape, is_silent

# A figure, before the unit that stays on its line. A space stands between them: SI Brochure, 9th edition,
# 5.4.3. The units are those of benches: SI units with prefixes, and a few of the trade.
_UNIT = (
    r"[kMGTmµun]?(?:V|A|W|Hz|Ω|ohms?|F|H|C|K|J|N|Nm|N·m|Pa|s|m|g|L|l|VA|Ah|Wh|bit|B)|cm|cl|dB|bar|"
    r"°|° ?[CF]|%|min|h|d|x|×|rpm|wpm|fps|px|mils?|AWG|psi|inch|years?|days?|hours?|minutes?|seconds?"
)
_FIGURE = re.compile(rf"[\d½¼¾] (?=(?:{_UNIT})(?:[²³]|/\w+)?(?!\w))")
_JOINER = "\u200d"
BREAK = "\u200b"  # the zero-width space: here a line may end
# They show nothing; before a line they say which way its paragraph runs, and that figures follow Arabic letters.
_LEFT_TO_RIGHT, _RIGHT_TO_LEFT, _ARABIC = "\u200e", "\u200f", "\u061c"
_STRONG = frozenset({"L", "R", "AL"})
_VIRAMA = 9  # its canonical combining class: it joins the letter before it to the one after
_AFTER_A_LETTER = frozenset("\u0e33\u0eb3")  # vowels that are no marks, UAX #29, SpacingMark
# Marks that may not start a line of ideographs; UAX #14 classes CL, EX, NS, the common ones.
_NEVER_FIRST = frozenset("、。，．・：；！？）］｝〉》」』】〕ーぁぃぅぇぉっゃゅょァィゥェォッャュョ々…")
_NEVER_LAST = frozenset("（［｛〈《「『【〔")


@lru_cache(maxsize=64)
def pieces_of(text: str) -> tuple[str, ...]:
    """The text cut after every place where a line may end; spaces stay with the word before them."""
    kept = {figure.end() for figure in _FIGURE.finditer(text)}
    parted = (index for index, (a, b) in enumerate(pairwise(text), start=1) if _may_part(a, b))
    ends = [index for index in parted if index not in kept]
    pieces = (text[a:b].replace(BREAK, "") for a, b in pairwise([0, *ends, len(text)]))
    return tuple(piece for piece in pieces if piece)


def _may_part(before: str, after: str) -> bool:
    """Whether a line may end between two characters."""
    if after == " " or unicodedata.combining(after) or is_silent(after) or before == _JOINER:
        return False
    if before in {" ", BREAK}:
        return True
    if before in "-/–—\u2010\u05be" and after.isalpha():
        return True
    wide = unicodedata.east_asian_width(before) in "WF" or unicodedata.east_asian_width(after) in "WF"
    return wide and after not in _NEVER_FIRST and before not in _NEVER_LAST and before.strip() != ""


def clusters_of(text: str) -> list[str]:
    """Letters with the marks that belong to them, and letters that a virama joins."""
    clusters: list[str] = []
    for character in text:
        mark = unicodedata.category(character) in {"Mn", "Mc", "Me"} or is_silent(character)
        mark = mark or character in _AFTER_A_LETTER or 0x1F3FB <= ord(character) <= 0x1F3FF
        before = clusters[-1][-1] if clusters else ""
        if before and (mark or before == _JOINER or unicodedata.combining(before) == _VIRAMA):
            clusters[-1] += character
        else:
            clusters.append(character)
    return clusters


def is_right_to_left(text: str) -> bool:
    """Whether the first letter with a direction, outside isolates, runs from right to left (UAX #9, P2 and P3)."""
    inside = 0
    for kind in map(unicodedata.bidirectional, text):
        if kind in _STRONG and not inside:
            return kind != "L"
        inside += (kind in {"LRI", "RLI", "FSI"}) - (kind == "PDI" and inside > 0)
    return False


def turns(line: str) -> bool:
    """Whether some letters run from right to left, so that others may stand elsewhere than their number says."""
    return any(unicodedata.bidirectional(c) in {"R", "AL"} for c in line)


def leads_of(paragraph: str, lines: Sequence[str]) -> list[str]:
    """What makes each line run as its paragraph does: UAX #9 orders letters after lines are broken, but finds out
    which way they run before.
    """
    if not can_shape() or paragraph.isascii():
        return [""] * len(lines)
    backwards = is_right_to_left(paragraph)
    found, before = [], ""
    for line in lines:
        lead = _ARABIC if backwards and before == "AL" else ""
        if not lead and is_right_to_left(line) != backwards:
            lead = _RIGHT_TO_LEFT if backwards else _LEFT_TO_RIGHT
        found.append(lead)
        before = next((d for d in map(unicodedata.bidirectional, reversed(line)) if d in _STRONG), before)
    return found
