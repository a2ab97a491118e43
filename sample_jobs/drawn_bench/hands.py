"""Gloved hands from above, empty or with a tool. The origin is the working tip: of the fingers or of the tool."""

from __future__ import annotations

import math
from collections.abc import Callable

from drawn_bench.pen import Pen, Points

GLOVE, GLOVE_DARK, GLOVE_LIGHT = "#7684b4", "#5a679a", "#8e9bc6"


def finger(p: Pen, points: Points, width: float, end: float) -> None:
    p.line(points, width + 5, GLOVE_DARK, end=end + 5)
    p.line(points, width, GLOVE, end=end)
    lit = [(x - width * 0.17, y - width * 0.05) for x, y in points]
    p.line(lit, width * 0.2, GLOVE_LIGHT, 0.65, end=end * 0.2)


def arm(p: Pen, x: float, y: float) -> None:
    p.line([(x + 98, y + 262), (x + 190, y + 470), (x + 360, y + 860)], 122, "#8f4630", end=176)
    p.line([(x + 98, y + 262), (x + 190, y + 470), (x + 360, y + 860)], 114, "#b8603f", end=168)
    p.line([(x + 62, y + 300), (x + 150, y + 500), (x + 310, y + 860)], 16, "#cd7a55", 0.6)
    p.line([(x + 42, y + 290), (x + 98, y + 266), (x + 152, y + 238)], 34, "#8f4630")
    p.line([(x + 42, y + 288), (x + 98, y + 263), (x + 152, y + 236)], 26, "#cd7a55")


def palm(p: Pen, x: float, y: float) -> None:
    p.line([(x + 44, y + 148), (x + 62, y + 190), (x + 92, y + 258)], 121, GLOVE_DARK, end=99)
    p.line([(x + 44, y + 148), (x + 62, y + 190), (x + 92, y + 258)], 115, GLOVE, end=93)


def pinch(p: Pen, x: float = 0.0, y: float = 0.0, tool: Callable[[], None] | None = None) -> None:
    """A gloved right hand from above, thumb and first finger meeting at the given point; a tool lies between."""
    arm(p, x, y)
    palm(p, x, y)
    for points, w, e in (
        ([(96, 172), (112, 128), (98, 104)], 38, 32),
        ([(82, 150), (92, 94), (74, 72)], 42, 34),
        ([(62, 136), (66, 70), (42, 44)], 44, 34),
    ):
        finger(p, [(x + u, y + v) for u, v in points], w, e)
    if tool:
        tool()
    finger(p, [(x + 40, y + 128), (x + 40, y + 62), (x + 6, y + 6)], 46, 26)
    finger(p, [(x + 8, y + 178), (x - 26, y + 104), (x - 4, y + 20)], 50, 28)


def flat(p: Pen) -> None:
    """An open hand laid on something; the middle of the fingers is the origin."""
    arm(p, 0, 0)
    palm(p, 0, 0)
    fingers: list[tuple[Points, float, float]] = [
        ([(100, 140), (100, 80), (84, 22)], 34, 28),
        ([(78, 116), (66, 40), (48, -26)], 38, 30),
        ([(48, 104), (26, 22), (6, -46)], 40, 30),
        ([(16, 108), (-14, 34), (-36, -24)], 38, 29),
        ([(10, 190), (-48, 140), (-66, 84)], 44, 32),
    ]
    for points, w, e in fingers:
        finger(p, points, w, e)
    p.line([(34, 130), (62, 140), (88, 160)], 60, GLOVE, end=50)


def hand_driver(p: Pen, turn: int) -> None:
    def tool() -> None:
        p.line([(3, 5), (34, 62)], 7, "#8d918f", end=8, curve=False)
        p.line([(2.5, 5), (33, 61)], 2.4, "#dfe3e0", curve=False)
        p.line([(34, 62), (112, 205)], 33, "#b06a1d", end=38, curve=False)
        p.line([(34, 62), (112, 205)], 28, "#e79a35", end=33, curve=False)
        for i in range(4):  # the grip's ridges wander across it as it turns
            off = ((i * 9 + turn * 3) % 36) - 18
            shade = math.cos(off / 18 * math.pi / 2)
            p.line(
                [(40 + off * 0.7, 72 - off * 0.38), (98 + off * 0.84, 178 - off * 0.46)], 3, "#a55f17", shade
            )
        p.line([(30, 55), (37, 68)], 22, "#5b4a3a", curve=False)

    pinch(p, 60, 112, tool)


def hand_pry(p: Pen) -> None:
    def tool() -> None:
        p.line([(2, 3), (14, 24), (150, 270)], 9, "#a8462c", end=27)
        p.line([(2, 3), (14, 24), (150, 270)], 6, "#ee7f5c", end=22)
        p.line([(8, 16), (90, 160)], 2.6, "#ffb498", 0.8, curve=False)

    pinch(p, 56, 100, tool)


def hand_tweezers(p: Pen) -> None:
    def tool() -> None:
        for end, colour in (((44, 104), "#9a9fa0"), ((66, 92), "#c9cdcc")):
            p.line([(1, 2), (10, 22), end, (98, 176)], 4, "#5f6465", end=13)
            p.line([(1, 2), (10, 22), end, (98, 176)], 2.6, colour, end=9.5)

    pinch(p, 58, 104, tool)


def hand_syringe(p: Pen) -> None:
    def tool() -> None:
        p.line([(0, 0), (18, 34)], 3.4, "#3f9c98", end=7, curve=False)
        p.line([(20, 36), (26, 48)], 17, "#2f7f7c", end=24, curve=False)
        p.line([(30, 54), (104, 190)], 36, "#b9c9c6", curve=False)
        p.line([(30, 54), (104, 190)], 30, "#eef4ef", curve=False)
        p.line([(34, 62), (70, 128)], 20, "#f8efd2", curve=False)

    pinch(p, 62, 116, tool)
