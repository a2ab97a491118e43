"""The story on one clock, and where everything is at a moment. In: a second. Out: the layers a camera sees."""

from __future__ import annotations

import math
from bisect import bisect_right
from collections.abc import Callable
from dataclasses import dataclass, replace
from functools import partial
from itertools import pairwise

from drawn_bench.camera import Layer, Matrix, multiply
from drawn_bench.cues import Cue, Mark, Noise, Value
from drawn_bench.pen import Point
from drawn_bench.props import PROPS
from drawn_bench.sprites import NUMBERED
from drawn_bench.story import STEPS


def spin(p: float) -> float:
    """Even, but for a soft tenth at either end."""
    if p < 0.1:
        return p * p / 0.2 / 0.9
    return 1 - spin(1 - p) if p > 0.9 else (p - 0.05) / 0.9


EASES: dict[str, Callable[[float], float]] = {
    "hand": lambda p: p**3 * (10 - 15 * p + 6 * p * p),  # the smoothest reach there is: minimum jerk
    "away": lambda p: p * p * (3 - 2 * p),
    "even": lambda p: p,
    "creep": lambda p: 1 - (1 - p) ** 1.6,
    "spin": spin,
}


HANDS = ("left", "right")
BELOW = 790  # a hand whose tip is lower than this is out of the top camera's picture


@dataclass(frozen=True)
class Leg:
    """One stretch of one property: from `begin`, over `took` seconds, from `before` to `after`."""

    begin: float
    took: float
    before: Value
    after: Value
    ease: str


@dataclass(frozen=True)
class Story:
    """The table laid out on one clock, in seconds from the top camera's first frame."""

    tracks: dict[tuple[str, str], tuple[Leg, ...]]
    noises: tuple[Noise, ...]
    marks: tuple[tuple[str, Mark], ...]
    begins: dict[str, float]
    length: float

    def value(self, prop: str, key: str, at: float) -> Value:
        return value(self.tracks[prop, key], at)

    def number(self, prop: str, key: str, at: float) -> float:
        return float(value(self.tracks[prop, key], at))


def value(track: tuple[Leg, ...], at: float) -> Value:
    """Where a property is at a moment, on the last leg that has begun."""
    leg = track[max(0, bisect_right(track, at, key=lambda leg: leg.begin) - 1)]
    if at >= leg.begin + leg.took or isinstance(leg.after, str) or isinstance(leg.before, str):
        return leg.after
    return leg.before + (leg.after - leg.before) * EASES[leg.ease]((at - leg.begin) / leg.took)


def lay_out() -> Story:
    """The whole table on one clock. Two marks at one moment would be read in either order, so they are refused."""
    cues: list[Cue] = []
    noises: list[Noise] = []
    marks: list[tuple[str, Mark]] = []
    begins: dict[str, float] = {}
    clock = 0.0
    for step, length, table in STEPS:
        begins[step] = clock
        for row in table:
            moved = replace(row, at=round(clock + row.at, 3))
            if isinstance(moved, Cue):
                cues.append(moved)
            elif isinstance(moved, Noise):
                noises.append(moved)
            else:
                marks.append((step, moved))
        clock = round(clock + length, 3)
    tracks: dict[tuple[str, str], tuple[Leg, ...]] = {
        (prop.name, key): (Leg(-1, 0, first, first, "even"),)
        for prop in PROPS
        for key, first in prop.first().items()
    }
    for cue in sorted(cues, key=lambda cue: cue.at):
        track = tracks[cue.prop, cue.key]
        leg = Leg(cue.at, cue.took, value(track, cue.at), cue.value, cue.ease)
        if (
            cue.prop in HANDS
            and cue.key == "y"
            and cue.took == 0
            and float(value(track, cue.at - 0.04)) < BELOW
        ):
            raise ValueError(f"the {cue.prop} hand jumps at {cue.at} s: it has not left the picture yet")
        tracks[cue.prop, cue.key] = (*track, leg)
    noises.sort(key=lambda noise: noise.at)
    marks.sort(key=lambda pair: pair[1].at)
    for (_, one), (_, other) in pairwise(marks):
        if one.at >= other.at:
            raise ValueError(f"two marks at once: {one} {other}")
    return Story(tracks, tuple(noises), tuple(marks), begins, clock)


def layers(story: Story, at: float) -> tuple[Layer, ...]:
    """The bench at a moment, from the lowest thing to the highest, each above its shadow."""
    homes = {prop.name: (prop.x, prop.y) for prop in PROPS}
    found: list[Layer] = []
    for prop in PROPS:
        sprite, node = str(story.value(prop.name, "sprite", at)), str(story.value(prop.name, "on", at))
        get = partial(story.number, prop.name, at=at)
        alpha, lift = get("alpha"), get("lift")
        if not sprite or alpha <= 0:
            continue
        sway = get("wiggle") * math.sin(2 * math.pi * 3.2 * at)
        spread = 1 + 0.05 * lift  # nearer to the lens, so a little larger
        place = stand(get("x"), get("y"), get("rot") + sway, get("sx") * spread, get("sy") * spread)
        if node:
            face, rise = story.number(node, "face", at), story.number(node, "lift", at)
            if prop.face and prop.face != ("rear" if 0.5 <= face % 2 < 1.5 else "front"):
                continue
            place = multiply(ride(story, node, homes[node], at), place)
            lift += rise if prop.base else 0
        state = int(get("state")) if sprite in NUMBERED else None
        if state is not None and sprite in ("hand_driver", "screw"):
            state %= 12  # both look the same again after twelve
        if prop.shadow:
            found += shadows(sprite, state, place, alpha, lift)
        found.append(Layer(sprite, state, tidy(place), round(alpha, 3)))
    return tuple(found)


def ride(story: Story, node: str, home: Point, at: float) -> Matrix:
    """What a thing does to all that moves with it, from where it first lay; turning over squashes it."""
    get = partial(story.number, node, at=at)
    near = 1 + 0.05 * get("lift")
    squash = near * max(0.02, abs(math.cos(math.pi * get("face"))))
    return multiply(stand(get("x"), get("y"), get("rot"), near, squash), (1, 0, -home[0], 0, 1, -home[1]))


def shadows(sprite: str, state: int | None, place: Matrix, alpha: float, lift: float) -> list[Layer]:
    """A close shadow that fades and a wide one that comes and moves away as the thing rises (lift 0 to 1)."""
    close = (4.0, 0.36 * max(0.0, 1 - lift), (3.0, 5.0))
    wide = (13.0, 0.40 * min(1.0, lift * 1.5), (4 + 14 * lift, 6 + 22 * lift))
    return [
        Layer(sprite, state, tidy(multiply((1, 0, dx, 0, 1, dy), place)), round(solid * alpha, 3), blur)
        for blur, solid, (dx, dy) in (close, wide)
        if solid > 0.01
    ]


def stand(x: float, y: float, degrees: float, sx: float, sy: float) -> Matrix:
    cos, sin = math.cos(math.radians(degrees)), math.sin(math.radians(degrees))
    return cos * sx, -sin * sy, x, sin * sx, cos * sy, y


def tidy(m: Matrix) -> Matrix:
    """Rounded far below what can be seen, so that a thing at rest stays the same layer."""
    a, b, c, d, e, f = m
    return round(a, 5), round(b, 5), round(c, 2), round(d, 5), round(e, 5), round(f, 2)
