"""Overlays: what lies over footage for a while, drawn on its own ground so that any footage will do.

Kinds never meet, whatever they say: cautions and disclosures share the upper half side by side, lower
thirds keep to the lower half. Same input, same bytes.
"""

from __future__ import annotations

from dataclasses import dataclass
from pathlib import Path

from PIL import Image, ImageDraw

from episodekit.outside.media.fonts import Fonts
from episodekit.outside.media.lettering import Style, set_text
from episodekit.outside.media.paint import (
    ACCENTS,
    CLEAR_ARC_MINUTES,
    INK,
    LEAST_ARC_MINUTES,
    MUTED,
    NIGHT,
    Colour,
    Placed,
    even_up,
    fill_box,
    paint_text,
    rounded,
    side_margin,
    size_for,
    unit_of,
)
from episodekit.timeline.model import Overlay, OverlayKind

TOP_MARGIN = 0.06  # of the height; inside the title-safe area
CAUTION_SHARE, DISCLOSURE_SHARE = 0.55, 0.42  # of the width between the margins; the rest parts them
TOP_SHARE, LOW_SHARE = 0.42, 0.36  # of the height: the tallest that a top overlay and a lower third grow
DARK_ALPHA = 226  # of 255; white footage behind still leaves 4.5:1 for every colour used on it
AMBER_ALPHA = 242  # of 255; the same with black footage behind


@dataclass(frozen=True)
class _Board:
    """How one kind of overlay is built: its ground, its two texts, and the room around them in pixels.

    `lead` is the room left of the text, where a bar or a sign stands; `width` and `height` are the
    most it may grow to, `least` the least height, `lines` the most lines a text may take.
    """

    ground: Colour
    alpha: int
    text: Style
    small: Style
    inks: tuple[Colour, Colour]
    lead: int
    pad: int
    rise: int
    width: int
    height: int
    least: int = 0
    lines: int = 99


def draw_overlay(overlay: Overlay, width: int, height: int, fonts: Fonts) -> tuple[Image.Image, int, int]:
    """An overlay cropped to its ground (RGBA), and the column and row of its top left corner.

    All four numbers are even, as 4:2:0 pictures need, in a frame of even size. Nothing to say gives a
    clear image of 2 x 2.
    """
    board = _board(overlay.kind, width, height, fonts)
    unit = unit_of(width, height)
    image = _lettered(overlay, board, unit)
    if overlay.kind is OverlayKind.CAUTION and image.width > board.lead:
        sign = board.least - 2 * board.rise
        _draw_warning_sign(image, board.pad, (image.height - sign) // 2, sign)
    if overlay.kind is OverlayKind.LOWER_THIRD and image.width > board.lead:
        fill_box(image, (0, 0, board.lead - board.pad, image.height), ACCENTS["shot"], radius=0)
    x, y = side_margin(width, height), even_up(TOP_MARGIN * height)
    if overlay.kind is OverlayKind.DISCLOSURE:
        x = width - x - image.width
    if overlay.kind is OverlayKind.LOWER_THIRD:
        y = height - y - image.height
    return image, x, y


def overlay_room(overlays: tuple[Overlay, ...], width: int, height: int, fonts: Fonts) -> tuple[int, int]:
    """The rows that overlays take from the top and from the bottom of the frame, for `draw_card`."""
    top = bottom = 0
    for overlay in overlays:
        image, _, y = draw_overlay(overlay, width, height, fonts)
        if overlay.kind is OverlayKind.LOWER_THIRD:
            bottom = max(bottom, height - y)
        else:
            top = max(top, y + image.height)
    return top, bottom


def _board(kind: OverlayKind, width: int, height: int, fonts: Fonts) -> _Board:
    """The three kinds. A lower third carries an accent bar; a caution is dark on amber beside a warning
    sign; a disclosure is plain and never smaller than `CLEAR_ARC_MINUTES` to a phone's viewer."""
    unit = unit_of(width, height)
    column = width - 2 * side_margin(width, height)
    floor = size_for(LEAST_ARC_MINUTES, fonts, width, height)
    clear = size_for(CLEAR_ARC_MINUTES, fonts, width, height)

    def u(units: float) -> int:
        return round(units * unit)

    def style(font: Path, units: float, leading: float = 1.2) -> Style:
        return Style(font, max(floor, u(units)), floor, leading, even=True)

    match kind:
        case OverlayKind.LOWER_THIRD:
            return _Board(
                ground=NIGHT,
                alpha=DARK_ALPHA,
                text=style(fonts.semibold, 36),
                small=style(fonts.regular, 25, 1.25),
                inks=(INK, MUTED),
                lead=max(2, u(8)) + u(22),
                pad=u(22),
                rise=u(14),
                width=round(column * (0.66 if width >= height else 1)),
                height=round(LOW_SHARE * height),
                lines=2,
            )
        case OverlayKind.CAUTION:
            return _Board(
                ground=ACCENTS["caution"],
                alpha=AMBER_ALPHA,
                text=style(fonts.bold, 31),
                small=style(fonts.regular, 25, 1.25),
                inks=(NIGHT, NIGHT),
                lead=u(20) + u(56) + u(18),
                pad=u(20),
                rise=u(16),
                width=round(CAUTION_SHARE * column),
                height=round(TOP_SHARE * height),
                least=u(56) + 2 * u(16),
            )
        case OverlayKind.DISCLOSURE:
            plain = Style(fonts.semibold, clear, clear, 1.2, even=True)
            return _Board(
                ground=NIGHT,
                alpha=DARK_ALPHA,
                text=plain,
                small=plain,
                inks=(INK, INK),
                lead=u(18),
                pad=u(18),
                rise=u(10),
                width=round(DISCLOSURE_SHARE * column),
                height=round(TOP_SHARE * height),
            )


def _lettered(overlay: Overlay, board: _Board, unit: float) -> Image.Image:
    """The ground, as large as its texts need, round-cornered, with the texts one under the other."""
    wide = board.width - 2 - board.lead - board.pad  # 2: evening up may add a column
    tall = board.height - 2 - 2 * board.rise
    small = set_text((overlay.small,), board.small, wide, tall // 3, board.lines)
    gap = round(3 * unit) if small.lines else 0
    text = set_text((overlay.text,), board.text, wide, tall - small.height - gap, board.lines)
    if not text.lines and not small.lines:
        return Image.new("RGBA", (2, 2), (0, 0, 0, 0))
    gap = gap if text.lines else 0
    written = text.height + gap + small.height
    size = (
        even_up(board.lead + max(text.width, small.width) + board.pad),
        even_up(max(board.least, written + 2 * board.rise)),
    )
    image = Image.new("RGBA", size, (*board.ground, 0))
    image.putalpha(rounded(size, 8 * unit).point([value * board.alpha // 255 for value in range(256)]))
    top = (size[1] - written) // 2
    for block, colour in zip((text, small), board.inks, strict=True):
        if block.lines:
            paint_text(image, Placed(block, board.lead, top, colour))
            top += block.height + gap
    return image


def _draw_warning_sign(image: Image.Image, left: int, top: int, size: int) -> None:
    """A dark triangle with an exclamation mark cut out of it; drawn at four times its size."""
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
    image.paste((*NIGHT, 255), (left, top), sign.reduce(4))
