"""From blended frames to the offset, to the shutter and to the readout: every likely camera is tried.

A row at `y` of the picture is exposed from the frame's stamp and `y` readouts on, for as long as the shutter is open;
so much of that as lies behind a change shows the new code. A camera (an offset, a shutter, a readout) is the likelier
the better it foretells the shares that were seen; the offset is the middle of the likely ones.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace

import numpy as np
from numpy.typing import NDArray

from episodekit.base.time import Seconds
from episodekit.outside.clocks.blends import Blend
from episodekit.sync.model import Clue

Numbers = NDArray[np.float64]

SHUTTERS = np.array([1, 2, 3, 4.5, 6, 8, 10, 12, 14, 16, 18, 20]) / 1000
READOUTS = np.array([6, 8.5, 11, 13.5, 16]) / 1000
"""Seconds for which a frame may be exposed, and from its first row to its last. Common practice, no source."""

LAG = 0.010
LAG_WITHIN = 0.004
"""How long after the paint a screen shines, and how much more or less. Common practice, no source; no real screen was
measured."""

LEAST_CHANGES = 3
"""Changes of the code that must be seen near enough; fewer may all be one that is mistaken."""

_STEP = 0.001
_REACH = 0.030
"""Offsets tried, in seconds, around the one that is known already."""

_ROUGH = 0.0008
"""Seconds that a paint's own stamp may be off: half a millisecond of rounding, and a little."""

_SHARE_OFF = 0.05
_CHANCE = 0.03
"""How far off a share is, and how many are wrong altogether: a hand in between, a code that was misread."""

_ALIKE = 0.3
"""What a frame says counts for less than one, since what spoils it spoils its neighbours too."""

_LEFT_OUT = 0.005
"""Likelihood left out at either end."""


def refined(clue: Clue, seen: Sequence[Blend], longest: float) -> Clue:
    """The clue with its place as exact as the blends make it, or as it is if they are too few. `longest` is how long a
    frame can be exposed at all, in seconds.
    """
    if len({blend.change for blend in seen}) < LEAST_CHANGES:
        return clue
    known = clue.wall - clue.at
    # Whole seconds since 1970 and the microseconds of an exposure do not fit one float.
    begins = np.array([float(blend.at + known - Seconds(blend.change, 1000)) for blend in seen])
    tops = np.array([blend.top for blend in seen])
    heights = np.array([max(blend.bottom - blend.top, 1e-3) for blend in seen])
    shares = np.array([blend.share for blend in seen])
    tried = np.arange(-_REACH, _REACH + _STEP / 2, _STEP)
    shutters = SHUTTERS[longest + 0.001 >= SHUTTERS]
    if not len(shutters):
        shutters = SHUTTERS[:1]
    # Shutters are tried more closely where they are short: each stands for its share of all lengths.
    prior = np.gradient(shutters) if len(shutters) > 1 else np.ones(1)
    likely = np.empty((len(shutters), len(READOUTS), len(tried)))
    for n, shutter in enumerate(shutters):
        for m, readout in enumerate(READOUTS):
            begin = (begins + readout * tops - LAG)[:, None] + tried
            likely[n, m] = _agreement(shares, begin, float(shutter), readout * heights)
    weight = np.exp(_ALIKE * (likely - likely.max())) * prior[:, None, None]
    heap = np.cumsum(weight.sum((0, 1)))
    low, high = np.searchsorted(heap, [_LEFT_OUT * heap[-1], (1 - _LEFT_OUT) * heap[-1]])
    first, last = float(tried[low]), float(tried[min(high, len(tried) - 1)])
    within = (last - first + _STEP) / 2 + LAG_WITHIN
    return replace(clue, wall=clue.wall + _exact((first + last) / 2), within=_exact(within), text=clue.text)


def _agreement(shares: Numbers, begin: Numbers, shutter: float, bands: Numbers) -> Numbers:
    """The logarithm of how likely the shares are, for exposures that begin so long after the change."""
    bands = bands[:, None]
    foretold = exposed_after(begin, shutter, bands)
    early, late = exposed_after(begin - _ROUGH, shutter, bands), exposed_after(begin + _ROUGH, shutter, bands)
    off = _SHARE_OFF + (late - early) / 2
    density = np.exp(-(((shares[:, None] - foretold) / off) ** 2) / 2) / (off * 2.5)
    return np.asarray(np.log((1 - _CHANCE) * density + _CHANCE).sum(0))


def exposed_after(begin: Numbers, shutter: float, band: Numbers) -> Numbers:
    """The share of an exposure that lies after instant 0, over rows that begin from `begin` to `begin + band` s."""
    first, high = begin / shutter + 1, np.maximum(band / shutter, 1e-6)
    return np.asarray((_heaped(first + high) - _heaped(first)) / high)


def _heaped(share: Numbers) -> Numbers:
    """The integral of a share that rises from 0 to 1 and stays there."""
    inside = np.clip(share, 0, 1)
    return np.asarray(inside * inside / 2 + np.maximum(share - 1, 0))


def _exact(seconds: float) -> Seconds:
    return Seconds(round(seconds * 1_000_000), 1_000_000)
