"""Colours, letter sizes and brush strokes shared by cards and overlays.

Sizes are designed for a frame of 1280 x 720 and scaled to the frame by how large it looks on a phone,
so a portrait frame has letters as large to the eye as a landscape one.
"""

from __future__ import annotations

from dataclasses import dataclass
from math import ceil, pi, tan

from PIL import Image, ImageDraw

from episodekit.outside.media.drawing.fonts import Fonts, capital_share
from episodekit.outside.media.drawing.lettering import SetText, ink

Colour = tuple[int, int, int]
Box = tuple[int, int, int, int]  # left, top, right, bottom in pixels; right and bottom not included

# How large letters must be. Distance: web pages on a phone, Bababekova and others, 2011. Angles: the
# 16 arc-minutes at least of ISO 9241-3 and the upper end of the 20-22 preferred (NUREG-0700, 1.3.1-4).
# Picture: a 5.5-inch phone held sideways, its 16:9 screen 12 cm by 6.75 cm (own reckoning).
VIEWING_DISTANCE_CM = 32.2
LEAST_ARC_MINUTES = 16
CLEAR_ARC_MINUTES = 22
SCREEN_LONG_CM = 12.0
SCREEN_SHORT_CM = 6.75

# Title-safe area: 90 % of width and height (SMPTE ST 2046-1, from memory).
SAFE = 0.05

BACKGROUND: Colour = (18, 24, 31)
PANEL: Colour = (29, 38, 48)
CAUTION_PANEL: Colour = (58, 46, 22)
INK: Colour = (244, 243, 238)
MUTED: Colour = (181, 192, 203)
NIGHT: Colour = (14, 18, 23)
ACCENTS: dict[str, Colour] = {
    "shot": (112, 205, 184),
    "read": (190, 169, 247),
    "caution": (247, 190, 69),
    "title": (240, 151, 112),
}


@dataclass(frozen=True)
class Placed:
    """A set text at its place; `box` is all the room its ink may use."""

    text: SetText
    left: int
    top: int
    colour: Colour

    @property
    def box(self) -> Box:
        """Where ink may fall."""
        side = self.text.overhang
        right, bottom = self.left + self.text.width, self.top + self.text.height
        return (self.left - side, self.top - side, right + side, bottom + side)


def letter_height(arc_minutes: float, width: int, height: int) -> float:
    """Height in pixels of a capital that is seen under so many arc-minutes on a phone.

    height = 2 x distance x tan(angle / 2), then centimetres to pixels of a frame that fills the
    phone's screen on one side, held whichever way suits the frame.

    >>> round(letter_height(22, 1280, 720), 2)
    21.98
    """
    centimetres = 2 * VIEWING_DISTANCE_CM * tan(arc_minutes / 60 * pi / 180 / 2)
    return centimetres * max(max(width, height) / SCREEN_LONG_CM, min(width, height) / SCREEN_SHORT_CM)


def paint_text(image: Image.Image, placed: Placed) -> None:
    """Paint a text; its ink is cut at its box, so letters with towering marks cannot reach another."""
    mask = ink(placed.text)
    image.paste((*placed.colour, 255)[: len(image.getbands())], placed.box[:2], mask)


def fill_box(image: Image.Image, box: Box, colour: Colour, radius: float) -> None:
    """A filled box with round corners."""
    size = (box[2] - box[0], box[3] - box[1])
    if min(size) > 0:
        mask = rounded(size, radius)
        if image.mode == "RGBA" and not radius:  # keep the round corners of the backing under it
            mask = Image.composite(mask, Image.new("L", size, 0), image.getchannel("A").crop(box))
        image.paste((*colour, 255)[: len(image.getbands())], box[:2], mask)


def rounded(size: tuple[int, int], radius: float) -> Image.Image:
    """The coverage of a box with round corners; drawn at four times its size for smooth edges."""
    mask = Image.new("L", (size[0] * 4, size[1] * 4), 0)
    reach = min(round(radius * 4), min(size) * 2)
    ImageDraw.Draw(mask).rounded_rectangle((0, 0, size[0] * 4 - 1, size[1] * 4 - 1), reach, fill=255)
    return mask.reduce(4)


def draw_warning_sign(image: Image.Image, left: int, top: int, size: int, colour: Colour) -> None:
    """A triangle with an exclamation mark cut out of it; drawn at four times its size."""
    big = size * 4
    sign = Image.new("L", (big, big), 0)
    pen = ImageDraw.Draw(sign)
    bend = big * 0.07
    corners = ((big / 2, big * 0.13), (big - bend, big * 0.87), (bend, big * 0.87))
    pen.polygon(corners, fill=255)
    for start, end in zip(corners, (*corners[1:], corners[0]), strict=True):
        pen.line((start, end), fill=255, width=round(2 * bend))
    for x, y in corners:
        pen.ellipse((x - bend, y - bend, x + bend, y + bend), fill=255)
    thick = big * 0.055
    pen.polygon(
        (
            (big / 2 - thick, big * 0.36),
            (big / 2 + thick, big * 0.36),
            (big / 2 + thick * 0.6, big * 0.65),
            (big / 2 - thick * 0.6, big * 0.65),
        ),
        fill=0,
    )
    pen.ellipse((big / 2 - thick, big * 0.72, big / 2 + thick, big * 0.72 + 2 * thick), fill=0)
    image.paste((*colour, 255)[: len(image.getbands())], (left, top), sign.reduce(4))


def unit_of(width: int, height: int) -> float:
    """Pixels of this frame that look as large on a phone as one pixel of a 1280 x 720 frame."""
    return letter_height(1, width, height) / letter_height(1, 1280, 720)


def size_for(arc_minutes: float, fonts: Fonts, width: int, height: int) -> int:
    """The smallest size in pixels an em whose capitals are seen under at least so many arc-minutes."""
    return ceil(letter_height(arc_minutes, width, height) / capital_share(fonts.semibold))


def smaller(size: int) -> int:
    """The size for cautions that no frame could hold else: rather small than cut."""
    return max(1, round(0.6 * size))


def side_margin(width: int, height: int) -> int:
    """Where text and overlays start from the side: inside the title-safe area, overhang and all."""
    return even_up(SAFE * width + 12 * unit_of(width, height))


def even_up(value: float) -> int:
    """The even number at or above, as 4:2:0 pictures need."""
    return 2 * ceil(value / 2)
