"""A tune that was played in two hours is a match, and not believed of clips whose clocks are far apart.

Every sound is made (`rooms.py`); common practice, no source: a device under repair plays the same each time it is
switched on.
"""

from __future__ import annotations

import numpy as np
import pytest

from episodekit.outside.clocks.all_along import LEAST, all_along
from episodekit.outside.clocks.hearing import RATE as SMALL
from episodekit.outside.clocks.hearing import Heard, envelope_of
from episodekit.outside.clocks.matching import match
from tests.sync.rooms import RATE, Camera, Sound, bench, heard, tune


def listened(room: Sound, camera: Camera, dice: np.random.Generator) -> Heard:
    sound = (heard(room, camera, dice, SMALL) * 32_767).astype(np.int16)
    return Heard(sound, envelope_of(sound))


@pytest.mark.parametrize(("long", "at"), [(40, (10, 50)), (70, (5, 20)), (100, (0, 0))])
def test_a_tune_of_two_hours_is_not_one_room(long: int, at: tuple[int, int]) -> None:
    """Louder than all that is done there, or softer than knocks and played throughout both."""
    dice = np.random.default_rng(long)
    played = tune(dice, long, 0.3 if long < 100 else 0.12)
    hours = [bench(dice, 110, 0.5) for _ in range(2)]
    clips: list[Heard] = []
    for room, begin in zip(hours, at, strict=True):
        room[begin * RATE : (begin + long) * RATE] += played
        clips.append(listened(room, Camera(0.0, 100, dice.uniform(-5e-5, 5e-5)), dice))
    one, two = clips
    found = match(one, two)
    assert found is not None
    assert not all_along(one, two, found)


@pytest.mark.parametrize("busy", [0.1, 1.5])
def test_one_room_is_though_little_is_done_there(busy: float) -> None:
    """A knock in ten seconds, microphones that hiss, and a tune for a while."""
    dice = np.random.default_rng(3)
    room = bench(dice, 150, busy)
    room[60 * RATE : 90 * RATE] += tune(dice, 30)
    cameras = Camera(2.0, 100, 4e-5, noise=0.02), Camera(42.0, 90, -3e-5, gain=0.3)
    one, two = (listened(room, camera, dice) for camera in cameras)
    found = match(one, two)
    assert found is not None
    assert abs(float(found.shift) - cameras[0].place(42.0)) < 0.02
    assert all_along(one, two, found)


def test_what_both_heard_for_a_moment_is_not_enough() -> None:
    dice = np.random.default_rng(4)
    room = bench(dice, 60)
    one, two = (listened(room, Camera(first, 32), dice) for first in (0.0, 32 - LEAST + 2))
    found = match(one, two)
    assert found is not None
    assert not all_along(one, two, found)
