"""Two sounds of one room are matched to 20 ms; two of different hours never are, a ticking clock in both or not."""

from __future__ import annotations

import numpy as np
import pytest

from episodekit.outside.clocks.matching import match
from tests.sync.rooms import bench, heard

FIRST = 20.0


def off_by(seed: int) -> float | None:
    """The error at both ends of a pair with its own length, offset, gain, noise, echo and drift, in seconds."""
    dice = np.random.default_rng(seed)
    room = bench(seed, 240, ticking=bool(seed % 2))
    later, long = dice.uniform(5, 60), dice.uniform(40, 110)
    drift, echo = dice.uniform(-1e-4, 1e-4), dice.uniform(0.05, 0.5)
    one = heard(room, FIRST, 120, seed + 1000)
    two = heard(
        room, FIRST + later, long, seed + 2000, drift=drift, echo=echo, noise=dice.uniform(0.002, 0.03)
    )
    found = match(one, two)
    if found is None:
        return None
    errors = [found.at(at) - (at - later) / (1 + drift) for at in (found.first, found.last)]
    return float(max(abs(error) for error in errors))


def strangers(seed: int) -> bool:
    """Whether sounds of two hours are taken for one; every second pair has the same clock ticking in both."""
    ticks = bool(seed % 2)
    one = heard(bench(seed, 130, ticks), 2, 120, seed + 1)
    two = heard(bench(seed + 500, 130, ticks), 2, 90, seed + 2)
    return match(one, two) is not None


@pytest.mark.parametrize("seed", range(4))
def test_one_room_is_matched(seed: int) -> None:
    error = off_by(seed)
    assert error is not None
    assert error < 0.020


@pytest.mark.parametrize("seed", range(4))
def test_strangers_are_not(seed: int) -> None:
    assert not strangers(seed)
