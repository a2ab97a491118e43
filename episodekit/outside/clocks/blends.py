"""How much of the next code a frame shows that was exposed while the clock changed.

What a code looks like is taken from frames well inside the time for which it stood. Modules that turn light and modules
that turn dark count alike in a share, so that a half stays a half whatever a camera does to greys.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from itertools import pairwise

import numpy as np
from numpy.typing import NDArray

from episodekit.base.time import Seconds
from episodekit.sync.clock_code import LONGEST_MS, REFRESHES

SIDE = 21
"""Modules along a code of version 1 (ISO/IEC 18004)."""

Light = NDArray[np.uint8]
Numbers = NDArray[np.float64]

NEAR = 0.05
"""Frames so near to a change, in seconds, tell when it was."""

_CLEAR = 0.035
"""Seconds from a change at which no exposure is still touched by it."""

_STANDS = REFRESHES / 60
"""Seconds from one code to the next."""

_GAMMA = 2.2
"""Cameras' curve from grey to light, about (ITU-R BT.709 and sRGB are near it)."""

_TURNED = 0.3
"""Modules that differ by this share of the code's contrast turn from one code to the next."""

_STRANGE = 0.2
"""Modules that do not turn may be off by this share of the contrast in the mean: else something lies over the code."""


@dataclass(frozen=True)
class Look:
    """A frame `at` seconds after the clip's first one with the clock in it; no `code` if it could not be read.

    `light` is the grey of each module, 0 to 255, row by row. `corners` are the code's own: upper left, upper right,
    lower right, lower left, each across and down the picture from 0 to 1.
    """

    at: Seconds
    code: int | None
    light: Light
    corners: Numbers


@dataclass(frozen=True)
class Blend:
    """A frame whose rows from `top` to `bottom` (0 to 1 of the picture) show this `share` of the code that came at
    `change` (ms since 1970, its paint); the rest is the one before.
    """

    at: Seconds
    change: int
    top: float
    bottom: float
    share: float


def modules(grey: Light, corners: Numbers) -> Light:
    """The grey of each module of a code between these corners: 21 rows of 21, each the mean of nine points."""
    height, width = grey.shape
    steps = (np.arange(3 * SIDE) // 3 + 0.5 + 0.22 * (np.arange(3 * SIDE) % 3 - 1)) / SIDE
    places = _places(corners, steps)
    across = np.clip(places[0] * width, 0, width - 1).astype(np.intp)
    down = np.clip(places[1] * height, 0, height - 1).astype(np.intp)
    mean = grey[down, across].reshape(SIDE, 3, SIDE, 3).mean((1, 3))
    return np.asarray(mean.round(), np.uint8)


def _places(corners: Numbers, steps: Numbers) -> Numbers:
    """Where in the picture a grid over the code lies, across and down: a square seen in perspective (a homography)."""
    one, two, three, four = corners
    right, below, bent = two - three, four - three, one - two + three - four
    whole = right[0] * below[1] - below[0] * right[1]
    g = (bent[0] * below[1] - below[0] * bent[1]) / whole
    h = (right[0] * bent[1] - bent[0] * right[1]) / whole
    v, u = np.meshgrid(steps, steps, indexing="ij")
    along, down = two - one + g * two, four - one + h * four
    flat = one[:, None, None] + along[:, None, None] * u + down[:, None, None] * v
    return np.asarray(flat / (1 + g * u + h * v))


def blends(looks: Sequence[Look], offset: Seconds) -> list[Blend]:
    """What frames near each change show of it. `offset` puts the clip on the log's clock, to 10 ms or so."""
    painted = sorted({look.code for look in looks if look.code is not None})
    pure = {code: _pure(code, looks, offset) for code in painted}
    found: list[Blend] = []
    for before, after in pairwise(painted):
        old, new = pure[before], pure[after]
        if old is None or new is None or after - before > LONGEST_MS:
            continue
        for look in looks:
            if abs(float(look.at + offset - Seconds(after, 1000))) <= NEAR:
                found += _shares(look, after, old, new)
    return found


def _pure(code: int, looks: Sequence[Look], offset: Seconds) -> Numbers | None:
    """What a code looks like while it stands: the light of its modules."""
    stood = [
        _linear(look.light)
        for look in looks
        if look.code == code and _CLEAR <= float(look.at + offset - Seconds(code, 1000)) <= _STANDS - _CLEAR
    ]
    return np.asarray(np.mean(stood, axis=0)) if stood else None


def _linear(light: Light) -> Numbers:
    return np.asarray((light / 255.0) ** _GAMMA)


def _shares(look: Look, change: int, old: Numbers, new: Numbers) -> list[Blend]:
    """The blends of the code's upper and lower half, as they lie in the picture; none of a half that is covered."""
    whole = _linear(look.light)
    contrast = float(np.percentile(old, 90) - np.percentile(old, 10))
    turns, kept = new - old, (old + new) / 2
    steady = np.abs(turns) < _TURNED / 2 * contrast
    down = _places(look.corners, (np.arange(SIDE) + 0.5) / SIDE)[1]
    middle = np.median(down)
    made = []
    for half in (down <= middle, down > middle):
        still = half & steady
        # A flicker, or a camera that opens its iris meanwhile, makes all of it lighter.
        gain = float((whole * kept)[still].sum() / max((kept * kept)[still].sum(), 1e-9))
        seen = whole / max(gain, 0.1)
        if still.sum() < SIDE or np.abs(seen - kept)[still].mean() > _STRANGE * contrast:
            continue
        parts = []
        for sign in (1, -1):
            which = half & (sign * turns > _TURNED * contrast)
            if which.sum() >= 5:
                parts.append(float((seen - old)[which].sum() / turns[which].sum()))
        if len(parts) == 2:
            made.append(
                Blend(look.at, change, float(down[half].min()), float(down[half].max()), sum(parts) / 2)
            )
    return made
