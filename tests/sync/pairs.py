"""Pairs of clips by number: forty that heard one room, forty that did not, half of these with one clock in both."""

from __future__ import annotations

from pathlib import Path

import numpy as np

from episodekit.footage.model import Clip
from tests.media.kit import SAMPLE_RATE
from tests.sync.rooms import Camera, Sound, bench, chirps, clip, clock, heard, played

_SECONDS = 200.0
KINDS = ("noise", "echo", "clock", "short", "recordings")


def one_room(number: int, folder: Path) -> tuple[Clip, Clip, Camera, Camera]:
    """Two clips of a room and their cameras: a fifth of the pairs for each of KINDS."""
    dice = np.random.default_rng(number)
    kind = KINDS[number % 5]
    room = bench(dice, _SECONDS, busy=dice.uniform(0.4, 2))
    first, later = dice.uniform(1, 40), dice.uniform(-30, 60)
    more: dict[str, float] = {"noise": dice.uniform(0.01, 0.05), "echo": dice.uniform(0.05, 0.5)}
    long, second = dice.uniform(50, 120), dice.uniform(30, 110)
    if kind == "noise":
        more["noise"] = dice.uniform(0.05, 0.15)
    elif kind == "echo":  # more comes from the walls than straight from the bench
        more |= {"echo": dice.uniform(1, 2.5), "decay": dice.uniform(0.06, 0.1)}
    elif kind == "clock":
        room += clock(_SECONDS, dice.uniform(0.1, 0.5), dice.uniform(0, 1))
    elif kind == "short":  # 12 to 20 seconds: the second begins before the first ends, or the other way round
        both = dice.uniform(12, 20)
        later = long - both if number % 2 else both - second
    else:
        room = 0.3 * room + played(dice, _SECONDS)
    if kind != "short":  # at least 25 seconds of both
        later = min(max(later, 25 - second), long - 25)
    cameras = [
        Camera(
            first=at,
            seconds=seconds,
            drift=dice.uniform(-5e-5, 5e-5),
            gain=dice.uniform(0.05, 1.5),
            pumping=bool(dice.integers(2)),
            **more,
        )
        for at, seconds in ((first + 30, long), (first + 30 + later, second))
    ]
    one, two = (
        clip(folder / f"{number}-{n}.mp4", heard(room, camera, dice, SAMPLE_RATE))
        for n, camera in enumerate(cameras)
    )
    return one, two, cameras[0], cameras[1]


def strangers(number: int, folder: Path) -> tuple[Clip, Clip]:
    """Two clips of different hours. In every odd pair the same clock ticks, up to alone in the room.

    In every fourth pair the clock page's chirps are played in both; in the rest the same recordings may be, as a
    device's tune is.
    """
    dice = np.random.default_rng(10_000 + number)
    loud, alone = dice.uniform(0.1, 0.5), number % 4 == 3
    return tuple(  # type: ignore[return-value]
        clip(folder / f"{number}-{n}.mp4", _of_an_hour(dice, number, loud, alone)) for n in range(2)
    )


def _of_an_hour(dice: np.random.Generator, number: int, loud: float, alone: bool) -> Sound:
    room = bench(dice, 150, busy=0.02 if alone else dice.uniform(0.4, 2))
    if number % 2:
        room += clock(150, loud, dice.uniform(0, 2))
    elif number % 4:
        room += chirps(150, dice.uniform(2, 60), int(dice.integers(2, 20)), loud)
    else:
        room += played(dice, 150, loud)
    camera = Camera(
        first=dice.uniform(0, 20),
        seconds=dice.uniform(25, 120),
        drift=dice.uniform(-5e-5, 5e-5),
        gain=dice.uniform(0.1, 1.5),
        noise=dice.uniform(0.0005, 0.02),
        pumping=bool(dice.integers(2)),
    )
    return heard(room, camera, dice, SAMPLE_RATE)
