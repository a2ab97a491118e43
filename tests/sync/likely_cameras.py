"""Cameras and screens at random, by arithmetic alone: what their frames show of the filmed clock, without a picture.

Shutters of 1 to 20 ms, as far as a frame is that long; readouts of 6 to 16 ms; a code that covers 0.3 to 0.6 of the
picture from 0.1 to 0.3 on; screens of 60 or 59.94 refreshes a second, give or take 500 millionths, that lag 6 to 14 ms.
One frame in twenty is lost, one in fifty is read wrong, a share is 0.03 off. Common practice, no source.
"""

from __future__ import annotations

from dataclasses import dataclass
from fractions import Fraction

import numpy as np

from episodekit.outside.clocks.blends import NEAR, Blend
from episodekit.outside.clocks.shutter import refined
from episodekit.sync.model import Clue
from episodekit.sync.stab import Reading, sightings_of

EPOCH_S = 1_794_000_000
LAG = 0.010
"""A screen in the middle of those: seconds from the paint to the light."""


@dataclass(frozen=True)
class Filmed:
    """What a clip tells of the clock. `shift` puts the clip on the log's clock, in seconds after `EPOCH_S`; `lag` is
    the screen's own, `frame` the seconds from one frame to the next.
    """

    readings: list[Reading]
    blends: list[Blend]
    shift: float
    lag: float
    frame: float

    def sighting(self) -> Clue:
        (seen,) = sightings_of("a.mp4", self.readings)
        return refined(seen, self.blends, self.frame)


def filmed(
    dice: np.random.Generator, rate: Fraction, refresh: float, since: int = 0, pace: float = 1.0
) -> Filmed:
    """Three seconds of the clock, `since` so many seconds of the clip, by a camera that runs fast or slow."""
    frame = float(1 / rate)
    shutter, readout = dice.uniform(0.001, min(0.020, frame)), dice.uniform(0.006, 0.016)
    top, height = dice.uniform(0.1, 0.3), dice.uniform(0.3, 0.6)
    lag, shift = dice.uniform(0.006, 0.014), dice.uniform(0, 1)
    stands = 11 / (refresh * (1 + dice.uniform(-5e-4, 5e-4)))
    readings, blends = [], []
    for number in range(int(since * rate), int((since + 3) * rate)):
        at = number / rate
        wall = float(at) * pace + shift
        luck = dice.random()
        if luck < 0.05:
            continue
        begin = wall + readout * top - lag
        first, last = begin // stands, (begin + readout * height + shutter) // stands
        if first == last:
            wrong = 0 if luck < 0.98 else int(dice.integers(1000, 10**9))
            readings.append(Reading(at, EPOCH_S * 1000 + round(first * stands * 1000) + wrong))
        change = round((begin + (readout * height + shutter) / 2) / stands)
        if abs(wall - change * stands) > NEAR:
            continue
        for half in (0, 1):
            rows = readout * height * (half + (np.arange(24) + 0.5) / 24) / 2
            open_after = np.clip(begin + rows + shutter - change * stands, 0, shutter)
            share = float(open_after.mean() / shutter + dice.normal(0, 0.03))
            above, below = top + height * half / 2, top + height * (half + 1) / 2
            painted = EPOCH_S * 1000 + round(change * stands * 1000)
            blends.append(Blend(at, painted, above, below, share))
    return Filmed(readings, blends, shift, lag, frame)
