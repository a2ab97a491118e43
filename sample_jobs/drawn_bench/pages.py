"""What the handheld's screen shows. The middle of the screen is the origin."""

from __future__ import annotations

import math

from drawn_bench.pen import Pen, Point


def ui_home(p: Pen) -> None:
    p.slab(-110, -68, 220, 134, 5, ("#1d4149", "#16323a"))
    for r in (52, 34):
        p.ring(-r, -r, 2 * r, 2 * r, r, 1.6, "#3f7d82")
    p.slab(-98, -0.8, 196, 1.6, 0, "#3f7d82")
    p.slab(-0.8, -58, 1.6, 116, 0, "#3f7d82")
    p.ring(-7, -7, 14, 14, 7, 1.8, "#76b9b5")


def ui_wifi(p: Pen) -> None:
    p.slab(-110, -68, 220, 134, 5, ("#1d4149", "#16323a"))
    for i in range(3):
        p.slab(-94, 6 + i * 18, 188, 11, 5.5, "#2b555d")
        r = 8 + i * 8
        p.line(
            [(-72 + r * math.cos(a / 10), -26 + r * math.sin(a / 10)) for a in range(-23, -7)], 4, "#76b9b5"
        )
    p.dot(-72, -25, 3.6, "#76b9b5")


def figures(p: Pen, value: int) -> None:
    p.text(12, -33, str(value), 44, "#eafaf3", "mm")
    p.text(48, -22, "Mbit/s", 15, "#9fd0ca", "lm")


def ui_charge(p: Pen, value: int) -> None:
    p.slab(-110, -68, 220, 134, 5, ("#1d4149", "#16323a"))
    p.ring(-56, -42, 104, 50, 10, 4, "#9fd0ca")
    p.slab(49, -27, 7, 20, 3, "#9fd0ca")
    p.slab(-49, -35, 90 * value / 100, 36, 5, "#8fd69a")
    p.text(0, 36, f"{value} %", 26, "#eafaf3")


def ui_bars(p: Pen) -> None:
    colours = ("#e9e4d6", "#e7bd55", "#62b7a9", "#7f9f57", "#c87796", "#cf5b3f", "#4d6fa8", "#262c30")
    p.slab(-110, -68, 220, 134, 5, "#262c30")
    for i, colour in enumerate(colours):
        p.slab(-110 + i * 27.5, -68, 28.5 if i < 7 else 27.5, 94, 0, colour)
    for i in range(11):
        level = 38 + i * 20
        p.slab(-110 + i * 20, 26, 20.6, 40, 0, f"#{level:02x}{level:02x}{level - 4:02x}")


def ui_touch(p: Pen, done: int) -> None:
    """A touch test of 6 by 4 fields; the first `done` of them, in a serpentine, have answered."""
    p.slab(-110, -68, 220, 134, 5, "#16323a")
    for i in range(24):
        x, y = touch_field(i)
        p.slab(x - 16, y - 14.5, 32, 29, 5, "#6fc3b4" if i < done else "#28515a")


def touch_field(i: int) -> Point:
    row, col = divmod(i, 6)
    return -90 + 36 * (col if row % 2 == 0 else 5 - col), -50 + 32.6 * row


def cursor(p: Pen) -> None:
    p.dot(0, 0, 7, "#ffd27a")
    p.dot(-1.5, -1.5, 3, "#fff3d3")


def trail(p: Pen) -> None:
    p.slab(-100, -2, 100, 4, 2, "#ffb45c", 0.75)


def bar(p: Pen) -> None:
    p.slab(0, -5.5, 188, 11, 5.5, ("#8fe0c8", "#5fbfae"))
