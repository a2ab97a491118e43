"""Cards: the slate that stands for a shot not yet filmed, as a full frame.

From the top: the kicker on a label, the heading, what to film, the cautions beside a warning sign; at the
bottom the words to read aloud. Texts that run from right to left stand at the right. Same input, same bytes.
"""

from __future__ import annotations

from dataclasses import dataclass

from PIL import Image, ImageDraw

from episodekit.outside.media.drawing.fonts import Fonts
from episodekit.outside.media.drawing.lettering import SetText, Style, set_text
from episodekit.outside.media.drawing.overlays import draw_overlay, overlay_room
from episodekit.outside.media.drawing.paint import (
    ACCENTS,
    BACKGROUND,
    CAUTION_PANEL,
    INK,
    LEAST_ARC_MINUTES,
    MUTED,
    NIGHT,
    PANEL,
    Box,
    Placed,
    draw_warning_sign,
    fill_box,
    paint_text,
    side_margin,
    size_for,
    smaller,
    unit_of,
)
from episodekit.timeline.model import Card

__all__ = ["CardLayout", "draw_card", "draw_overlay", "lay_out_card", "overlay_room"]

TOP_MARGIN = 0.085  # of the height, above and below the text
CAUTION_SHARE = 0.34  # of the height between the margins, that cautions may take at a comfortable size
# In units: space above the cautions' panel, inside it above and below, left of its text, its sign.
OVER_CAUTIONS, CAUTION_PAD, CAUTION_LEAD, CAUTION_SIGN = 20, 14, 88, 46


@dataclass(frozen=True)
class CardLayout:
    """Where everything of a card lies: texts, the label behind the kicker, the panel behind the words, the
    panel behind the cautions and the warning sign on it."""

    texts: tuple[Placed, ...]
    label: Box | None
    panel: Box | None
    cautions: Box | None = None
    sign: Box | None = None


def draw_card(
    card: Card, width: int, height: int, fonts: Fonts, *, top: int = 0, bottom: int = 0
) -> Image.Image:
    """The slate as a full frame (RGB).

    `top` and `bottom` are the rows that overlays take from the frame's edges while the card is on
    (see `overlay_room`); the card's text keeps out of them. Raises KeyError for an unknown accent.
    """
    accent = ACCENTS[card.accent]
    layout = lay_out_card(card, width, height, fonts, top=top, bottom=bottom)
    unit = unit_of(width, height)
    image = Image.new("RGB", (width, height), BACKGROUND)
    _draw_frame_corners(image, unit)
    if layout.label:
        fill_box(image, layout.label, accent, radius=7 * unit)
    for panel, ground, bar in (
        (layout.panel, PANEL, accent),
        (layout.cautions, CAUTION_PANEL, ACCENTS["caution"]),
    ):
        if panel:
            left, upper, right, lower = panel
            fill_box(image, panel, ground, radius=12 * unit)
            edge = min(right, left + max(2, round(7 * unit)))
            fill_box(image, (left, upper, edge, lower), bar, radius=3 * unit)
    if layout.sign:
        left, upper, right, _ = layout.sign
        draw_warning_sign(image, left, upper, right - left, ACCENTS["caution"])
    for placed in layout.texts:
        paint_text(image, placed)
    return image


def lay_out_card(
    card: Card, width: int, height: int, fonts: Fonts, *, top: int = 0, bottom: int = 0
) -> CardLayout:
    """Where everything of the card goes; boxes never meet and stay inside the title-safe area.

    The cautions take what they need, so that none is ever cut for the rest. Words and heading share the
    remaining height: the words shrink first, then the heading, then the lines are cut short, so that
    what to film stays on the card as long as it can.
    """
    unit = unit_of(width, height)

    def u(units: float) -> int:
        return round(units * unit)

    floor = size_for(LEAST_ARC_MINUTES, fonts, width, height)
    left = side_margin(width, height)
    column = width - 2 * left
    upper = max(round(TOP_MARGIN * height), top + u(24))
    lower = height - max(round(TOP_MARGIN * height), bottom + u(24))
    high = max(0, lower - upper)

    cautions, taken = _set_cautions(card, fonts, floor, unit, column, high)
    high -= taken
    kicker_style = Style(fonts.semibold, max(floor, u(23)), floor)
    kicker = set_text((card.kicker,), kicker_style, column // 2, high // 4, 1)
    label_height = kicker.height + 2 * u(5) if kicker.lines else 0
    under_label = u(24) if kicker.lines else 0
    rows = 3 if width >= height else 5

    def set_heading(largest: int, room: int) -> SetText:
        size = min(largest, column // 9)
        style = Style(fonts.bold, max(floor, size), max(floor, u(32)), 1.14, even=True, last=floor)
        return set_text((card.heading,), style, column, room, rows)

    def set_lines(largest: int, room: int) -> SetText:
        return set_text(card.lines, Style(fonts.regular, max(floor, largest), floor, 1.32, 0.3), column, room)

    least_heading = set_heading(u(40), high // 3).height
    least_lines = set_lines(floor, high // 3).height
    under_heading = u(18) if least_heading and least_lines else 0
    least = label_height + under_label + least_heading + under_heading + least_lines

    texts: list[Placed] = []
    panel: Box | None = None
    pad_x, pad_y, over_panel = u(36), u(22), u(30)
    most = high - least - over_panel if least else high
    least_words = 0 if cautions.lines else round(0.36 * high)
    room = min(max(most, least_words), round((0.6 if least else 0.85) * high)) - 2 * pad_y
    words_style = Style(fonts.regular, max(floor, u(40)), floor, leading=1.34, even=True)
    words = set_text((card.words,), words_style, column - 2 * pad_x, room)
    if words.lines:
        start = lower - words.height - 2 * pad_y
        panel = (left, start, left + column, lower)
        texts.append(Placed(words, left + pad_x + words.indent(column - 2 * pad_x), start + pad_y, INK))
        high = max(0, start - over_panel - upper - taken)

    # Kicker, heading, lines and cautions go as one group: from the top over words, else in the middle.
    high_left = max(0, high - label_height - under_label)
    heading_room = min(high_left, max(least_heading, high_left - under_heading - least_lines))
    heading = set_heading(u(68) if panel else u(86), heading_room)
    lines = set_lines(u(29), max(0, high_left - heading.height - under_heading))
    under_heading = under_heading if lines.lines else 0
    group = label_height + under_label + heading.height + under_heading + lines.height
    y = upper if panel else upper + max(0, (high - group) // 2)
    label: Box | None = None
    if kicker.lines:
        label = (left, y, left + kicker.width + 2 * u(14), y + label_height)
        texts.append(Placed(kicker, left + u(14), y + u(5), NIGHT))
    y += label_height + under_label
    if heading.lines:
        texts.append(Placed(heading, left + heading.indent(column), y, INK))
    y += heading.height + under_heading
    if lines.lines:
        texts.append(Placed(lines, left + lines.indent(column), y, MUTED))
    if not cautions.lines:
        return CardLayout(tuple(texts), label, panel)
    y += lines.height + (u(OVER_CAUTIONS) if group else 0)
    ground = (left, y, left + column, y + cautions.height + 2 * u(CAUTION_PAD))
    size = min(u(CAUTION_SIGN), ground[3] - ground[1] - 2 * u(6))
    sign_top = (ground[1] + ground[3] - size) // 2
    sign = (left + u(24), sign_top, left + u(24) + size, sign_top + size)
    begin = left + u(CAUTION_LEAD)
    begin += cautions.indent(left + column - u(24) - begin)
    texts.append(Placed(cautions, begin, y + u(CAUTION_PAD), INK))
    return CardLayout(tuple(texts), label, panel, ground, sign)


def _set_cautions(
    card: Card, fonts: Fonts, floor: int, unit: float, column: int, high: int
) -> tuple[SetText, int]:
    """The cautions and the rows they take with their panel and the space above it.

    They are as large as a third of the height allows, and never smaller than `floor` unless the whole
    card cannot hold them; then they are smaller rather than cut.
    """
    around = round(OVER_CAUTIONS * unit) + 2 * round(CAUTION_PAD * unit)
    wide = column - round(CAUTION_LEAD * unit) - round(24 * unit)
    style = Style(fonts.regular, max(floor, round(27 * unit)), floor, 1.25, 0.3)
    text = set_text(card.cautions, style, wide, max(0, round(CAUTION_SHARE * high) - around))
    if not text.whole:
        small = Style(fonts.regular, floor, floor, 1.25, 0.3, last=smaller(floor))
        text = set_text(card.cautions, small, wide, max(0, high - around))
    return text, text.height + around if text.lines else 0


def _draw_frame_corners(image: Image.Image, unit: float) -> None:
    """Faint corners of a viewfinder: this card stands where a picture will be."""
    width, height = image.size
    inset, arm, thick = round(20 * unit), round(32 * unit), max(1, round(2 * unit))
    pen = ImageDraw.Draw(image)
    for x, inward in ((inset, 1), (width - 1 - inset, -1)):
        for y, downward in ((inset, 1), (height - 1 - inset, -1)):
            for end, fat in (((x + inward * arm, y), (0, thick)), ((x, y + downward * arm), (thick, 0))):
                far = (end[0] + inward * fat[0], end[1] + downward * fat[1])
                xs, ys = sorted((x, far[0])), sorted((y, far[1]))
                pen.rectangle((xs[0], ys[0], xs[1], ys[1]), fill=(62, 76, 90))
