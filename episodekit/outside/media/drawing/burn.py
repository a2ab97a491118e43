"""Burnt-in timecode: the draft's running timecode and the name of the clip, for those who take notes on a draft.

Both stand in the margin above everything else, outside the title-safe area, so they cover no board. The labels of a
piece's frames are drawn side by side on one sheet, of which ffmpeg shows a cell a frame; no text enters a filter.
"""

from __future__ import annotations

from functools import lru_cache

import numpy as np
from PIL import Image, ImageDraw

from episodekit.base.time import Frames, Rate
from episodekit.base.timecode import frames_to_label
from episodekit.outside.media.drawing.fonts import Fonts, face, shipped_fonts
from episodekit.outside.media.drawing.lettering import Style, set_text
from episodekit.outside.media.drawing.overlays import TOP_MARGIN
from episodekit.outside.media.drawing.paint import (
    INK,
    LEAST_ARC_MINUTES,
    NIGHT,
    Placed,
    even_up,
    paint_text,
    side_margin,
    size_for,
)

COLUMNS = 8
"""Labels side by side on a sheet, so that no sheet is too tall for a picture file."""


def draw_labels(
    first: Frames, count: int, rate: Rate, width: int, height: int
) -> tuple[Image.Image, tuple[int, int]]:
    """The timecodes of `count` frames on a sheet (RGB), row by row, and the width and height of a cell.

    Counted from 00:00:00:00 at the draft's first frame, as a player counts. Always in the shipped font, whose
    figures are known to be there.
    """
    size, tall = _size_and_height(width, height, shipped_fonts())
    labels = [frames_to_label(Frames(first + n), rate) for n in range(count)]
    letters = {letter: _letter(letter, size, tall) for letter in sorted({*"".join(labels)})}
    rows = [np.concatenate([letters[letter] for letter in label], axis=1) for label in labels]
    lead = even_up(size / 6)
    rest = lead + rows[0].shape[1] % 2  # a cell of even width, as 4:2:0 pictures need
    cells = [np.pad(row, ((0, 0), (lead, rest))) for row in rows]
    wide = cells[0].shape[1]
    cells += [np.zeros((tall, wide), np.uint8)] * (-count % COLUMNS)
    lines = [np.concatenate(cells[n : n + COLUMNS], axis=1) for n in range(0, len(cells), COLUMNS)]
    share = np.concatenate(lines, axis=0)[..., None] / np.float32(255)
    colours = np.array(NIGHT, np.float32) * (1 - share) + np.array(INK, np.float32) * share
    return Image.fromarray(colours.round().astype(np.uint8)), (wide, tall)


def draw_name(name: str, left: int, width: int, height: int, fonts: Fonts) -> Image.Image:
    """A clip's name (RGB) for the strip that begins at column `left`; shortened where it does not fit."""
    size, tall = _size_and_height(width, height, fonts)
    pad = even_up(size / 3)
    room = width - side_margin(width, height) - left - 2 * pad
    text = set_text((name,), Style(fonts.semibold, size, size), room, 4 * size, lines=1)
    image = Image.new("RGB", (max(2, even_up(text.width + 2 * pad)), tall), NIGHT)
    paint_text(image, Placed(text, pad, (tall - text.height) // 2, INK))
    return image


def strip(width: int, height: int) -> tuple[int, int]:
    """The column and row at which the timecode begins."""
    _, tall = _size_and_height(width, height, shipped_fonts())
    return side_margin(width, height), (burnt_rows(height) - tall) // 4 * 2


def burnt_rows(height: int) -> int:
    """Rows above the highest board; even."""
    return int(TOP_MARGIN * height) // 2 * 2


def _size_and_height(width: int, height: int, fonts: Fonts) -> tuple[int, int]:
    """Letters just as large as a phone's viewer needs, and the height of the ground under them."""
    size = size_for(LEAST_ARC_MINUTES, fonts, width, height)
    return size, min(even_up(1.3 * size), burnt_rows(height))


@lru_cache(maxsize=64)
def _letter(letter: str, size: int, tall: int) -> np.ndarray[tuple[int, int], np.dtype[np.uint8]]:
    """One figure or mark, as wide as the widest of its sort so that a running label stands still."""
    font = face(shipped_fonts().semibold, size)
    alike = "0123456789" if letter.isdecimal() else ":;."
    wide = max(round(font.getlength(one)) for one in alike)
    cell = Image.new("L", (wide, tall), 0)
    _, top, _, bottom = font.getbbox("0", anchor="ls")
    baseline = round((tall - (bottom - top)) / 2 - top)
    ImageDraw.Draw(cell).text((wide / 2, baseline), letter, fill=255, font=font, anchor="ms")
    return np.asarray(cell)
