"""Measure a board's lettering on the pixels of a finished frame: how large its letters are, how they contrast."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray
from PIL import Image, ImageFilter

from episodekit.outside.media.drawing.legible import Legibility, arc_minutes, luminance, ratio
from episodekit.outside.media.proving.boards import Board, Geometry

_INK = 0.9
"""Coverage from which a pixel is the inside of a stroke; the rest is its soft edge."""
_FEWEST = 12

Floats = NDArray[np.float64]
_LIGHT = np.array([luminance(value, value, value) for value in range(256)])
"""Linear light of each step of one colour part."""


def gauge(frame: Image.Image, board: Board, shape: Geometry) -> Legibility | None:
    """Letter height and contrast of a board in one frame; None where its letters cannot be made out.

    The contrast is that between the middle of the strokes and the lightest tenth of the ground (the darkest, for
    dark letters), so footage that shines through counts. The height is that of one capital, between the
    rows where it is half as strong as its strokes.
    """
    left, top = shape.corner
    across, down = shape.fitted
    scene = frame.convert("RGB").crop((left, top, left + across, top + down))
    size = scene.size
    pixels = np.asarray(scene)
    light = (
        _LIGHT[pixels[..., 0]] * 0.2126 + _LIGHT[pixels[..., 1]] * 0.7152 + _LIGHT[pixels[..., 2]] * 0.0722
    )
    ink, ground = _masks(board, shape.draft, size)
    if (ink >= _INK).sum() < _FEWEST:
        strongest = np.sort(ink, axis=None)[-_FEWEST]
        inside = ink >= max(float(strongest), 0.3)
    else:
        inside = ink >= _INK
    if inside.sum() < _FEWEST or ground.sum() < _FEWEST:
        return None
    letters, plain = float(np.median(light[inside])), float(np.median(light[ground]))
    worst = float(np.percentile(light[ground], 90 if letters > plain else 10))
    tall = _capital(pixels, board, shape)
    if tall is None:
        return None
    shown = round(shape.video[0] * shape.down / shape.across)  # the video's width in square pixels
    return Legibility(arc_minutes(tall, shown, shape.video[1]), ratio(letters, worst))


def _masks(board: Board, draft: tuple[int, int], size: tuple[int, int]) -> tuple[Floats, NDArray[np.bool_]]:
    """How much of each pixel is lettering, from 0 to 1, and which pixels are bare ground among it."""
    alone = np.asarray(board.image.convert("L"), np.float64)
    solid = np.asarray(board.image.getchannel("A"), np.float64) >= 200
    ink = np.zeros(alone.shape)
    near = np.zeros(alone.shape, bool)
    for x0, y0, x1, y1 in board.lines:
        part = (slice(max(0, y0), y1), slice(max(0, x0), x1))
        if not alone[part].size:
            continue
        plain = np.median(alone[part][solid[part]]) if solid[part].any() else 0.0
        strong = max(1.0, float(np.abs(alone[part] - plain).max()))
        ink[part] = np.abs(alone[part] - plain) / strong
        near[part] = solid[part]
    ink *= near
    spread = Image.fromarray((ink * 255).astype(np.uint8)).filter(ImageFilter.MaxFilter(5))
    bare = near & (np.asarray(spread) < 20)
    return (
        _placed(ink, board, draft, size) / 255,
        _placed(bare.astype(np.float64), board, draft, size) / 255 > 0.98,
    )


def _placed(mask: Floats, board: Board, draft: tuple[int, int], size: tuple[int, int]) -> Floats:
    """A mask of the board's pixels as one of the video's, 0 to 255."""
    whole = Image.new("L", draft, 0)
    whole.paste(Image.fromarray((mask * 255).astype(np.uint8)), (board.x, board.y))
    return np.asarray(whole.resize(size, Image.Resampling.BICUBIC), np.float64)


def _capital(pixels: NDArray[np.uint8], board: Board, shape: Geometry) -> float | None:
    """Height of the board's first capital in the video, in pixels and parts of one."""
    if board.letter is None:
        return None
    x0, y0, x1, y1 = board.letter
    columns = slice(round((board.x + x0) * shape.across), round((board.x + x1) * shape.across) + 1)
    rows = slice(max(0, round((board.y + y0) * shape.down)), round((board.y + y1) * shape.down))
    part = pixels[rows, columns].astype(np.float64).mean(axis=2)
    if part.shape[0] < 4 or part.shape[1] < 2:
        return None
    plain = float(np.median(np.concatenate([part[0], part[-1]])))
    apart = np.abs(part - plain)
    strongest = apart.max(axis=1)
    full = float(np.percentile(strongest, 75))
    if full < 20:
        return None
    share = strongest / full
    over = np.nonzero(share >= 0.5)[0]
    first, last = int(over[0]), int(over[-1])
    # A soft edge row counts by how strong it is: so a height is known to a part of a row.
    above = share[first - 1] if first else 0.0
    below = share[last + 1] if last + 1 < len(share) else 0.0
    inner = last - first - 1
    return float(inner + min(1.0, share[first]) + min(1.0, share[last]) + above + below)
