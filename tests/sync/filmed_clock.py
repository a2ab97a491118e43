"""Clips that film the clock, made without a line of the code that reads them: segno draws, the screen and the camera
are arithmetic.

A screen of 60 refreshes a second shows each code from its paint, and a lag, on; the camera's rows are exposed one after
the other, and what a row sees while the code changes is a mix of both, in light. Behind the code there is grain, or a
real clip's picture.
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
from scipy.ndimage import uniform_filter

from tests.media import kit

Image = NDArray[np.uint8]
EPOCH = datetime(1970, 1, 1, tzinfo=UTC)


@dataclass(frozen=True)
class Scene:
    """How the clock is filmed. `shift` and `pace` put the camera's time on the log's: wall = shift + pace * at.

    Seconds: `exposure` of a row, `rows` from the first row to the last, `lag` from the paint to the light. `tilt` is in
    degrees; `keystone` is how much smaller the code's far edge is seen than its near one, as a share; `moire` how much
    of the light comes and goes in stripes; `hand` for how long a finger lies over the code, every 1.3 s.
    """

    rate: Fraction
    shift: Fraction
    pace: Fraction = Fraction(1)
    width: int = 960
    height: int = 540
    module: int = 6
    exposure: float = 0.010
    rows: float = 0.012
    lag: float = 0.012
    refresh: float = 60.0
    blur: int = 1
    grain: float = 6.0
    light: float = 1.0
    tilt: float = 0.0
    keystone: float = 0.0
    moire: float = 0.0
    hand: float = 0.0


CURVE = 2.2
"""Grey is light to the power of 1 / 2.2, about as in sRGB (IEC 61966-2-1). What a shutter mixes is light."""


@lru_cache(maxsize=64)
def _matrix(code: int) -> NDArray[np.uint8]:
    made = segno.make(f"EK:{code:013d}", version=1, error="q", mode="alphanumeric", boost_error=False)
    rows = np.array([list(row) for row in made.matrix])
    return np.pad(np.where(rows, 0, 255), 4, constant_values=255).astype(np.uint8)


def _on_screen(scene: Scene, wall: NDArray[np.float64]) -> NDArray[np.int64]:
    """The number of the code that shines at each instant: painted at a refresh, a new one every 11 of them."""
    return np.floor((wall - scene.lag) * scene.refresh / 11).astype(np.int64)


def _painted(scene: Scene, number: int) -> NDArray[np.uint8]:
    return _matrix(round(number * 11 / scene.refresh * 1000))


def _mixed(scene: Scene, begin: NDArray[np.float64]) -> Iterator[tuple[Image, NDArray[np.float64]]]:
    """The codes that rows see whose exposures begin then, and the share of it for which each row sees them."""
    first = _on_screen(scene, begin)
    after = _on_screen(scene, begin + scene.exposure)
    # No shutter is open for as long as a code stands, so that it sees two at most.
    change = after * 11 / scene.refresh + scene.lag
    share = np.where(after > first, (begin + scene.exposure - change) / max(scene.exposure, 1e-9), 1.0)
    for shown in np.unique(np.concatenate((first, after))):
        yield (
            _painted(scene, int(shown)),
            np.where(after == shown, share, 0) + np.where(first == shown, 1 - share, 0),
        )


def _sampled(
    scene: Scene, begin: NDArray[np.float64], screen: Callable[[float], Image], times: int = 6
) -> Iterator[tuple[Image, NDArray[np.float64]]]:
    """The same of any screen, which is looked at so many times while a row is exposed."""
    for into in (np.arange(times) + 0.5) / times * scene.exposure - scene.lag:
        codes = [screen(at) for at in begin + into]
        for code in {id(code): code for code in codes}.values():
            yield code, np.array([one is code for one in codes]) / times


@lru_cache(maxsize=4)
def _seen(
    scene: Scene,
) -> tuple[slice, NDArray[np.int64], NDArray[np.int64], NDArray[np.bool_], NDArray[np.float64]]:
    """The rows of the picture that see the code; for each pixel of them its module's row and column, whether it is one,
    and how bright the stripes are there.
    """
    size = 29 * scene.module
    top = max(0, scene.height // 2 - size)
    rows = slice(top, scene.height - top)
    y, x = np.mgrid[rows, 0 : scene.width].astype(np.float64)
    y, x = y - (scene.height - size) // 2, x - (scene.width - size) // 2
    x = x - (y - size / 2) * np.tan(np.radians(scene.tilt))
    # In perspective what lies further up is further away.
    away = 1 - scene.keystone * (0.5 - y / size)
    y, x = size / 2 + (y - size / 2) / away, size / 2 + (x - size / 2) / away
    down, across = np.floor(y / scene.module).astype(np.int64), np.floor(x / scene.module).astype(np.int64)
    there = (down >= 0) & (down < 29) & (across >= 0) & (across < 29)
    # The pixels of a screen, not quite as far apart as those of the sensor.
    stripes = 1 - scene.moire / 2 * (1 + np.cos(2 * np.pi * (0.96 * x + 0.03 * y)))
    return rows, np.clip(down, 0, 28), np.clip(across, 0, 28), there, stripes


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
    at = number / scene.rate
    wall = float(scene.shift + scene.pace * at)
    rows, down, across, there, stripes = _seen(scene)
    begin = wall + scene.rows * np.arange(rows.start, rows.stop) / scene.height
    light = np.zeros(down.shape)
    for shown, share in _mixed(scene, begin) if screen is None else _sampled(scene, begin, screen):
        light += (shown[down, across] > 0) * share[:, None]
    picture = np.full((scene.height, scene.width), 110.0) if behind is None else behind.astype(np.float64)
    picture[rows] = np.where(there, 255 * (light * stripes) ** (1 / CURVE), picture[rows])
    if float(at % Fraction(13, 10)) < scene.hand:
        reach = 8 * scene.module
        picture[
            scene.height // 2 : scene.height // 2 + reach, scene.width // 2 : scene.width // 2 + reach
        ] = 90
    if scene.blur > 1:
        picture = uniform_filter(picture, scene.blur, mode="constant")
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
