"""At which rate a clip's timecode counts."""

from __future__ import annotations

from fractions import Fraction

from episodekit.base.time import Rate


def timecode_rate(rate: Rate, drop: bool) -> Rate:
    """The rate that a clip's labels count at: its own, or the near 1000/1001 or whole rate for a clip whose
    average rate is uneven.
    """
    whole = Rate(Fraction(rate.nominal))
    ntsc = Rate(Fraction(rate.nominal * 1000, 1001))
    near = min((whole, ntsc), key=lambda r: abs(r.exact - rate.exact))
    if drop and rate.nominal % 30 == 0:
        return Rate(ntsc.exact, drop=True)
    return near
