"""A step's shots as they are on screen once its footage is known: how long each plays, and what is filmed."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace
from itertools import accumulate

from episodekit.base.time import Frames, Ms, Rate, frames_to_ms
from episodekit.bench.model import SpanKind
from episodekit.fit.case import Case
from episodekit.fit.model import FittedStep, Plays, Slate
from episodekit.job.model import Plan
from episodekit.shots.model import Shot, ShotKind
from episodekit.shots.screen import work_shot
from episodekit.timing.steps import StepTime

_GLANCE = 500
"""A beat is not told as a shot's if it is said over it for less, in ms."""
_WORK = ""
_OWN = (ShotKind.MUST_SHOW, ShotKind.B_ROLL)


def shots_shown(
    case: Case, fitted: FittedStep, time: StepTime, plan: Plan
) -> tuple[tuple[Shot, ...], tuple[int, ...]]:
    """The step's shots in screen order, and for each part of the fit the index of the shot that it shows.

    Work that plays between two must-shows is one shot, whatever its speed. `start` and `length` add up to the
    step's length on screen; b-roll that is not needed comes last and has none. A shot is filmed once no slate
    stands for any of it.
    """
    found: dict[object, tuple[Shot, list[int]]] = {}
    stretch = 0
    keys: list[object] = []
    for number, part in enumerate(fitted.parts):
        shot, own = _shot_of(part, case, plan)
        stretch += own is not None and bool(keys) and keys[-1] != own
        key = own if own is not None else (_WORK, stretch)
        keys.append(key)
        found.setdefault(key, (shot, []))[1].append(number)
    edges = _edges(fitted, plan.front.frame_rate)
    shots = []
    for index, (shot, numbers) in enumerate(found.values()):
        stretches = [(edges[n], edges[n + 1]) for n in numbers]
        shots.append(
            replace(
                shot,
                index=index,
                start=stretches[0][0],
                length=Ms(sum(last - first for first, last in stretches)),
                beats=_beats(stretches, edges[-1], time),
                bench=case.step.bench if index == 0 else None,
                filmed=not any(isinstance(fitted.parts[n], Slate) for n in numbers),
            )
        )
    laid = {shot.at for shot in shots}
    for shot in case.shots:
        if shot.kind is ShotKind.B_ROLL and shot.at not in laid:
            filmed = shot not in case.wanted
            shots.append(replace(shot, index=len(shots), start=edges[-1], bench=None, filmed=filmed))
    place = {key: number for number, key in enumerate(found)}
    return tuple(shots), tuple(place[key] for key in keys)


def _shot_of(part: Plays | Slate, case: Case, plan: Plan) -> tuple[Shot, object]:
    """The planned shot that a part shows, and what tells it apart from the step's work, if it is none."""
    shot = case.shots[part.shot] if part.shot is not None else None
    if shot is not None and shot.kind in _OWN:
        return shot, shot.index
    work = next((one for one in case.shots if one.kind not in _OWN), None) or work_shot(case.step, plan)
    if isinstance(part, Plays) and part.kind is SpanKind.B_ROLL:
        what = part.what or f"b-roll of {case.step.title}"
        extra = replace(work, kind=ShotKind.B_ROLL, what=what[:1].upper() + what[1:], no_return=False)
        return extra, ("b-roll", part.what)
    return work, None


def _edges(fitted: FittedStep, rate: Rate) -> list[Ms]:
    ends = accumulate((part.frames for part in fitted.parts), initial=0)
    return [frames_to_ms(Frames(at), rate) for at in ends]


def _beats(shown: Sequence[tuple[int, int]], end: int, time: StepTime) -> tuple[str, ...]:
    """The beats that are said over these stretches; what follows the last one belongs to it."""
    found = []
    ends = [*(block.end for block in time.blocks[:-1]), max(end, time.blocks[-1].end)]
    for block, until in zip(time.blocks, ends, strict=True):
        overlap = sum(max(0, min(last, until) - max(first, block.start)) for first, last in shown)
        middle = (block.start + until) // 2
        if block.beat >= 0 and (overlap >= _GLANCE or any(first <= middle < last for first, last in shown)):
            found.append(time.beats[block.beat].id)
    return tuple(found)
