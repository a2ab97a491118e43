"""From readings to the offset between a clip and the log's clock, by interval stabbing.

A code is on screen from the instant it tells to the one that the next code tells. So each reading allows the offset an
interval, and the truth lies where most of them overlap; a misread frame moves nothing.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from fractions import Fraction

from episodekit.base.time import Seconds
from episodekit.sync.clock_code import LONGEST_MS, REFRESHES
from episodekit.sync.model import Clue, Rung

BIAS = Seconds(0)
"""A screen shines some 10 ms after the paint (half a refresh, and the panel's own delay), and a camera looks as much
later than a frame's stamp (half an exposure, and the rows above the code), so that nothing is to be added. Common
practice, no source; no real screen was measured."""

APART = Seconds(10)
"""Readings further apart than this are two sightings: a clock may run fast or slow in between."""

LEAST_CODES = 3
"""Different codes in a row that make a sighting: fewer may be a page that hangs, and leave the offset wide."""


@dataclass(frozen=True)
class Reading:
    """A frame `at` seconds after the clip's first one that shows the clock: a code painted at `code` ms since 1970."""

    at: Seconds
    code: int


LEAST_AGREEING = Fraction(3, 4)
_MARGIN = Seconds(12, 1000)
"""Added to what the intervals leave open: screens and shutters that are quicker or slower than `BIAS` has it. Frames
that blend two codes tell more (`outside/clocks/shutter.py`)."""

_USUAL_MS = Fraction(REFRESHES * 1000, 60)


def sightings_of(clip: str, readings: Sequence[Reading]) -> tuple[Clue, ...]:
    """A clue for each place where a clip films the clock, in order. What is no running clock is none."""
    found = []
    for group in _groups(sorted(readings, key=lambda reading: reading.at)):
        made = _stabbed(clip, group)
        if made is not None:
            found.append(made)
    return tuple(found)


def _groups(readings: Sequence[Reading]) -> list[list[Reading]]:
    groups: list[list[Reading]] = []
    for reading in readings:
        if groups and reading.at - groups[-1][-1].at <= APART:
            groups[-1].append(reading)
        else:
            groups.append([reading])
    return groups


def _stabbed(clip: str, group: Sequence[Reading]) -> Clue | None:
    ends = _ends(group)
    edges: list[tuple[Fraction, int]] = []
    for reading in group:
        if reading.code in ends:
            begin = Fraction(reading.code, 1000) - reading.at + BIAS
            edges += [(begin, 1), (Fraction(ends[reading.code], 1000) - reading.at + BIAS, -1)]
    if len(ends) < LEAST_CODES:
        return None
    edges.sort()
    best, depth, low, high = 0, 0, Fraction(0), Fraction(0)
    for number, (at, step) in enumerate(edges):
        depth += step
        if depth > best:
            best, low = depth, at
            high = edges[number + 1][0]
    if best < LEAST_AGREEING * len(group):
        return None
    offset, half = (low + high) / 2, (high - low) / 2
    middle = (group[0].at + group[-1].at) / 2
    said = f"{best} of {len(group)} frames agree"
    return Clue(clip, Rung.FILMED_CLOCK, middle, middle + offset, half + _MARGIN, text=said)


def _ends(group: Sequence[Reading]) -> dict[int, int]:
    """When each code left the screen, in ms: when the next one came, or as long as a code stays if that was missed.

    A code that stood for too long is no running clock's.
    """
    known = sorted({reading.code for reading in group})
    ends: dict[int, int] = {}
    for number, code in enumerate(known):
        usual = code + round(_USUAL_MS)
        following = known[number + 1] if number + 1 < len(known) else usual
        ends[code] = following if following - code <= LONGEST_MS else usual
    spans: dict[int, list[Seconds]] = {}
    for reading in group:
        spans.setdefault(reading.code, []).append(reading.at)
    return {
        code: end for code, end in ends.items() if (max(spans[code]) - min(spans[code])) * 1000 <= LONGEST_MS
    }
