"""What lies on the bench: the bench itself, mats and tin, and the handheld with all its parts, old and clear."""

from __future__ import annotations

import math

from drawn_bench.pen import Pen, Point, dense

STICKS = ((-186, 44), (186, 44))
PADS = ((-186, -42), (186, -42))
HOLES = ((-212, -58), (0, -92), (212, -58), (222, 46), (84, 92), (-84, 92), (-222, 46))
OUTLINE = (-250, -113, 500, 226, 84)
BEZEL = (-124, -84, 248, 166, 14)

# ---------------------------------------------------------------- the bench


def bench(p: Pen) -> None:
    p.slab(-400, -400, 2080, 1520, 0, "#d8b489")
    for i, y in enumerate(range(-330, 1100, 118)):
        p.slab(-400, y, 2080, 118, 0, ("#dcb98f", "#d3ae81", "#d9b58a")[i % 3])
        p.slab(-400, y, 2080, 2, 0, "#bf9767")
        p.line([(-400, y + 40), (300, y + 46), (800, y + 38), (1680, y + 44)], 1.5, "#c8a172", 0.6)
    p.slab(36, 36, 874, 660, 18, "#6b4c2c", 0.22)
    p.slab(30, 26, 874, 660, 18, "#5f7269")
    p.slab(35, 31, 864, 650, 14, ("#788c82", "#6f8379"))
    for x in range(70, 900, 100):
        p.slab(x, 56, 1.4, 600, 0, "#8a9c92", 0.75)
    for y in range(56, 680, 100):
        p.slab(70, y, 800, 1.4, 0, "#8a9c92", 0.75)
    for i in range(21):
        p.slab(70 + i * 40, 656, 1.2, 8 if i % 5 else 16, 0, "#93a59b", 0.8)


def parts_mat(p: Pen) -> None:
    p.slab(-152, -212, 304, 424, 22, ("#3c4853", "#333e48"))
    p.ring(-152, -212, 304, 424, 22, 3, "#4d5b67")
    for i in range(12):
        p.slab(-137 + (i % 4) * 70, -199 + (i // 4) * 70, 64, 64, 10, "#2b353d")
    p.slab(-137, 15, 274, 184, 12, "#2b353d")


def tin(p: Pen) -> None:
    p.slab(-135, -96, 270, 192, 26, ("#c3c4bf", "#9fa29e"))
    p.slab(-126, -87, 252, 174, 20, "#868a87")
    p.slab(-122, -83, 244, 170, 18, ("#d9c7a2", "#ceba92"))  # a bed of sand
    for i in range(18):
        p.dot(-112 + (i * 67) % 226, -74 + (i * 41) % 150, 1.8, "#b8a27a", 0.8)


def mug(p: Pen) -> None:
    p.line([(58, -30), (96, -22), (92, 26), (52, 30)], 17, "#b4573a")
    p.dot(0, 0, 74, ("#cd6e4d", "#b4573a"))
    p.dot(0, 0, 62, "#9c4a30")
    p.dot(0, 2, 59, ("#4a2d1f", "#5b3826"))
    p.line([(-34, -24), (-12, -38), (16, -38)], 5, "#8a6146", 0.7)


def brush(p: Pen) -> None:
    p.line([(0, -96), (0, 50)], 17, "#8c3f46", end=24, curve=False)
    p.line([(-4, -86), (-5, 40)], 3, "#b5666c", 0.8, curve=False)
    p.slab(-14, 52, 28, 30, 3, ("#d2cec4", "#aaa79f"))
    p.poly([(-14, 80), (14, 80), (18, 122), (-18, 122)], ("#3d3a36", "#57524b"))


def turntable(p: Pen) -> None:
    p.dot(0, 0, 186, ("#efe4cf", "#dccbb0"))
    p.dot(0, 0, 174, "#f4ecdc")
    p.dot(0, 0, 128, "#e9ddc6")
    p.dot(0, 0, 124, "#f4ecdc")
    for i in range(24):
        angle = i * math.pi / 12
        p.dot(180 * math.cos(angle), 180 * math.sin(angle), 2.4, "#c7b291")


def heat_mat(p: Pen) -> None:
    p.line([(-290, 110), (-330, 150), (-380, 158)], 9, "#4c4038")
    p.slab(-300, -152, 600, 304, 26, ("#a4533b", "#94482f"))
    p.ring(-300, -152, 600, 304, 26, 4, "#bd6b50")
    rows = range(-122, 124, 27)
    for i, y in enumerate(rows):
        p.line([(-270, y), (270, y)], 3, "#c27a5c", 0.75, curve=False)
        if i + 1 < len(rows):
            side = 270 if i % 2 == 0 else -270
            p.line([(side, y), (side, y + 27)], 3, "#c27a5c", 0.75, curve=False)


def heat_glow(p: Pen) -> None:
    for grow, a in ((34, 0.10), (24, 0.12), (14, 0.16), (6, 0.2)):
        p.slab(-300 - grow, -152 - grow, 600 + 2 * grow, 304 + 2 * grow, 26 + grow, "#ffab52", a)
    p.slab(-300, -152, 600, 304, 26, "#ff8f3a", 0.35)


def timer(p: Pen, done: int) -> None:
    """The mat's controller: a ring that fills in 48 steps, and no figures to fade or flicker."""
    p.slab(-58, -58, 116, 116, 22, ("#4a423c", "#39322d"))
    p.ring(-58, -58, 116, 116, 22, 2.5, "#62574f")
    p.dot(0, 0, 42, "#221d1a")
    for i in range(48):
        angle = i * math.pi / 24 - math.pi / 2
        x, y = math.cos(angle), math.sin(angle)
        p.line([(x * 29, y * 29), (x * 36, y * 36)], 3, "#ffb45c" if i < done else "#4d433b", curve=False)
    p.dot(0, 0, 9, "#ff9a3d" if 0 < done < 48 else "#8fd0a0" if done else "#5a4e45")


# ---------------------------------------------------------------- the handheld


def old_front(p: Pen) -> None:
    p.slab(-196, -119, 74, 24, 10, "#bba56c")
    p.slab(122, -119, 74, 24, 10, "#bba56c")
    p.slab(*OUTLINE, ("#ead9a8", "#d8c38a"))
    p.ring(*OUTLINE, 3.5, "#c0a96d")
    p.ring(-246, -109, 492, 218, 80, 2.5, "#f5eaca", 0.8)
    p.slab(*BEZEL, "#b9a36a")
    for x, y in PADS + STICKS:
        p.dot(x, y, 40, "#d2bd85")
    for side in (-1, 1):
        for i in range(4):
            p.slab(side * 80 - 22 + i * 12, 93, 6, 9, 3, "#a8935c")
    p.slab(-22, 92, 44, 9, 4.5, "#9f8c5a")
    p.slab(-112, -72, 224, 142, 8, "#000", cut=True)


def dpad(p: Pen, cap: int) -> None:
    dark, light = (("#5d4d3f", "#75624f"), ("#d9694a", "#ea8463"))[cap]
    for w, h in ((62, 21), (21, 62)):
        p.slab(-w / 2, -h / 2 + 2, w, h, 6, dark)
    for w, h in ((62, 21), (21, 62)):
        p.slab(-w / 2, -h / 2, w, h - 2, 6, light)
    p.dot(0, -1, 7, dark, 0.7)


def buttons(p: Pen, cap: int) -> None:
    dark, light = (("#5d4d3f", "#75624f"), ("#d9694a", "#ea8463"))[cap]
    for x, y in ((0, -23), (23, 0), (0, 23), (-23, 0)):
        p.dot(x, y + 1.5, 12, dark)
        p.dot(x, y - 0.5, 11, light)
        p.line([(x - 5, y - 5), (x - 1, y - 7.5), (x + 4, y - 6)], 1.8, "#fff3e4", 0.45)


def stick(p: Pen, cap: int) -> None:
    p.slab(-31, -31, 62, 62, 9, ("#b9bcb8", "#989b98") if cap else "#3b342f")
    p.ring(-31, -31, 62, 62, 9, 2, "#7c807d" if cap else "#51473f")
    for x, y in ((-24, -24), (24, -24), (24, 24), (-24, 24)):
        p.dot(x, y, 3, "#6d716e" if cap else "#26211d")
    p.dot(0, 0, 25, "#23282a")
    p.dot(0, 0, 21, "#2f4a50" if cap else "#4a4039")


def stick_cap(p: Pen, cap: int) -> None:
    dark, light = (("#4a4039", "#6b5d51"), ("#c75a3c", "#e67a58"))[cap]
    p.dot(1, 3, 22, "#1c1a18", 0.35)
    p.dot(0, 0, 22, dark)
    p.dot(0, -1, 20, light)
    p.dot(0, 0, 14, dark, 0.75)
    p.dot(0, 1, 12.5, light)
    p.line([(-13, -10), (-5, -16), (7, -16)], 2.4, "#fff3e4", 0.4)


def old_back(p: Pen) -> None:
    p.slab(*OUTLINE, ("#e6d5a3", "#d2bc82"))
    p.ring(*OUTLINE, 3.5, "#bda66a")
    p.ring(-246, -109, 492, 218, 80, 2.5, "#f5eaca", 0.8)
    p.slab(-112, -62, 224, 124, 18, "#dcc88f")
    p.ring(-112, -62, 224, 124, 18, 2, "#c6b077")
    for i in range(9):
        p.slab(-76 + i * 18, -34, 8, 40, 4, "#a9945d")
    for x, y in HOLES:
        p.dot(x, y, 13, "#c4ad72")
        p.dot(x, y + 0.8, 10.5, "#8d7946")


def old_inside(p: Pen) -> None:
    p.slab(*OUTLINE, ("#dcc993", "#cbb57b"))
    p.ring(*OUTLINE, 3.5, "#b39c60")
    p.slab(-238, -101, 476, 202, 72, ("#a8945f", "#b9a56e"))
    p.slab(-102, -14, 204, 112, 8, "#978454")
    for x, y in HOLES:
        p.dot(x, y, 12, "#d6c28b")
        p.dot(x, y, 5, "#7b6a3f")


def residue(p: Pen) -> None:
    for i, x in enumerate((-84, -22, 40)):
        p.slab(x, 4 + i * 3, 44, 72, 8, "#cfd3cf", 0.55)
        p.line([(x + 8, 18), (x + 30, 40), (x + 14, 66)], 3, "#eef0ec", 0.5)


def board(p: Pen) -> None:
    for fill, grow in (("#123d3c", 0), (("#22605c", "#1b504d"), 2)):
        p.slab(-218 + grow, -92 + grow, 436 - 2 * grow, 80 - 2 * grow, 14, fill)
        p.slab(-218 + grow, -92 + grow, 112 - 2 * grow, 176 - 2 * grow, 20, fill)
        p.slab(106 + grow, -92 + grow, 112 - 2 * grow, 176 - 2 * grow, 20, fill)
    for i in range(6):
        y = -80 + i * 5
        p.line(
            [(-96, y), (-30 + i * 6, y), (-16 + i * 6, y + 14), (30, y + 14)],
            1.4,
            "#3b8a80",
            0.8,
            curve=False,
        )
        p.line([(-128 - i * 7, -30), (-128 - i * 7, 6), (-140 - i * 7, 22)], 1.4, "#3b8a80", 0.8, curve=False)
        p.line([(120 + i * 7, -22), (120 + i * 7, 6), (132 + i * 7, 20)], 1.4, "#3b8a80", 0.8, curve=False)
    for x, y, w, h in ((-96, -62, 46, 40), (-34, -74, 40, 26), (-176, -82, 52, 44), (62, -84, 30, 24)):
        for i in range(int((w - 4) // 6)):
            p.slab(x + 4 + i * 6, y - 3, 2.6, h + 6, 1, "#d4d2c6")
        p.slab(x, y, w, h, 3, ("#33383b", "#262a2d"))
        p.dot(x + 7, y + 7, 2, "#6a7275")
    for i in range(22):
        x, y = ((-200 + (i * 37) % 80, 28 + (i * 17) % 46), (118 + (i * 31) % 86, 24 + (i * 19) % 50))[i % 2]
        p.slab(x, y, 8, 4.4, 1, "#d9d5c8")
        p.slab(x + 2, y, 4, 4.4, 0, ("#8f6a42", "#3b3f42", "#b8874d")[i % 3])
    for i in range(7):
        p.slab(-42 + i * 10, -40, 6, 11, 1, "#caa052")
        p.slab(-42 + i * 10 + 1, -37, 4, 5, 0, "#8a6534")
    for x, y in ((-205, -76), (205, -76), (-205, 70), (205, 70)):
        p.dot(x, y, 7, "#d8b25a")
        p.dot(x, y, 3.6, "#123d3c")
    p.slab(50, -50, 40, 24, 3, "#efe8d6")  # the battery's socket
    p.slab(54, -46, 32, 14, 2, "#c9bfa6")
    for i in range(3):
        p.slab(59 + i * 9, -45, 4, 12, 1, "#d8b25a")
    p.slab(136, -62, 52, 20, 2, "#ece5d3")  # the shoulder ribbon's socket
    for i in range(10):
        p.slab(139 + i * 4.8, -45, 2, 6, 0, "#d8b25a")


def battery(p: Pen, new: int) -> None:
    p.slab(-95, -50, 190, 100, 9, ("#c9cac6", "#acaeaa") if not new else ("#dfe3e2", "#c4cac9"))
    p.ring(-95, -50, 190, 100, 9, 2, "#8d908c")
    p.slab(-95, -50, 190, 15, 6, "#e6b54c" if not new else "#3f9c98")
    p.slab(-78, -22, 110, 54, 5, "#3f4548" if not new else "#f3f4f1")
    ink = "#e2ded1" if not new else "#3b5558"
    p.poly([(-56, 20), (-38, -12), (-20, 20)], ink)
    p.poly([(-50, 16.5), (-38, -5), (-26, 16.5)], "#3f4548" if not new else "#f3f4f1")
    p.slab(-39.6, 2, 3.2, 8, 1, ink)
    p.dot(-38, 13, 1.8, ink)
    for i, w in enumerate((38, 28, 34)):
        p.slab(-12, -10 + i * 11, w, 4, 2, ink, 0.75)
    p.line([(46, -18), (52, 10), (48, 36)], 2.4, "#ffffff", 0.4)
    p.line([(66, 6), (74, 16), (70, 34)], 2, "#8d908c", 0.35)


def lead(p: Pen, freed: int) -> None:
    """The battery's lead and plug: 0 is seated, 12 is turned away from its socket."""
    f = freed / 12
    x, y, turn = 70 - 54 * f, -38 + 18 * f, -1.15 * f
    cos, sin = math.cos(turn), math.sin(turn)
    for i, colour in enumerate(("#2b2e30", "#e9e4d6", "#c5452f")):
        off = (i - 1) * 6
        start = (74 + off, 6)
        inner = (x + off * cos - 9 * sin, y + off * sin + 9 * cos)
        sag = (74 + off + 8 * f, -12 + 6 * f)
        p.line([start, sag, inner], 5.4, "#22211f", 0.35)
        p.line([start, sag, inner], 4.4, colour)
    for dx, dy, w, h, colour in (
        (-17, -11, 34, 20, "#d6cdb6"),
        (-17, -12, 34, 18, "#fbf6e8"),
        (-12, -9, 24, 4, "#d9cfb8"),
    ):
        corners = ((dx, dy), (dx + w, dy), (dx + w, dy + h), (dx, dy + h))
        p.poly([(x + u * cos - v * sin, y + u * sin + v * cos) for u, v in corners], colour)


def tape(p: Pen) -> None:
    p.slab(-26, -13, 52, 26, 3, "#e8a33c", 0.9)
    p.line([(-20, -8), (18, -9)], 2, "#fff0cc", 0.5, curve=False)


def ribbon(p: Pen, torn: int) -> None:
    p.poly([(-20, 0), (20, 0), (20, -34), (34, -58), (-2, -58), (-20, -30)], ("#d98a2e", "#e9a144"))
    for i in range(6):
        x = -14 + i * 5.6
        p.line([(x, -2), (x, -32), (x + 16, -56)], 1.6, "#b86f1f", 0.8, curve=False)
    p.slab(-20, -7, 40, 7, 0, "#3f7fa6")
    if torn:
        p.line([(20, -24), (12, -21), (7, -26), (1, -22)], 2.6, "#5a2a12", curve=False)
        p.line([(20, -21), (13, -18.5)], 1.8, "#ffe2ae", curve=False)


def latch(p: Pen, up: int) -> None:
    """The socket's flip latch, 0 shut to 6 upright: seen from above it grows narrow and shows its light edge."""
    h = 11 - up
    p.slab(-29, -h, 58, h, 2, ("#3a3632", "#262320"))
    p.slab(-29, -h, 58, 1.6 + up * 0.35, 1, "#8b8177")
    for side in (-29, 25):
        p.slab(side, -h - 1, 4, h + 3, 1.5, "#1d1b19")


def spark(p: Pen) -> None:
    for i in range(9):
        angle = i * 2 * math.pi / 9
        far = 30 if i % 2 else 21
        x, y = math.cos(angle), math.sin(angle)
        p.line([(x * 10, y * 10), (x * far, y * far)], 4, "#ffe9b8", end=1, curve=False)


def screen(p: Pen) -> None:
    p.slab(*BEZEL, ("#2a3033", "#1f2426"))
    p.ring(*BEZEL, 2, "#3e4649")
    p.slab(-112, -70, 224, 138, 6, ("#151b1d", "#101517"))
    p.poly([(-60, -70), (-10, -70), (-88, 68), (-112, 68), (-112, 22)], "#ffffff", 0.05)


def screw(p: Pen, turn: int) -> None:
    """A tri-wing head, three slots; `turn` counts steps of 10 degrees (it looks the same after twelve)."""
    p.dot(0, 0, 8.5, ("#d9d6cc", "#a7a49b"))
    p.dot(0, 0, 6.6, "#bfbcb2")
    for i in range(3):
        angle = math.radians(turn * 10 + i * 120 - 90)
        p.line([(0, 0), (5 * math.cos(angle), 5 * math.sin(angle))], 2.2, "#4b4944", curve=False)


def clear_tray(p: Pen) -> None:
    p.slab(*OUTLINE, ("#a4e6ea", "#6cc9d3"), 0.66)
    p.slab(-238, -101, 476, 202, 72, ("#4fb2c2", "#3f9fb0"), 0.26)
    p.line([(-228, -24), (-208, -68), (-160, -92), (-80, -96)], 5, "#ffffff", 0.38)
    p.ring(*OUTLINE, 4, "#2f93a3", 0.9)
    p.ring(-245, -108, 490, 216, 79, 2.4, "#e2fbf6", 0.75)
    for x, y in HOLES:
        p.dot(x, y, 11, "#d5f3ee", 0.7)
        p.dot(x, y, 4.6, "#3c807e", 0.8)
    for x in (-118, 118):
        p.line([(x, -92), (x, 92)], 2, "#d5f3ee", 0.5, curve=False)


def clear_front(p: Pen) -> None:
    p.slab(*OUTLINE, ("#aeecf0", "#70ccd6"), 0.42)
    p.ring(*OUTLINE, 4.5, "#3aa3b3", 0.85)
    p.ring(-245, -108, 490, 216, 79, 2.6, "#effffb", 0.85)
    p.line([(-232, -30), (-214, -74), (-166, -98), (-90, -102)], 6, "#ffffff", 0.42)
    p.line([(228, 44), (204, 82), (150, 101)], 4, "#ffffff", 0.28)
    p.poly([(132, -106), (164, -104), (118, 106), (84, 106)], "#ffffff", 0.10)
    p.ring(BEZEL[0] - 4, BEZEL[1] - 4, BEZEL[2] + 8, BEZEL[3] + 8, 17, 4, "#e6fbf7", 0.75)
    p.slab(-112, -72, 224, 142, 8, "#000", cut=True)
    for x, y in STICKS:
        p.dot(x, y, 29, "#effffb", 0.75)
        p.dot(x, y, 26.5, "#000", cut=True)
    for x, y in PADS:
        p.dot(x, y, 39, "#effffb", 0.45)
        p.dot(x, y, 37, "#000", cut=True)


def clear_back(p: Pen) -> None:
    """The closed clear device from behind: the board, the cell and the sticks show through."""
    p.slab(*OUTLINE, "#5797a0", 0.92)
    board(p)
    for x, y in STICKS:
        p.slab(x - 29, y - 29, 58, 58, 8, "#8f9391")
        p.ring(x - 29, y - 29, 58, 58, 8, 3, "#6e7270")
    p.slab(-95, -6, 190, 96, 9, ("#dfe3e2", "#c4cac9"))
    p.slab(-95, -6, 190, 15, 6, "#3f9c98")
    p.slab(*OUTLINE, ("#aeecf0", "#78d0da"), 0.38)
    p.ring(*OUTLINE, 4.5, "#3aa3b3", 0.9)
    p.ring(-245, -108, 490, 216, 79, 2.6, "#effffb", 0.85)
    p.line([(-232, -30), (-214, -74), (-166, -98), (-90, -102)], 6, "#ffffff", 0.45)
    for i in range(9):
        p.slab(-76 + i * 18, 16, 8, 40, 4, "#d7f4ef", 0.5)
    for x, y in HOLES:
        p.dot(x, y, 13, "#dff7f2", 0.7)
        p.dot(x, y, 10, "#3c807e", 0.85)


def glint(p: Pen) -> None:
    p.poly([(-150, -112), (-60, -112), (-150, 112), (-216, 92)], "#ffffff", 0.30)
    p.poly([(40, -112), (70, -112), (-30, 112), (-60, 112)], "#ffffff", 0.24)


def bead(p: Pen, done: int) -> None:
    """Fresh adhesive along the screen's edge, drawn in 60 steps from the upper left corner clockwise."""
    x, y, w, h = BEZEL[0] + 4, BEZEL[1] + 4, BEZEL[2] - 8, BEZEL[3] - 8
    path = dense([(x, y), (x + w, y), (x + w, y + h), (x, y + h), (x, y)])
    path = path[: max(2, len(path) * done // 60)]
    p.line(path, 5, "#f4f1e4", 0.95, curve=False)
    p.line([(u - 0.8, v - 0.8) for u, v in path], 1.6, "#ffffff", curve=False)


def bead_point(done: float) -> Point:
    """Where the nozzle is when the bead has come so far (0 to 60)."""
    x, y, w, h = BEZEL[0] + 4, BEZEL[1] + 4, BEZEL[2] - 8, BEZEL[3] - 8
    far = done / 60 * 2 * (w + h)
    for length, start, step in (
        (w, (x, y), (1, 0)),
        (h, (x + w, y), (0, 1)),
        (w, (x + w, y + h), (-1, 0)),
        (h, (x, y + h), (0, -1)),
    ):
        if far <= length:
            return start[0] + step[0] * far, start[1] + step[1] * far
        far -= length
    return x, y
