"""The catalogue: every sprite by name, the box it needs and its painter; and its pixels at a camera's scale."""

from __future__ import annotations

import inspect
import math
from collections.abc import Callable
from functools import lru_cache

from PIL import Image, ImageFilter

from drawn_bench import hands, pages, things
from drawn_bench.pen import OVERSIZE, Box, Pen

Painter = Callable[..., None]

# name: (box in bench units, painter). A painter that takes a number has one sprite for each of its states.
SPRITES: dict[str, tuple[Box, Painter]] = {
    "parts_mat": ((-154, -214, 154, 214), things.parts_mat),
    "tin": ((-137, -98, 137, 98), things.tin),
    "mug": ((-78, -78, 116, 78), things.mug),
    "brush": ((-22, -112, 22, 126), things.brush),
    "turntable": ((-188, -188, 188, 188), things.turntable),
    "heat_mat": ((-386, -156, 304, 166), things.heat_mat),
    "heat_glow": ((-340, -192, 340, 192), things.heat_glow),
    "timer": ((-60, -60, 60, 60), things.timer),
    "residue": ((-96, -4, 96, 92), things.residue),
    "battery": ((-97, -52, 97, 52), things.battery),
    "lead": ((-20, -60, 110, 20), things.lead),
    "tape": ((-28, -15, 28, 15), things.tape),
    "ribbon": ((-24, -62, 38, 2), things.ribbon),
    "latch": ((-31, -14, 31, 4), things.latch),
    "spark": ((-36, -36, 36, 36), things.spark),
    "screw": ((-10, -10, 10, 10), things.screw),
    "bead": ((-130, -90, 130, 90), things.bead),
    "cursor": ((-8, -8, 8, 8), pages.cursor),
    "trail": ((-102, -4, 2, 4), pages.trail),
    "bar": ((-1, -7, 190, 7), pages.bar),
    "dpad": ((-34, -34, 34, 34), things.dpad),
    "buttons": ((-38, -38, 38, 38), things.buttons),
    "stick": ((-33, -33, 33, 33), things.stick),
    "stick_cap": ((-26, -26, 26, 28), things.stick_cap),
    **{
        painter.__name__: ((-254, -122, 254, 118), painter)
        for painter in (
            things.old_front,
            things.old_back,
            things.old_inside,
            things.board,
            things.clear_tray,
            things.clear_front,
            things.clear_back,
            things.glint,
        )
    },
    "screen": ((-128, -88, 128, 86), things.screen),
    **{
        painter.__name__: ((-112, -70, 112, 70), painter)
        for painter in (
            pages.ui_home,
            pages.ui_wifi,
            pages.ui_bars,
            pages.ui_touch,
            pages.ui_charge,
            pages.figures,
        )
    },
    **{
        painter.__name__: ((-112, -90, 520, 900), painter)
        for painter in (
            hands.pinch,
            hands.flat,
            hands.hand_driver,
            hands.hand_pry,
            hands.hand_tweezers,
            hands.hand_syringe,
        )
    },
}


# the sprites whose painter takes a number as well as a pen
NUMBERED = frozenset(
    name for name, (_, painter) in SPRITES.items() if "int" in inspect.get_annotations(painter).values()
)


@lru_cache(maxsize=400)
def picture(
    sprite: str, state: int | None, shadow: float | None, scale: float
) -> tuple[Image.Image, float, float]:
    """The sprite's pixels at a camera's scale, and the units of its upper left corner."""
    box, painter = SPRITES[sprite]
    if shadow is not None:
        solid, x, y = picture(sprite, state, None, scale)
        pad = math.ceil(shadow * scale * 2.5)
        alpha = Image.new("L", (solid.width + 2 * pad, solid.height + 2 * pad))
        alpha.paste(solid.getchannel("A").point(lambda v: min(255, v * 2)), (pad, pad))
        dark = Image.new("RGBA", alpha.size, "#2b1a0e")
        dark.putalpha(alpha.filter(ImageFilter.GaussianBlur(shadow * scale)))
        return dark, x - pad / scale, y - pad / scale
    pen = Pen(box, scale)
    painter(pen, *(() if state is None else (state,)))
    whole = pen.image.reduce(OVERSIZE)
    used = whole.getbbox() or (0, 0, 1, 1)
    return whole.crop(used), box[0] + used[0] / scale, box[1] + used[1] / scale
