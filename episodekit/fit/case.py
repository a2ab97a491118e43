"""What a step can show, and what each frame of it is worth: the offers that the optimum buys from.

The prices are points a frame, compared across the whole episode; below zero it is wanted. They are common
practice put into numbers: a viewer would rather see work than a cutaway, rather a cutaway than waiting or a
frozen picture, rather a frozen picture than a slate, and rather anything than a step that goes on without words.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from fractions import Fraction
from math import ceil, floor

from episodekit.base.time import Frames, Ms, Rate, Seconds, ms_to_frames, nearest, seconds_to_frames
from episodekit.bench.model import Span, SpanKind
from episodekit.fit.optimum import Demand, Offer
from episodekit.fit.runs import ACTION, Item, keeps_of, least_frames, runs_of
from episodekit.footage.cover import Piece
from episodekit.job.model import Limits, Step, WorkKind
from episodekit.job.units import Speeds
from episodekit.shots.model import Shot, ShotKind

GLIMPSE_MS = Ms(1500)
GLIMPSE = -200
LEGIBLE = {WorkKind.HANDWORK: -60, WorkKind.REPETITION: -30, WorkKind.CURING: -8}
READABLE = {WorkKind.HANDWORK: -20, WorkKind.REPETITION: -10, WorkKind.CURING: -4}
NORMAL = 1
B_ROLL = 3
WAIT_FAST, WAIT_SLOW = 6, 9
HOLD, SLATE = 25, 100
SILENCE = (70, 90)


WORK_OFFERS, WAIT_OFFERS, B_ROLL_OFFER = slice(0, 4), slice(4, 6), 6
"""Where these stand among a demand's offers."""


@dataclass(frozen=True)
class Filmed:
    """A span of a step with the footage that shows it. `shot` is the must-show or b-roll it answers, if any."""

    span: Span
    pieces: tuple[Piece, ...]
    shot: int | None = None


@dataclass(frozen=True)
class Near:
    """How near a must-show came to being filmed, in seconds: the longest `keep` that its camera covers and no
    other must-show has, and how long its camera ran while the step was worked on.
    """

    kept: Fraction = Fraction(0)
    ran: Fraction = Fraction(0)


@dataclass(frozen=True)
class Case:
    """A step before the fit: its footage in bench order, its b-roll, what is not filmed of its must-shows
    (`missing`, and how `near` each came) and of its b-roll (`wanted`), and its demand.

    `demand.offers` are, in this order: glimpse, legible, readable and normal-speed work, waits fast and
    slow, b-roll, holds, slates. Without footage the work is estimated from the bench time, and slates stand
    for it. `brief` says that there is footage, but none long enough to be seen unless it is held.
    """

    step: Step
    shots: tuple[Shot, ...]
    planned: Frames
    items: tuple[Item, ...]
    b_roll: tuple[Item, ...]
    missing: tuple[Shot, ...]
    wanted: tuple[Shot, ...]
    slates: Mapping[int, Frames]
    speeds: Speeds
    demand: Demand
    brief: bool
    near: Mapping[int, Near]


def case_of(
    step: Step,
    shots: Sequence[Shot],
    planned: Frames,
    filmed: Sequence[Filmed],
    rate: Rate,
    limits: Limits,
    near: Mapping[int, Near] | None = None,
) -> Case:
    """What a step brings to the fit. `planned` is its length from words and must-shows."""
    items = _seen(_items(filmed), rate)
    b_roll = _b_roll(filmed, shots, rate)
    seen = {item.shot for item in (*items, *b_roll)}
    missing = [s for s in shots if s.kind is ShotKind.MUST_SHOW and s.index not in seen] if items else []
    wanted = [s for s in shots if s.kind is ShotKind.B_ROLL and s.index not in seen]
    slates = {shot.index: asked_frames(shot, rate) for shot in missing}
    kept = sum(normal_frames(run.length, rate) for run in keeps_of(items))
    work = _seconds(items, SpanKind.WORK)
    wait = _seconds(items, SpanKind.WAIT)
    if not items and step.bench is not None and step.read is None:
        work = Fraction(step.bench, 1000)
    speeds = {
        WorkKind.HANDWORK: limits.handwork,
        WorkKind.REPETITION: limits.repetition,
        WorkKind.CURING: limits.curing,
    }[step.work]
    fixed = kept + sum(slates.values())
    at_normal = nearest(work * rate.exact)
    cutaways = sum(floor(item.piece.length * rate.exact) for item in b_roll)
    if not items:  # what is not filmed yet is planned with, as the work is
        cutaways += sum(asked_frames(shot, rate) for shot in wanted)
    # B-roll lies over words that have no other picture; it is never bought as time without words.
    bare = planned - fixed - at_normal if items or work else 0
    brief = len(items) == 1 and items[0].kind is not SpanKind.KEEP and _is_brief(items[0], rate)
    if brief:
        bare -= least_frames(rate)  # it is held for so long before anything is laid
    if bare < least_frames(rate):
        bare = 0
    shown = (
        *_work_offers(at_normal, speeds, step.work, ms_to_frames(GLIMPSE_MS, rate)),
        *_wait_offers(nearest(wait * rate.exact), limits.curing),
        Offer(min(cutaways, bare), B_ROLL),
        Offer(ms_to_frames(limits.longest_hold, rate) if items else 0, HOLD),
    )
    # A slate stands for words that have no picture; it is never bought as time without words.
    wordy = max(0, planned - fixed - sum(offer.frames for offer in shown)) if items else planned
    demand = Demand(
        fixed=fixed,
        least=planned,
        offers=(*shown, Offer(wordy, SLATE)),
        beyond=() if step.read is not None else _silence(ms_to_frames(limits.open_stretch, rate)),
    )
    return Case(
        step,
        tuple(shots),
        planned,
        tuple(items),
        tuple(b_roll),
        tuple(missing),
        tuple(wanted),
        slates,
        speeds,
        demand,
        brief=brief,
        near=near or {},
    )


def asked_frames(shot: Shot, rate: Rate) -> Frames:
    """How long a must-show or b-roll is to be, at least."""
    return ms_to_frames(shot.asked or Ms(0), rate)


def normal_frames(length: Seconds, rate: Rate) -> Frames:
    """So much footage at normal speed; at least one frame."""
    return Frames(max(1, seconds_to_frames(length, rate)))


def _items(filmed: Sequence[Filmed]) -> list[Item]:
    """What was filmed of the step itself. A keep that is over before it is seen is work like what is around it."""
    items = []
    for one in sorted(filmed, key=lambda one: one.span.order):
        if one.span.kind is SpanKind.B_ROLL:
            continue
        length = sum((piece.length for piece in one.pieces), Fraction(0))
        for piece in one.pieces:
            brief = one.span.kind is SpanKind.KEEP and one.shot is None and length < ACTION
            kind = SpanKind.WORK if brief else one.span.kind
            items.append(Item(piece, kind, one.shot, one.span.start.clock))
    return items


def _seen(items: list[Item], rate: Rate) -> list[Item]:
    """The items without runs that are over before they are seen; of these alone, the longest piece."""
    if not items:
        return items
    least = least_frames(rate)
    runs = [run for kind in (SpanKind.WORK, SpanKind.WAIT) for run in runs_of(items, kind)]
    brief = [run for run in runs if floor(run.length * rate.exact) < least]
    if len(brief) == len(runs) and all(item.kind is not SpanKind.KEEP for item in items):
        return [max(items, key=lambda item: (item.kind is SpanKind.WORK, item.piece.length))]
    gone = {place for run in brief for place in range(run.at, run.until)}
    return [item for place, item in enumerate(items) if place not in gone]


def _is_brief(item: Item, rate: Rate) -> bool:
    return floor(item.piece.length * rate.exact) < least_frames(rate)


def _b_roll(filmed: Sequence[Filmed], shots: Sequence[Shot], rate: Rate) -> list[Item]:
    """The cutaways: first those that the plan asks for, in its order, then the others as they were filmed."""
    least = least_frames(rate)
    ordered = sorted(
        (one for one in filmed if one.span.kind is SpanKind.B_ROLL),
        key=lambda one: (one.shot is None, one.shot or 0, one.span.order),
    )
    return [
        Item(
            piece,
            SpanKind.B_ROLL,
            one.shot,
            one.span.start.clock,
            one.span.text if one.shot is None else shots[one.shot].what,
        )
        for one in ordered
        for piece in one.pieces
        if floor(piece.length * rate.exact) >= least
    ]


def _seconds(items: Sequence[Item], kind: SpanKind) -> Fraction:
    return sum((item.piece.length for item in items if item.kind is kind), Fraction(0))


def _work_offers(
    whole: int, speeds: Speeds, kind: WorkKind, glimpse: int
) -> tuple[Offer, Offer, Offer, Offer]:
    """Frames of work from its legible speed down to normal speed; `whole` is its length at normal speed."""
    legible = ceil(whole / speeds.high)
    readable = max(legible, whole * speeds.low.denominator // speeds.low.numerator)
    first = min(glimpse, whole)
    return (
        Offer(first, GLIMPSE),
        Offer(max(0, legible - first), LEGIBLE[kind]),
        Offer(max(0, readable - max(legible, first)), READABLE[kind]),
        Offer(max(0, whole - max(readable, first)), NORMAL),
    )


def _wait_offers(whole: int, speeds: Speeds) -> tuple[Offer, Offer]:
    fast = whole * speeds.high.denominator // speeds.high.numerator
    slow = whole * speeds.low.denominator // speeds.low.numerator
    return Offer(fast, WAIT_FAST), Offer(max(0, slow - fast), WAIT_SLOW)


def _silence(frames: int) -> tuple[Offer, Offer]:
    """A breath of silence is cheaper than a pause that is noticed."""
    first = frames * 2 // 5
    return Offer(first, SILENCE[0]), Offer(frames - first, SILENCE[1])
