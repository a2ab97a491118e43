"""The straight line from a camera's clock to the log's: offset and pace, each with how far off it may be."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from fractions import Fraction

from episodekit.base.time import Seconds
from episodekit.sync.model import Clue

DRIFT = Fraction(100, 1_000_000)
"""How much faster or slower than true a camera may run whose pace is not known. Common practice, no source."""

IMPOSSIBLE = Fraction(500, 1_000_000)
"""No camera's quartz is as far off as this; clues that say so are wrong. Common practice, no source."""

_NEAR_ENOUGH = DRIFT / 2
"""A pace known no better than half of what is possible is not used."""


@dataclass(frozen=True)
class Pace:
    """Log seconds for each second of the camera's clock, and how far off that may be."""

    value: Fraction = Fraction(1)
    within: Fraction = DRIFT


def pace_of(groups: Sequence[Sequence[Clue]]) -> Pace:
    """The pace that all groups share, each of one recording with an offset of its own.

    Weighted by the squares of the uncertainties; these are bounds rather than spreads, so the pace's is the most that
    the two clues furthest apart allow when several agree, and never better than what their weights give. What clues
    share does not blur it, but the pace of the clip that they were matched with is as uncertain as it is.
    """
    top = bottom = Fraction(0)
    for group in groups:
        weights = [1 / max(clue.within, Fraction(1, 10_000)) ** 2 for clue in group]
        whole = sum(weights, Fraction(0))
        at = sum((w * c.at for w, c in zip(weights, group, strict=True)), Fraction(0)) / whole
        late = sum((w * (c.wall - c.at) for w, c in zip(weights, group, strict=True)), Fraction(0)) / whole
        for weight, clue in zip(weights, group, strict=True):
            top += weight * (clue.at - at) * (clue.wall - clue.at - late)
            bottom += weight * (clue.at - at) ** 2
    if bottom * _NEAR_ENOUGH**2 < 1:
        return Pace()
    off = (top / bottom).limit_denominator(10**9)
    if abs(off) > IMPOSSIBLE:
        return Pace()
    # The root of 1 / bottom, rounded up to a tenth of a millionth.
    within = Fraction(int(float(1 / bottom) ** 0.5 * 10_000_000) + 1, 10_000_000)
    return Pace(1 + off, within + max(clue.steep for group in groups for clue in group))


def start_of(group: Sequence[Clue], pace: Pace) -> tuple[Seconds, Seconds]:
    """The wall-clock second at which a recording begins by its clues, to the microsecond, and how far off it may be."""
    weights = [1 / max(clue.in_all, Fraction(1, 10_000)) ** 2 for clue in group]
    starts = [clue.wall - clue.at * pace.value for clue in group]
    start = sum((w * s for w, s in zip(weights, starts, strict=True)), Fraction(0)) / sum(
        weights, Fraction(0)
    )
    within = min(clue.in_all + clue.at * pace.within for clue in group)
    apart = max(abs(one - start) for one in starts)
    return Fraction(round(start * 1_000_000), 1_000_000), max(within, min(apart, 10 * within))
