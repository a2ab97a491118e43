"""Count flashes in frames that were made small: arrays in, numbers out, nothing is read here.

A flash is a pair of opposing changes, and a picture is below the thresholds while no part of it that is large
enough flashes more than three times within any second (WCAG 2.2, 2.3.1 and its definitions):

- *general*: relative luminance rises and falls by 0.1 or more, the darker side being below 0.80;
- *red*: a change to or from a saturated red, R / (R + G + B) of 0.8 or more, by more than 0.2 in the CIE 1976
  UCS diagram. R, G and B are linear, as in WCAG's relative luminance.

Each place of the picture is counted by itself, so a hand that crosses is no flash of all that it passes. What
flashes too often at once is added up inside every field of 10 degrees, and a quarter of a field is allowed.
WCAG's estimate of a field is 341 x 256 pixels of a picture that fills a screen of 1024 x 768: the strictest of
the usual ways to watch, since on a phone the same field is nearly half of the picture's width.
"""

from __future__ import annotations

from dataclasses import dataclass
from enum import StrEnum
from fractions import Fraction
from math import ceil

import numpy as np
from numpy.typing import NDArray

CELLS = 128
"""Cells on the longer side of the small picture. A cell of a wide picture is 8 pixels of WCAG's screen, 0.23 degrees:
a field is 43 x 32 cells and its quarter 341, so an area is known to a third of a per cent of the limit. Finer patterns
average out in a cell, as WCAG allows below 0.1 degrees; between the two they are missed."""

LEAST_CHANGE = 0.1
DARKER_BELOW = 0.8
MOST_FLASHES = 3
RED_SHARE = 0.8
RED_CHANGE = 0.2
LEAST_RED = 20 / 320
"""A red of less light than this is none: the least change, (R - G - B) x 320 > 20, of WCAG 2.1's definition. The
chromaticity of near-black is noise."""
DARK = 0.02
"""Light, R + G + B, below which a place has no colour of its own and counts as white does. Own choice."""

_SCREEN, _FIELD, _PART = (1024, 768), (341, 256), Fraction(1, 4)
_WHITE = np.float32(1 / 3)
_WEIGHTS = np.array([0.2126, 0.7152, 0.0722], np.float32)
# From linear R, G, B of sRGB to X + 15 Y + 3 Z, to 4 X and to 9 Y, of which u' and v' are made (IEC 61966-2-1; CIE 15).
_UV = np.array(
    [
        [0.4124 + 15 * 0.2126 + 3 * 0.0193, 4 * 0.4124, 9 * 0.2126],
        [0.3576 + 15 * 0.7152 + 3 * 0.1192, 4 * 0.3576, 9 * 0.7152],
        [0.1805 + 15 * 0.0722 + 3 * 0.9505, 4 * 0.1805, 9 * 0.0722],
    ],
    np.float32,
)
_ROUNDING = np.float32(1e-6)

Rgb = NDArray[np.uint8]
Plane = NDArray[np.float32]
Mask = NDArray[np.bool_]


def _curve() -> Plane:
    """Linear light of each sRGB level (WCAG 2.2, relative luminance)."""
    parts = np.arange(256) / 255
    return np.where(parts <= 0.04045, parts / 12.92, ((parts + 0.055) / 1.055) ** 2.4).astype(np.float32)


_LINEAR = _curve()


class FlashKind(StrEnum):
    """Which of the two thresholds is passed."""

    GENERAL = "general"
    RED = "red"


@dataclass(frozen=True)
class Grid:
    """A small picture: its cells, a field of 10 degrees in cells, and the most cells of a field that may flash."""

    columns: int
    rows: int
    field: tuple[int, int]
    most: float


def grid_of(width: int, height: int) -> Grid:
    """The small picture for a frame of so many pixels.

    >>> grid_of(1280, 720)
    Grid(columns=128, rows=72, field=(43, 32), most=341.0)
    """
    long = max(width, height)
    columns, rows = (max(2, round(CELLS * side / long / 2) * 2) for side in (width, height))
    scale = min(_SCREEN[0] / width, _SCREEN[1] / height)
    cell = (width * scale / columns, height * scale / rows)
    field = (
        min(columns, max(1, round(_FIELD[0] / cell[0]))),
        min(rows, max(1, round(_FIELD[1] / cell[1]))),
    )
    return Grid(columns, rows, field, float(_PART * _FIELD[0] * _FIELD[1]) / (cell[0] * cell[1]))


@dataclass(frozen=True)
class Flashing:
    """What flashes too often in the second that ends with a frame: how often, and over what share of the picture."""

    kind: FlashKind
    flashes: int
    share: float


class FlashCounter:
    """Looks at frame after frame of a moving picture and remembers one second of them."""

    def __init__(self, grid: Grid, rate: Fraction) -> None:
        """`rate` is in frames a second; a second holds as many frames as begin within it at most."""
        self._grid = grid
        second, shape = ceil(rate), (grid.rows, grid.columns)
        self._at = 0
        self._general, self._red = _Second(second, shape), _Second(second, shape)
        self._swing: _Swing | None = None
        self._reds: _Reds | None = None

    def look(self, rgb: Rgb) -> tuple[Flashing, ...]:
        """The next frame, `rows x columns x 3` of sRGB. What flashes too often with it, if anything."""
        light = np.take(_LINEAR, rgb)
        luminance = light @ _WEIGHTS
        if self._swing is None or self._reds is None:
            self._swing, self._reds = _Swing(luminance), _Reds(light)
            changed = turned = np.zeros(luminance.shape, np.bool_)
        else:
            changed, turned = self._swing.step(luminance), self._reds.step(light)
        found = (
            self._judge(FlashKind.GENERAL, self._general.add(changed)),
            self._judge(FlashKind.RED, self._red.add(turned)),
        )
        return tuple(one for one in found if one is not None)

    def _judge(self, kind: FlashKind, changes: NDArray[np.int16]) -> Flashing | None:
        often = changes >= 2 * (MOST_FLASHES + 1)
        cells = int(np.count_nonzero(often))
        if cells <= self._grid.most or most_in_a_field(often, self._grid.field) <= self._grid.most:
            return None
        return Flashing(kind, int(np.median(changes[often])) // 2, cells / often.size)


def most_in_a_field(often: Mask, field: tuple[int, int]) -> int:
    """The most of the marked cells that lie inside one field, columns by rows, wherever it stands."""
    wide, high = field
    sums = np.zeros((often.shape[0] + 1, often.shape[1] + 1), np.int32)
    sums[1:, 1:] = often.cumsum(0, dtype=np.int32).cumsum(1, dtype=np.int32)
    inside = sums[high:, wide:] - sums[:-high, wide:] - sums[high:, :-wide] + sums[:-high, :-wide]
    return int(inside.max())


class _Second:
    """Changes of each cell within the last second."""

    def __init__(self, frames: int, shape: tuple[int, int]) -> None:
        self._frames = np.zeros((frames, *shape), np.bool_)
        self._sum = np.zeros(shape, np.int16)
        self._at = 0

    def add(self, changed: Mask) -> NDArray[np.int16]:
        self._sum += changed
        self._sum -= self._frames[self._at]
        self._frames[self._at] = changed
        self._at = (self._at + 1) % len(self._frames)
        return self._sum


class _Swing:
    """Peaks and valleys of luminance: a change is one between neighbouring ones, counted where it is large enough.

    A wiggle smaller than the least change does not part a swing in two, so noise hides nothing.
    """

    def __init__(self, first: Plane) -> None:
        self._low, self._high = first.copy(), first.copy()
        self._up, self._down = np.zeros(first.shape, np.bool_), np.zeros(first.shape, np.bool_)

    def step(self, now: Plane) -> Mask:
        low, high = np.minimum(self._low, now, out=self._low), np.maximum(self._high, now, out=self._high)
        least = np.float32(LEAST_CHANGE) - _ROUNDING
        rose = ~self._up & (now - low >= least) & (low < DARKER_BELOW)
        fell = ~self._down & (high - now >= least) & (now < DARKER_BELOW)
        self._up, self._down = (self._up & ~fell) | rose, (self._down & ~rose) | fell
        np.copyto(high, now, where=rose)
        np.copyto(low, now, where=fell)
        return rose | fell


class _Reds:
    """Changes to and from a saturated red.

    Each cell stands on one side or the other, and remembers its reddest colour, or its least red one, since it came
    there; that is the peak or valley from which the next change is measured.
    """

    def __init__(self, first: Plane) -> None:
        self._share = _red_share(first)
        self._colour = first.copy()
        self._inside = _saturated(first, self._share)

    def step(self, light: Plane) -> Mask:
        share = _red_share(light)
        red = _saturated(light, share)
        inside = self._inside
        turned = np.zeros(red.shape, np.bool_)
        if red.any() or inside.any():
            far = _apart(light, self._colour) > RED_CHANGE
            turned = far & (inside | red)
            self._inside = inside = inside ^ turned
        further = np.where(inside, red & (share > self._share), share < self._share) | turned
        np.copyto(self._share, share, where=further)
        np.copyto(self._colour, light, where=further[..., None])
        return turned


def _red_share(light: Plane) -> Plane:
    total = light.sum(-1)
    dark = total < DARK
    share: Plane = np.where(dark, _WHITE, light[..., 0] / np.where(dark, np.float32(1), total))
    return share


def _saturated(light: Plane, share: Plane) -> Mask:
    bright = light[..., 0] - light[..., 1] - light[..., 2] > LEAST_RED
    saturated: Mask = (share >= RED_SHARE - _ROUNDING) & bright
    return saturated


def _apart(one: Plane, other: Plane) -> Plane:
    """The distance of two colours in the CIE 1976 UCS diagram."""
    (u, v), (s, t) = _chromaticity(one), _chromaticity(other)
    distance: Plane = np.hypot(u - s, v - t)
    return distance


def _chromaticity(light: Plane) -> tuple[Plane, Plane]:
    coloured = np.where((light.sum(-1) < DARK)[..., None], np.float32(1), light)
    parts = coloured @ _UV
    return parts[..., 1] / parts[..., 0], parts[..., 2] / parts[..., 0]
