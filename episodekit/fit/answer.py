"""What the fit does with a step, in a creator's words."""

from __future__ import annotations

from fractions import Fraction

from episodekit.base.time import Frames, Rate, frames_to_ms, lasting, ms_to_frames, seconds_to_ms, to_film
from episodekit.bench.model import SpanKind
from episodekit.fit.case import Case
from episodekit.fit.model import FittedStep, Plays, Slate, footage_of
from episodekit.fit.told import LITTLE
from episodekit.job.model import Limits
from episodekit.shots.model import ShotKind

_RAMPED = Fraction(21, 20)


def answer_of(fitted: FittedStep, case: Case, rate: Rate, limits: Limits) -> str:
    """Keep, ramp, cut, drop, b-roll, hold, film or pickup needed; the last comes last."""
    words = [*_speeds(fitted), *_cut(fitted, case)]
    cutaways: dict[str, int] = {}
    pickups: dict[str, int] = {}
    film = 0
    for part in fitted.parts:
        if isinstance(part, Plays):
            if part.kind is SpanKind.B_ROLL:
                cutaways[part.what] = cutaways.get(part.what, 0) + part.frames - part.hold
            continue
        shot = case.shots[part.shot]
        if part.pickup or shot in case.missing:
            what = case.step.title if shot.kind is ShotKind.WORK else shot.what
            pickups[what] = pickups.get(what, 0) + part.frames
        elif shot.kind is ShotKind.B_ROLL:
            cutaways[shot.what] = cutaways.get(shot.what, 0) + part.frames
        else:
            film += part.frames
    held = sum(part.hold for part in fitted.parts if isinstance(part, Plays))
    too_long = held - ms_to_frames(limits.longest_hold, rate)
    if too_long > 0 and not any(isinstance(part, Slate) and part.pickup for part in fitted.parts):
        what = case.wanted[0].what if case.wanted else case.step.title
        pickups[what] = pickups.get(what, 0) + too_long
    if film:
        words.append(f"film {to_film(Frames(film), rate)}")
    if cutaways:
        words.append(f"b-roll {_listed(cutaways, rate)}")
    if held:
        words.append(f"hold {lasting(frames_to_ms(Frames(held), rate))}")
    if pickups:
        needed = [f"{to_film(Frames(n), rate)} of {what}" for what, n in pickups.items()]
        words.append(f"pickup needed: {', '.join(needed)}")
    return "; ".join(words)


def _listed(cutaways: dict[str, int], rate: Rate) -> str:
    return ", ".join(
        lasting(frames_to_ms(Frames(frames), rate)) + (f" of {what}" if what else "")
        for what, frames in cutaways.items()
    )


def _speeds(fitted: FittedStep) -> list[str]:
    """How the bench's footage plays."""
    plays = [part for part in fitted.parts if isinstance(part, Plays)]
    words = []
    if any(part.kind is SpanKind.KEEP for part in plays):
        words.append("keep")
    work = [part.speed for part in plays if part.kind is SpanKind.WORK]
    if work and min(work) < _RAMPED and not words:
        words.append("normal speed")
    if work and max(work) >= _RAMPED:
        words.append(f"ramp {_times(max(work))}")
    waits = [part.speed for part in plays if part.kind is SpanKind.WAIT]
    if waits:
        words.append(f"waiting at {_times(max(waits)) if max(waits) >= _RAMPED else 'normal speed'}")
    return words


def _times(speed: Fraction) -> str:
    return f"{float(speed):.1f}".removesuffix(".0") + "x"


def _cut(fitted: FittedStep, case: Case) -> list[str]:
    """What was filmed at the bench and is not shown."""
    words = []
    for kind, said in (
        (SpanKind.WORK, "cut {} of work"),
        (SpanKind.WAIT, "drop {} of waiting"),
    ):
        have = sum((item.piece.length for item in case.items if item.kind is kind), Fraction(0))
        left = have - footage_of(kind, fitted.parts)
        if left > LITTLE:
            words.append(said.format(lasting(seconds_to_ms(left))))
    return [", ".join(words)] if words else []
