"""Clips that film the clock, made without a line of the code that reads them: segno draws, the screen and the camera
are arithmetic.

A screen of 60 refreshes a second shows each code from its paint, and a lag, on; the camera's rows are exposed one after
the other. Behind the code there is grain, or a real clip's picture.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator
from dataclasses import dataclass
from datetime import UTC, datetime
from fractions import Fraction
from functools import lru_cache
from pathlib import Path

import numpy as np
import segno
from numpy.typing import NDArray

from tests.media import kit

Image = NDArray[np.uint8]
EPOCH = datetime(1970, 1, 1, tzinfo=UTC)


@dataclass(frozen=True)
class Scene:
    """How the clock is filmed. `shift` and `pace` put the camera's time on the log's: wall = shift + pace * at."""

    rate: Fraction
    shift: Fraction
    pace: Fraction = Fraction(1)
    width: int = 960
    height: int = 540
    module: int = 6
    exposure: float = 0.010
    rows: float = 0.012
    lag: float = 0.012
    blur: int = 1
    grain: float = 6.0
    light: float = 1.0
    tilt: float = 0.0


@lru_cache(maxsize=64)
def _matrix(code: int) -> NDArray[np.uint8]:
    made = segno.make(f"EK:{code:013d}", version=1, error="q", mode="alphanumeric", boost_error=False)
    rows = np.array([list(row) for row in made.matrix])
    return np.pad(np.where(rows, 0, 255), 4, constant_values=255).astype(np.uint8)


def _drawn(wall: float) -> Image:
    """The code that was painted last at an instant: at a refresh, a new one every 11 of them."""
    tick = int(wall * 60) // 11 * 11
    return _matrix(round(tick * 1000 / 60))


def frame(
    scene: Scene,
    number: int,
    behind: Image | None,
    noise: np.random.Generator,
    screen: Callable[[float], Image] | None = None,
) -> Image:
    """Frame `number` of the clip.

    `screen` gives the code that was painted last at an instant, a module a pixel; if there is none, segno draws it.
    """
    shown = screen or _drawn
    at = number / scene.rate
    wall = float(scene.shift + scene.pace * at)
    size = 29 * scene.module
    top, left = (scene.height - size) // 2, (scene.width - size) // 2
    code = np.zeros((size, size), np.float32)
    for row in range(0, size, scene.module):
        begin = wall + scene.rows * (top + row) / scene.height
        times = begin + np.linspace(0, scene.exposure, 4)
        line = np.mean([shown(t - scene.lag)[row // scene.module] for t in times], axis=0)
        code[row : row + scene.module] = np.kron(line, np.ones((scene.module, scene.module)))
    picture = (
        np.full((scene.height, scene.width), 110, np.float32) if behind is None else behind.astype(np.float32)
    )
    picture[top : top + size, left : left + size] = code
    if scene.tilt:
        moved = (np.arange(scene.height) * np.tan(np.radians(scene.tilt))).astype(int)
        picture = np.stack([np.roll(line, shift) for line, shift in zip(picture, moved, strict=True)])
    for axis in (0, 1):
        if scene.blur > 1:
            kernel = np.ones(scene.blur) / scene.blur
            picture = np.apply_along_axis(np.convolve, axis, picture, kernel, "same")
    picture = picture * scene.light + noise.normal(0, scene.grain, picture.shape)
    return np.clip(picture, 0, 255).astype(np.uint8)


def film(
    path: Path,
    scene: Scene,
    seconds: float,
    shown: Callable[[float], bool],
    behind: Image | None = None,
    key_every: int = 30,
    tags: dict[str, str] | None = None,
) -> Path:
    """A clip of so many seconds in which the clock is seen whenever `shown` says so."""
    noise = np.random.default_rng(20261207)
    plain = np.full((scene.height, scene.width), 110, np.uint8) if behind is None else behind

    def frames() -> Iterator[Image]:
        for number in range(int(seconds * scene.rate)):
            if shown(float(number / scene.rate)):
                yield frame(scene, number, behind, noise)
            else:
                yield plain

    return kit.encode(path, frames(), scene.rate, key_every=key_every, tags=tags)
