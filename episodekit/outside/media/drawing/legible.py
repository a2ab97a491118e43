"""How well lettering can be read, in numbers: the angle its capitals fill on a phone, and its contrast.

Contrast is that of WCAG 2.2 ("contrast ratio", "relative luminance"): 1 to 21, and 4.5 is asked of text (1.4.3).
"""

from __future__ import annotations

from dataclasses import dataclass
from math import atan, pi

from episodekit.outside.media.drawing.fonts import Fonts, capital_share
from episodekit.outside.media.drawing.overlays import board_colour, draw_overlay, lay_out_overlay
from episodekit.outside.media.drawing.paint import (
    SCREEN_LONG_CM,
    SCREEN_SHORT_CM,
    VIEWING_DISTANCE_CM,
    Colour,
)
from episodekit.timeline.model import Overlay

LEAST_CONTRAST = 4.5


@dataclass(frozen=True)
class Legibility:
    """The smallest lettering's capitals in arc-minutes at a phone's distance, and the lowest contrast."""

    arc_minutes: float
    contrast: float


def luminance(red: float, green: float, blue: float) -> float:
    """Relative luminance of an sRGB colour, each part from 0 to 255.

    >>> round(luminance(0, 0, 255), 4)
    0.0722
    """
    parts = (value / 255 for value in (red, green, blue))
    r, g, b = (c / 12.92 if c <= 0.04045 else ((c + 0.055) / 1.055) ** 2.4 for c in parts)
    return 0.2126 * r + 0.7152 * g + 0.0722 * b


def ratio(one: float, other: float) -> float:
    """Contrast ratio of two relative luminances, whichever is the lighter.

    >>> ratio(luminance(0, 0, 0), luminance(255, 255, 255))
    21.0
    """
    light, dark = max(one, other), min(one, other)
    return round((light + 0.05) / (dark + 0.05), 6)


def arc_minutes(pixels: float, width: int, height: int) -> float:
    """The angle that so many pixels of a frame fill on a phone; the inverse of `paint.letter_height`.

    >>> round(arc_minutes(21.98, 1280, 720), 1)
    22.0
    """
    centimetres = pixels / max(max(width, height) / SCREEN_LONG_CM, min(width, height) / SCREEN_SHORT_CM)
    return 2 * atan(centimetres / 2 / VIEWING_DISTANCE_CM) * 180 / pi * 60


def legibility(overlay: Overlay, width: int, height: int, fonts: Fonts) -> Legibility:
    """An overlay as drawn, over the worst footage there can be: all white or all black.

    No text at all is seen under no angle, with a contrast of 1.
    """
    texts = lay_out_overlay(overlay, width, height, fonts).texts
    if not texts:
        return Legibility(0.0, 1.0)
    image, _, _ = draw_overlay(overlay, width, height, fonts)
    alpha = image.getchannel("A")
    solid = max(alpha.getcolors() or [], key=lambda each: each[0] if each[1] else 0)[1]
    assert isinstance(solid, int)
    ground = board_colour(overlay.kind, width, height, fonts)
    grounds = [_over(ground, solid, footage) for footage in (0, 255)]
    worst = min(ratio(luminance(*placed.colour), luminance(*g)) for placed in texts for g in grounds)
    least = min(placed.text.size * capital_share(placed.text.font) for placed in texts)
    return Legibility(arc_minutes(least, width, height), worst)


def _over(colour: Colour, alpha: int, footage: int) -> tuple[float, float, float]:
    """A colour laid over grey footage; blended as the engine does, without gamma."""
    red, green, blue = (part * alpha / 255 + footage * (1 - alpha / 255) for part in colour)
    return red, green, blue
