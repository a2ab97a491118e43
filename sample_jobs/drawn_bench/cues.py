"""The words in which the story is told: cues, noises and marks, and the moves of a bench made of them."""

from __future__ import annotations

from dataclasses import dataclass

from drawn_bench.pages import touch_field
from drawn_bench.pen import Point
from drawn_bench.props import DEVICE, at_device, slot
from drawn_bench.things import HOLES, STICKS, bead_point

Value = float | str


@dataclass(frozen=True)
class Cue:
    """From `at`, over `took` seconds, one property of a prop goes to `value`."""

    at: float
    took: float
    prop: str
    key: str
    value: Value
    ease: str = "hand"


@dataclass(frozen=True)
class Noise:
    at: float
    kind: str
    took: float = 0.1


@dataclass(frozen=True)
class Mark:
    """A line of the bench log. `in_clip` logs it as a place in the top camera's clip instead of the wall clock."""

    at: float
    kind: str
    text: str = ""
    in_clip: bool = False


Row = Cue | Noise | Mark
Rows = list[Row]


def go(at: float, took: float, prop: str, ease: str = "hand", **values: Value) -> Rows:
    return [Cue(at, took, prop, key, value, ease) for key, value in values.items()]


def put(at: float, prop: str, **values: Value) -> Rows:
    return [Cue(at, 0, prop, key, value) for key, value in values.items()]


def hear(at: float, kind: str, took: float = 0.1) -> Rows:
    return [Noise(at, kind, took)]


def mark(at: float, kind: str, text: str = "", in_clip: bool = False) -> Rows:
    return [Mark(at, kind, text, in_clip)]


def come(at: float, took: float, x: float, y: float, hold: str = "pinch", hand: str = "right") -> Rows:
    """A hand comes into the picture from below, holding something, its working tip going to x, y."""
    side = 1 if hand == "right" else -1
    outside = put(at, hand, x=x + side * 190, y=850, sprite=hold, rot=side * 7, wiggle=0, sx=side)
    return outside + go(at, took, hand, x=x, y=y, rot=0)


def leave(at: float, took: float, hand: str = "right") -> Rows:
    side = 1 if hand == "right" else -1
    return go(at, took, hand, ease="away", x=560 + side * 420, y=880, rot=side * 8)


def carry(
    at: float, took: float, prop: str, x: float, y: float, grip: Point = (0, 0), rot: float | None = None
) -> Rows:
    """The right hand carries a thing: up, across, down. `grip` is where it holds it, from the thing's middle."""
    up, down = 0.28 * took, 0.36 * took
    return [
        *put(at, prop, on=""),
        *go(at, took, prop, x=x, y=y),
        *([] if rot is None else go(at, took, prop, rot=rot)),
        *go(at, took, "right", x=x + grip[0], y=y + grip[1]),
        *go(at, up, prop, lift=1.0),
        *go(at + took - down, down, prop, lift=0.0),
    ]


def bring(at: float, took: float, prop: str, x: float, y: float, grip: Point = (0, 0)) -> Rows:
    """The right hand brings a thing into the picture from below and lays it down."""
    return [
        *put(at, prop, alpha=1, x=x + 190 - grip[0], y=850 - grip[1], lift=1.0),
        *put(at, "right", x=x + 190, y=850, sprite="pinch", rot=0),
        *go(at, took, prop, x=x, y=y),
        *go(at, took, "right", x=x + grip[0], y=y + grip[1]),
        *go(at + 0.62 * took, 0.38 * took, prop, lift=0.0),
    ]


def hold(at: float, place: Point) -> Rows:
    """Two hands come and take by its ends a handheld whose middle is at `place`."""
    left, right, y = ends(place)
    return come(at, 0.7, right, y) + come(at, 0.7, left, y, "pinch", "left")


def let_go(at: float) -> Rows:
    return leave(at, 0.8) + leave(at + 0.05, 0.8, "left")


def slide(at: float, node: str, place: Point) -> Rows:
    """The hands that hold it slide it over the bench until its middle is at `place`."""
    left, right, y = ends(place)
    return [
        *go(at, 1.3, node, x=place[0], y=place[1]),
        *go(at, 1.3, "left", x=left, y=y),
        *go(at, 1.3, "right", x=right, y=y),
        *hear(at, "slide", 1.2),
    ]


def ends(place: Point) -> tuple[float, float, float]:
    """Where the two hands grip a handheld: the left one's x, the right one's x, and the y of both."""
    return place[0] - 238, place[0] + 238, place[1] + 12


def flip(at: float, node: str, face: float, held: bool = False, stay: bool = False) -> Rows:
    """Two hands take the device by its ends, unless they hold it, and turn it over about its long axis."""
    return [
        *([] if held else hold(at, DEVICE)),
        *go(at + 0.75, 0.3, node, lift=0.8),
        *go(at + 0.8, 0.9, node, face=face),
        *go(at + 1.35, 0.35, node, lift=0.0),
        *hear(at + 0.8, "slide", 0.7),
        *hear(at + 1.66, "thud"),
        *([] if stay else let_go(at + 1.8)),
    ]


def unscrew(at: float, i: int) -> Rows:
    x, y = at_device(HOLES[i])
    there = slot(i)
    return [
        *go(at, 0.5, "right", x=x, y=y),
        *go(at + 0.5, 0.12, "right", wiggle=2.0),
        *go(at + 0.5, 0.95, "right", ease="even", state=48),
        *put(at + 1.45, "right", state=0),
        *go(at + 0.5, 0.95, f"screw{i}", ease="even", state=i * 5 - 40, lift=0.25),
        *go(at + 1.35, 0.12, "right", wiggle=0),
        *hear(at + 0.52, "ratchet", 0.9),
        *carry(at + 1.5, 0.62, f"screw{i}", *there),
        *hear(at + 2.1, "tick"),
    ]


def screw_in(at: float, i: int) -> Rows:
    x, y = at_device(HOLES[i])
    return [
        *go(at, 0.3, "right", x=slot(i)[0], y=slot(i)[1]),
        *carry(at + 0.32, 0.42, f"screw{i}", x, y),
        *hear(at + 0.74, "ratchet", 0.4),
        *go(at + 0.74, 0.08, "right", wiggle=2.0),
        *go(at + 0.74, 0.42, f"screw{i}", ease="even", state=i * 5),
        *go(at + 1.1, 0.08, "right", wiggle=0),
        *put(at + 1.18, f"screw{i}", on="new"),
    ]


def press(at: float, x: float, y: float, hand: str = "right") -> Rows:
    """The finger goes down on something that is right below it, and up again."""
    return [*go(at, 0.14, hand, y=y + 5, x=x), *hear(at + 0.13, "tap"), *go(at + 0.22, 0.2, hand, y=y - 2)]


def drift(at: float, took: float, far: float = 88) -> Rows:
    x = DEVICE[0] - far
    return [*go(at, took, "cursor", ease="creep", x=x), *go(at, took, "trail", ease="creep", sx=far / 100)]


def measure(at: float, took: float, i: int, reading: int) -> Rows:
    """One repeat of the wireless measurement: a bar wanders up to its reading (full scale 50 Mbit/s)."""
    legs = ((0.0, 0.4, reading - 5), (0.4, 0.2, reading + 2), (0.6, 0.2, reading - 1), (0.8, 0.2, reading))
    moves = [
        go(at + late * took, share * took, f"bar{i}", sx=to / 50)
        + go(at + late * took, share * took, "figures", state=to)
        for late, share, to in legs
    ]
    return rows(
        put(at, f"bar{i}", alpha=1, sx=0.02), put(at, "figures", alpha=1), *moves, hear(at + took, "beep")
    )


def show(at: float, page: str, *also: str) -> Rows:
    """The screen changes to a page, with these things drawn over it; an empty page is a dark screen."""
    over = ("cursor", "trail", "bar0", "bar1", "bar2", "figures")
    rows = put(at, "ui", alpha=1, sprite=page, state=0) if page else put(at, "ui", alpha=0)
    return rows + [row for name in over for row in put(at, name, alpha=1 if name in also else 0)]


def appear(at: float, *props: str) -> Rows:
    return [row for prop in props for row in put(at, prop, alpha=1)]


def vanish(at: float, *props: str) -> Rows:
    return [row for prop in props for row in put(at, prop, alpha=0)]


def rows(*parts: Rows) -> Rows:
    return [row for part in parts for row in part]


def follow(at: float, each: float, places: list[Point]) -> Rows:
    """The right hand's tip goes evenly from place to place on the device, `each` seconds between two."""
    stops = [at_device(place) for place in places]
    return rows(*(go(at + each * i, each, "right", ease="even", x=x, y=y) for i, (x, y) in enumerate(stops)))


def touch_test(at: float) -> Rows:
    """A finger wipes over the screen's 24 fields, and each answers."""
    answers = (put(at + 0.12 + 0.17 * i, "ui", state=i + 1) for i in range(24))
    taps = (hear(at + 0.12 + 1.02 * row, "tap") for row in range(4))
    return rows(follow(at, 0.17, [touch_field(i) for i in range(24)]), *answers, *taps)


def lay_bead(at: float, took: float) -> Rows:
    """The nozzle goes once round the screen and leaves its bead behind it."""
    return rows(
        put(at, "bead", alpha=1),
        go(at, took, "bead", ease="even", state=60),
        follow(at, took / 30, [bead_point(2 * i + 2) for i in range(30)]),
    )


def seat_stick(at: float) -> Rows:
    """The right stick comes in, sinks into its place with a snap, and is tried in all directions."""
    x, y = at_device(STICKS[1])
    parts = ("stick_r", "cap_r")
    circle = ((7, 0), (0, 7), (-7, 0), (0, -7), (7, 0), (0, 0))
    tries = [
        (go(at + 3 + 0.35 * i, 0.35, "cap_r", ease="even", x=x + dx, y=y + dy))
        + go(at + 3 + 0.35 * i, 0.35, "right", ease="even", x=x + 6 + dx, y=y + 14 + dy)
        for i, (dx, dy) in enumerate(circle)
    ]
    return rows(
        *(bring(at, 1.9, part, x + 3, y - 9, grip=(6, 14)) for part in parts),
        *(go(at + 2.1, 0.5, part, x=x, y=y) for part in parts),
        go(at + 2.1, 0.5, "right", x=x + 6, y=y + 14),
        hear(at + 2.55, "snap"),
        *tries,
    )
