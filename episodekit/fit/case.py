"""What a step can show, and what each frame of it is worth: the offers that the optimum buys from.

The prices are points a frame, compared across the whole episode; below zero it is wanted. They are common
practice put into numbers: a viewer would rather see work than a frozen picture, rather a frozen picture
than a slate, and rather anything than a step that goes on without words.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from fractions import Fraction
from math import ceil

from episodekit.base.time import Frames, Ms, Rate, ms_to_frames, nearest, seconds_to_frames
from episodekit.bench.model import Span, SpanKind
from episodekit.fit.optimum import Demand, Offer
from episodekit.footage.cover import Piece
from episodekit.job.model import Limits, Step, WorkKind
from episodekit.job.units import Speeds
from episodekit.shots.model import Shot, ShotKind

GLIMPSE_MS = Ms(1500)
GLIMPSE = -200
LEGIBLE = {WorkKind.HANDWORK: -60, WorkKind.REPETITION: -30, WorkKind.CURING: -8}
READABLE = {WorkKind.HANDWORK: -20, WorkKind.REPETITION: -10, WorkKind.CURING: -4}
NORMAL = 1
WAIT_FAST, WAIT_SLOW = 6, 9
HOLD, SLATE = 25, 100
SILENCE = (70, 90)


@dataclass(frozen=True)
class Filmed:
    """A span of a step with the footage that shows it. `shot` is the must-show it answers, if it does."""

    span: Span
    pieces: tuple[Piece, ...]
    shot: int | None = None


@dataclass(frozen=True)
class Item:
    """A piece on its way to the screen, in bench order."""

    piece: Piece
    kind: SpanKind
    shot: int | None


@dataclass(frozen=True)
class Case:
    """A step before the fit: its footage in bench order, its unfilmed must-shows, and its demand.

    `demand.offers` are, in this order: glimpse, legible, readable and normal-speed work, waits fast and
    slow, holds, slates. Without footage the work is estimated from the bench time, and slates stand for it.
    """

    step: Step
    shots: tuple[Shot, ...]
    planned: Frames
    items: tuple[Item, ...]
    missing: tuple[Shot, ...]
    slates: Mapping[int, Frames]
    speeds: Speeds
    demand: Demand


def case_of(
    step: Step, shots: Sequence[Shot], planned: Frames, filmed: Sequence[Filmed], rate: Rate, limits: Limits
) -> Case:
    """What a step brings to the fit. `planned` is its length from words and must-shows."""
    items = _items(filmed)
    seen = {one.shot for one in filmed if one.pieces}
    missing = [s for s in shots if s.kind is ShotKind.MUST_SHOW and s.index not in seen] if items else []
    asked = {must.at: must.length for must in step.must_show}
    slates = {shot.index: ms_to_frames(asked[shot.at], rate) for shot in missing}
    kept = sum(normal_frames(item.piece, rate) for item in items if item.kind is SpanKind.KEEP)
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
    shown = (
        *_work_offers(nearest(work * rate.exact), speeds, step.work, ms_to_frames(GLIMPSE_MS, rate)),
        *_wait_offers(nearest(wait * rate.exact), limits.curing),
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
    return Case(step, tuple(shots), planned, tuple(items), tuple(missing), slates, speeds, demand)


def normal_frames(piece: Piece, rate: Rate) -> Frames:
    """A piece at normal speed; at least one frame."""
    return Frames(max(1, seconds_to_frames(piece.length, rate)))


def _items(filmed: Sequence[Filmed]) -> list[Item]:
    ordered = sorted(filmed, key=lambda one: one.span.order)
    return [Item(piece, one.span.kind, one.shot) for one in ordered for piece in one.pieces]


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
