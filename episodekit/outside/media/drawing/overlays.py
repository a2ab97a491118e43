"""Overlays: what lies over footage for a while, drawn on its own ground so that any footage will do.

Kinds never meet, whatever they say: cautions and disclosures share the upper part side by side, lower
thirds and codes keep to the lowest quarter, one at a time. All four corners may be taken, so a speed badge stands
at the right edge between the two parts, where nothing else ever is. Same input, same bytes.
"""

from __future__ import annotations

from dataclasses import dataclass, replace
from pathlib import Path

from PIL import Image

from episodekit.outside.media.drawing.fonts import Fonts
from episodekit.outside.media.drawing.lettering import SetText, Style, set_text
from episodekit.outside.media.drawing.paint import (
    ACCENTS,
    CLEAR_ARC_MINUTES,
    INK,
    LEAST_ARC_MINUTES,
    MUTED,
    NIGHT,
    Colour,
    Placed,
    draw_warning_sign,
    even_up,
    fill_box,
    paint_text,
    rounded,
    side_margin,
    size_for,
    smaller,
    unit_of,
)
from episodekit.timeline.model import Overlay, OverlayKind

TOP_MARGIN = 0.06  # of the height; inside the title-safe area
CAUTION_SHARE, DISCLOSURE_SHARE = 0.55, 0.42  # of the width between the margins; the rest parts them
# Of the height: the tallest that each kind grows. A caution is the tallest, so that none of it is cut.
CAUTION_HEIGHT, DISCLOSURE_HEIGHT, LOW_HEIGHT = 0.61, 0.42, 0.26
BADGE_HEIGHT = (
    0.16  # what is left at the right between a disclosure and what lies low, with room to part them
)
DARK_ALPHA = 226  # of 255; white footage behind still leaves 4.5:1 for every colour used on it
AMBER_ALPHA = 242  # of 255; the same with black footage behind


_BARRED = {OverlayKind.LOWER_THIRD: "shot", OverlayKind.CODE: "read"}
"""The kinds that lie low, with the accent of the bar at their left."""


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


@dataclass(frozen=True)
class OverlayLayout:
    """The size of an overlay's ground and the texts on it, placed from its top left corner."""

    size: tuple[int, int]
    texts: tuple[Placed, ...]


def draw_overlay(overlay: Overlay, width: int, height: int, fonts: Fonts) -> tuple[Image.Image, int, int]:
    """An overlay cropped to its ground (RGBA), and the column and row of its top left corner.

    All four numbers are even, as 4:2:0 pictures need, in a frame of even size. Nothing to say gives a
    clear image of 2 x 2.
    """
    board = _board(overlay.kind, width, height, fonts)
    unit = unit_of(width, height)
    image = _lettered(lay_out_overlay(overlay, width, height, fonts), board, unit)
    if overlay.kind is OverlayKind.CAUTION and image.width > board.lead:
        sign = board.least - 2 * board.rise
        draw_warning_sign(image, board.pad, (image.height - sign) // 2, sign, NIGHT)
    if overlay.kind in _BARRED and image.width > board.lead:
        fill_box(
            image, (0, 0, board.lead - board.pad, image.height), ACCENTS[_BARRED[overlay.kind]], radius=0
        )
    x, y = side_margin(width, height), even_up(TOP_MARGIN * height)
    if overlay.kind in {OverlayKind.DISCLOSURE, OverlayKind.CODE, OverlayKind.BADGE}:
        x = width - x - image.width
    if overlay.kind in _BARRED:
        y = height - y - image.height
    if overlay.kind is OverlayKind.BADGE:
        y = height - even_up((TOP_MARGIN + LOW_HEIGHT) * height + 4) - image.height
    return image, x, y


def lay_out_overlay(overlay: Overlay, width: int, height: int, fonts: Fonts) -> OverlayLayout:
    """Where the overlay's texts go on its ground, which is as large as they need."""
    board = _board(overlay.kind, width, height, fonts)
    gap = round(6 * unit_of(width, height))
    set_texts = zip(_set_texts(overlay, board, gap), board.inks, strict=True)
    blocks = [(block, ink) for block, ink in set_texts if block.lines]
    if not blocks:
        return OverlayLayout((2, 2), ())
    written = sum(block.height for block, _ in blocks) + gap * (len(blocks) - 1)
    column = max(block.width for block, _ in blocks)
    wide = board.lead + column + board.pad
    size = (even_up(wide), even_up(max(board.least, written + 2 * board.rise)))
    top = (size[1] - written) // 2
    texts: list[Placed] = []
    for block, ink in blocks:
        texts.append(Placed(block, board.lead + block.indent(column), top, ink))
        top += block.height + gap
    return OverlayLayout(size, tuple(texts))


def overlay_room(overlays: tuple[Overlay, ...], width: int, height: int, fonts: Fonts) -> tuple[int, int]:
    """The rows that overlays take from the top and from the bottom of the frame, for `draw_card`."""
    top = bottom = 0
    for overlay in overlays:
        if overlay.kind is OverlayKind.BADGE:  # tells how fast footage plays, so it is never over a card
            continue
        image, _, y = draw_overlay(overlay, width, height, fonts)
        if overlay.kind in _BARRED:
            bottom = max(bottom, height - y)
        else:
            top = max(top, y + image.height)
    return top, bottom


def board_colour(kind: OverlayKind, width: int, height: int, fonts: Fonts) -> Colour:
    """The colour of the ground that a kind of overlay stands on."""
    return _board(kind, width, height, fonts).ground


def _board(kind: OverlayKind, width: int, height: int, fonts: Fonts) -> _Board:
    """The five kinds. A lower third carries an accent bar; a caution is dark on amber beside a warning
    sign; a disclosure is plain and never smaller than `CLEAR_ARC_MINUTES` to a phone's viewer; a code is
    large, so that it can be copied from across the room; a badge is small."""
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
                height=round(LOW_HEIGHT * height),
                lines=2,
            )
        case OverlayKind.CAUTION:
            return _Board(
                ground=ACCENTS["caution"],
                alpha=AMBER_ALPHA,
                text=replace(style(fonts.bold, 31), gap=0.25, last=smaller(floor)),
                small=style(fonts.regular, 25, 1.25),
                inks=(NIGHT, NIGHT),
                lead=u(20) + u(56) + u(18),
                pad=u(20),
                rise=u(13),
                width=round(CAUTION_SHARE * column),
                height=round(CAUTION_HEIGHT * height),
                least=u(56) + 2 * u(13),
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
                height=round(DISCLOSURE_HEIGHT * height),
            )
        case OverlayKind.CODE:
            return _Board(
                ground=NIGHT,
                alpha=DARK_ALPHA,
                text=Style(fonts.bold, max(clear, u(60)), clear, 1.2, even=True),
                small=Style(fonts.semibold, max(clear, u(32)), clear, 1.2, even=True),
                inks=(INK, INK),
                lead=max(2, u(8)) + u(26),
                pad=u(26),
                rise=u(14),
                width=column,
                height=round(LOW_HEIGHT * height),
                lines=2,
            )
        case OverlayKind.BADGE:
            return _Board(
                ground=NIGHT,
                alpha=DARK_ALPHA,
                text=style(fonts.bold, 28),
                small=style(fonts.regular, 25),
                inks=(INK, MUTED),
                lead=u(14),
                pad=u(14),
                rise=u(6),
                width=round(DISCLOSURE_SHARE * column),
                height=round(BADGE_HEIGHT * height),
                lines=1,
            )


def _set_texts(overlay: Overlay, board: _Board, gap: int) -> tuple[SetText, SetText]:
    """The overlay's text, a paragraph for each of its lines, and its small print, with `gap` between them."""
    wide = board.width - 2 - board.lead - board.pad  # 2: evening up may add a column
    tall = board.height - 2 - 2 * board.rise
    small = set_text((overlay.small,), board.small, wide, tall // 2, board.lines)
    left = tall - (small.height + gap if small.lines else 0)
    text = set_text(tuple(overlay.text.split("\n")), board.text, wide, left, board.lines)
    if text.lines and small.size > text.size:  # small print is never the larger
        fitted = replace(board.small, largest=text.size, smallest=min(board.small.smallest, text.size))
        small = set_text((overlay.small,), fitted, wide, small.height, board.lines)
    return text, small


def _lettered(layout: OverlayLayout, board: _Board, unit: float) -> Image.Image:
    """The round-cornered ground with the texts on it."""
    image = Image.new("RGBA", layout.size, (*board.ground, 0))
    if layout.texts:
        corners = rounded(layout.size, 8 * unit)
        image.putalpha(corners.point([value * board.alpha // 255 for value in range(256)]))
    for placed in layout.texts:
        paint_text(image, placed)
    return image
