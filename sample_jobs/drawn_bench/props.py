"""The things on the bench, lowest first, and where each first lies."""

from __future__ import annotations

from dataclasses import dataclass

from drawn_bench.pen import Point
from drawn_bench.things import HOLES, PADS, STICKS

DEVICE = (470, 340)
ASIDE = (452, 22)  # where the emptied old shell waits
READ_ASIDE = (452, -14)  # where the whole handheld waits, clear of the shell that turns on the turntable


@dataclass(frozen=True)
class Prop:
    """A thing on the bench where it first lies. `on` names the thing it moves with; `face` the side it sits on."""

    name: str
    sprite: str
    x: float = DEVICE[0]
    y: float = DEVICE[1]
    on: str = ""
    face: str = ""
    state: float = 0
    shown: bool = True
    shadow: bool = True
    base: bool = False  # rises with the thing it is on, so that its shadow grows

    def first(self) -> dict[str, float | str]:
        still = {"rot": 0.0, "sx": 1.0, "sy": 1.0, "lift": 0.0, "wiggle": 0.0}
        return {
            **still,
            **{"x": self.x, "y": self.y, "state": self.state, "on": self.on, "sprite": self.sprite},
            **{"alpha": 1.0 if self.shown else 0.0, "face": 0.0},
        }


def at_device(place: Point) -> Point:
    return DEVICE[0] + place[0], DEVICE[1] + place[1]


def slot(i: int) -> Point:
    """The middle of the parts mat's field i, counted in the order things come off."""
    return 987 + (i % 4) * 70, 95 + (i // 4) * 70


SCREEN_FIELD = (1092, 369)
PROPS = (
    Prop("parts_mat", "parts_mat", 1092, 262),
    Prop("tin", "tin", 1092, 588),
    Prop("brush", "brush", 858, 150),
    Prop("heat_mat", "heat_mat", -420, 340),
    Prop("timer", "timer", -794, 500),
    Prop("heat_glow", "heat_glow", shown=False, shadow=False),
    Prop("old", ""),
    Prop("old_inside", "old_inside", on="old", base=True),
    Prop("board", "board", on="old"),
    Prop("residue", "residue", on="old", shadow=False),
    Prop("lead", "lead", on="old"),
    Prop("tape", "tape", 490, 318, shown=False, shadow=False, on="old"),
    Prop("ribbon", "ribbon", *at_device((162, -58)), on="old", face="rear"),
    Prop("latch", "latch", *at_device((162, -42)), on="old", face="rear"),
    Prop("old_screen", "screen", on="old", face="front", shadow=False),
    Prop("old_front", "old_front", on="old", face="front", shadow=False),
    Prop("old_dpad", "dpad", *at_device(PADS[0]), on="old", face="front"),
    Prop("old_buttons", "buttons", *at_device(PADS[1]), on="old", face="front"),
    Prop("old_stick_l", "stick_cap", *at_device(STICKS[0]), on="old", face="front"),
    Prop("old_stick_r", "stick_cap", *at_device(STICKS[1]), on="old", face="front"),
    Prop("old_battery", "battery", *at_device((0, 44)), on="old", face="rear"),
    Prop("back", "old_back", on="old", face="rear", base=True),
    Prop("table", "", 470, 360),
    Prop("turntable", "turntable", 470, 360, on="table"),
    Prop("table_tray", "clear_tray", 470, 360, on="table"),
    Prop("table_front", "clear_front", 470, 360, on="table", shadow=False),
    Prop("table_glint", "glint", 470, 360, on="table", shadow=False),
    Prop("new", ""),
    Prop("tray", "clear_tray", on="new", shown=False, base=True),
    Prop("new_battery", "battery", *at_device((0, 44)), on="new", shown=False, state=1),
    Prop("new_board", "board", on="new", shown=False),
    *(
        Prop(f"{part}_{side}", sprite, *at_device(place), on="new", shown=False, face="front", state=1)
        for side, place in zip("lr", STICKS, strict=True)
        for part, sprite in (("stick", "stick"), ("cap", "stick_cap"))
    ),
    Prop("new_dpad", "dpad", *at_device(PADS[0]), on="new", shown=False, face="front", state=1),
    Prop("new_buttons", "buttons", *at_device(PADS[1]), on="new", shown=False, face="front", state=1),
    Prop("screen", "screen", face="front", shown=False),
    Prop("bead", "bead", on="new", shown=False, shadow=False),
    Prop("clear_front", "clear_front", on="new", shown=False, face="front"),
    Prop("clear_back", "clear_back", on="new", shown=False, face="rear", base=True),
    Prop("ui", "ui_home", shadow=False),
    Prop("trail", "trail", shadow=False),
    Prop("cursor", "cursor", shadow=False),
    *(Prop(f"bar{i}", "bar", 376, 351.5 + 18 * i, shown=False, shadow=False) for i in range(3)),
    Prop("figures", "figures", shown=False, shadow=False),
    *(
        Prop(f"screw{i}", "screw", *at_device(hole), on="old", face="rear", state=i * 5)
        for i, hole in enumerate(HOLES)
    ),
    Prop("mug", "mug", 40, 650),
    Prop("spark", "spark", *at_device((166, -78)), shown=False, shadow=False),
    Prop("left", "flat", 20, 900),
    Prop("right", "pinch", 900, 900),
)
