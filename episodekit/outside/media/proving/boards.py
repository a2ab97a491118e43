"""Boards as they are looked for in a finished video: what was drawn, scaled to the video's own picture.

A board is compared letter group by letter group, so that neither a covered half nor another sponsor's name
goes unnoticed. Two numbers tell whether a group is there: how alike it is (normalised cross-correlation,
which brightness does not change) and how much of its contrast is left (a blurred group keeps little).
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from fractions import Fraction

import numpy as np
from numpy.typing import NDArray
from PIL import Image

from episodekit.outside.media.drawing.breaks import turns
from episodekit.outside.media.drawing.cards import draw_card, lay_out_card
from episodekit.outside.media.drawing.fonts import Fonts, face
from episodekit.outside.media.drawing.lettering import left_of
from episodekit.outside.media.drawing.overlays import draw_overlay, lay_out_overlay
from episodekit.outside.media.drawing.paint import Box, Placed
from episodekit.timeline.model import Card, Overlay

ALIKE = 0.8
"""Correlation that every group of letters has at least. Measured: 0.97 and more at 240, 480 and 1080 lines and low
bit rates over restless footage, 0.15 and less in the worst group of another name. Names that differ in one letter of
the same shape come near it; where the job has both, the more alike one is taken."""

CLEAR = 0.45
"""Share of its contrast that every group keeps at least. Measured: 0.74 and more, 0.24 and less when blurred so that
it can just be read."""

_GREY = 128
_SCAN_POINTS = 1500
_FLAT = 14.0
"""Standard deviation, of 255 levels, below which a group holds no letters to compare."""

Plane = NDArray[np.uint8]


@dataclass(frozen=True)
class Board:
    """A graphic as drawn in a frame of the draft: its picture (RGBA), its corner, and where its lines of text
    lie on it. `letter` is a letter with a flat top and foot whose height can be measured."""

    image: Image.Image
    x: int
    y: int
    lines: tuple[Box, ...]
    letter: Box | None = None


@dataclass(frozen=True)
class Geometry:
    """How a draft's frame lies in a video's: as large as fits, in the middle. `across` and `down` are pixels of
    the video a pixel of the draft; they differ where the video's pixels are not square."""

    draft: tuple[int, int]
    video: tuple[int, int]
    across: float
    down: float

    @property
    def fitted(self) -> tuple[int, int]:
        """The size of the draft's frame in the video, in the video's pixels."""
        return max(1, round(self.draft[0] * self.across)), max(1, round(self.draft[1] * self.down))

    @property
    def corner(self) -> tuple[int, int]:
        """Where it begins."""
        return (self.video[0] - self.fitted[0]) // 2, (self.video[1] - self.fitted[1]) // 2


def geometry(draft: tuple[int, int], video: tuple[int, int], pixel: Fraction = Fraction(1)) -> Geometry:
    """The draft's frame fitted into a video. `pixel` is how wide the video's pixels are for their height.

    >>> geometry((1280, 720), (1440, 1080), Fraction(4, 3)).fitted
    (1440, 1080)
    """
    shown = video[0] * float(pixel)
    down = min(video[1] / draft[1], shown / draft[0])
    return Geometry(draft, video, down / float(pixel), down)


def board_of(overlay: Overlay, width: int, height: int, fonts: Fonts) -> Board:
    """An overlay as the draft shows it."""
    image, x, y = draw_overlay(overlay, width, height, fonts)
    texts = lay_out_overlay(overlay, width, height, fonts).texts
    return Board(image, x, y, tuple(_lines(texts)), _letter(texts))


def board_of_cautions(
    card: Card, width: int, height: int, fonts: Fonts, top: int, bottom: int
) -> Board | None:
    """The block of cautions on a slate; None if the slate has none. `top` and `bottom` as in `draw_card`."""
    layout = lay_out_card(card, width, height, fonts, top=top, bottom=bottom)
    if layout.cautions is None:
        return None
    left, upper, right, lower = layout.cautions
    drawn = draw_card(card, width, height, fonts, top=top, bottom=bottom)
    inside = [t for t in layout.texts if left <= t.left < right and upper <= t.top < lower]
    moved = tuple(Placed(t.text, t.left - left, t.top - upper, t.colour) for t in inside)
    return Board(drawn.crop(layout.cautions).convert("RGBA"), left, upper, tuple(_lines(moved)))


def _lines(texts: tuple[Placed, ...]) -> Iterator[Box]:
    for placed in texts:
        text = placed.text
        for number, (line, baseline) in enumerate(zip(text.lines, text.baselines, strict=True)):
            foot, left = placed.top + baseline, placed.left + left_of(text, number)
            wide = round(face(text.font, text.size).getlength(line))
            yield (left, foot - round(0.8 * text.size), left + wide, foot + round(0.25 * text.size))


def _letter(texts: tuple[Placed, ...]) -> Box | None:
    """The first capital of the first text, one with a straight top and foot if there is any. None where letters
    that run from right to left may have moved it.
    """
    for wanted in ("EFHIKLMNTXYZ", "ABCDGJOPQRSUVW"):
        for placed in texts[:1]:
            letters = face(placed.text.font, placed.text.size)
            for line, baseline in zip(placed.text.lines, placed.text.baselines, strict=True):
                at = None if turns(line) else next((n for n, c in enumerate(line) if c in wanted), None)
                if at is not None:
                    left, right = letters.getlength(line[:at]), letters.getlength(line[: at + 1])
                    foot, size = placed.top + baseline, placed.text.size
                    return (
                        placed.left + round(left),
                        foot - round(1.05 * size),
                        placed.left + round(right),
                        foot + round(0.3 * size),
                    )
    return None


class Template:
    """A board as it looks in one video, ready to be compared with its frames. Knows its own box there."""

    def __init__(self, board: Board, geometry: Geometry) -> None:
        size, (left, top) = geometry.fitted, geometry.corner
        frame = Image.new("RGB", geometry.draft, (_GREY, _GREY, _GREY))
        frame.paste(board.image, (board.x, board.y), board.image)
        whole = np.asarray(frame.convert("L").resize(size, Image.Resampling.BICUBIC), np.float32)
        self.box = _scaled((0, 0, *board.image.size), board, geometry)
        self.lines = [_scaled(line, board, geometry) for line in board.lines]
        self.letter = None if board.letter is None else _scaled(board.letter, board, geometry)
        labels = np.full(whole.shape, -1, np.int64)
        count = 0
        for x0, y0, x1, y1 in ((a - left, b - top, c - left, d - top) for a, b, c, d in self.lines):
            parts = max(1, round((x1 - x0) / max(1, 1.6 * (y1 - y0))))
            for part in range(parts):
                columns = slice(x0 + (x1 - x0) * part // parts, x0 + (x1 - x0) * (part + 1) // parts)
                tile = whole[y0:y1, columns]
                if tile.size >= 12 and float(tile.std()) >= _FLAT:
                    labels[y0:y1, columns] = count
                    count += 1
        self.groups = count
        rows, columns_ = np.nonzero(labels >= 0)
        self._rows, self._columns, self._labels = rows + top, columns_ + left, labels[rows, columns_]
        values = whole[rows, columns_]
        self._n = np.bincount(self._labels, minlength=count).astype(np.float64)
        self._t = values - (np.bincount(self._labels, values, count) / np.maximum(self._n, 1))[self._labels]
        self._tt = np.bincount(self._labels, self._t**2, count)
        some = slice(None, None, max(1, len(values) // _SCAN_POINTS))
        self._few = (self._rows[some], self._columns[some], values[some] - values[some].mean())

    def may_show(self, plane: Plane) -> bool:
        """Whether a frame may hold the board, by a few points of it, so that most boards need no closer look."""
        rows, columns, t = self._few
        if not len(t):
            return False
        v = plane[rows, columns].astype(np.float32)
        v -= v.mean()
        power = float((v @ v) * (t @ t))
        return power > 0 and float(v @ t) / power**0.5 > 0.4

    def shows(self, plane: Plane) -> float:
        """How well a frame holds the board: 0 if it does not, or is covered, else its mean correlation."""
        if not self.groups:
            return 0.0
        v = plane[self._rows, self._columns].astype(np.float64)
        total = np.bincount(self._labels, v, self.groups)
        power = np.bincount(self._labels, v * v, self.groups) - total**2 / self._n
        both = np.bincount(self._labels, v * self._t, self.groups)
        alike = both / np.sqrt(np.maximum(self._tt * power, 1e-9))
        clear = both / self._tt
        there = bool(((alike >= ALIKE) & (clear >= CLEAR)).all())
        return float(alike.mean()) if there else 0.0


def _scaled(box: Box, board: Board, geometry: Geometry) -> Box:
    """A box on the board as one in the video."""
    left, top = geometry.corner
    a, c = (left + round((board.x + x) * geometry.across) for x in (box[0], box[2]))
    b, d = (top + round((board.y + y) * geometry.down) for y in (box[1], box[3]))
    return (max(0, a), max(0, b), min(geometry.video[0], c), min(geometry.video[1], d))
