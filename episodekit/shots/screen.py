"""Shots in screen order: what is seen while each beat is said."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import replace

from episodekit.base.time import Ms
from episodekit.job.model import MustShow, Plan, Step
from episodekit.shots.model import Shot, ShotKind, cautions_of
from episodekit.timing.steps import StepTime

_LEAST_WORK = 1000


def shots_of(step: Step, time: StepTime, plan: Plan) -> tuple[Shot, ...]:
    """The shots of one step, end to end over its planned screen time, not yet numbered.

    In each block the work plays first and the must-shows after it, at their own lengths; work that would
    be on screen for under a second is left to the must-show. Work on one camera runs on over several
    beats as one shot. B-roll comes last and has no screen time until it is needed.
    """
    main = step.camera or next(iter(plan.front.cameras), "")
    shots: list[Shot] = []
    last = len(time.blocks) - 1
    for number, block in enumerate(time.blocks):
        beat = (time.beats[block.beat].id,) if block.beat >= 0 else ()
        musts = [m for m in step.must_show if min(m.beat, last) == number]
        at = int(block.start)
        shown = sum(m.length for m in musts)
        work = block.end - block.start - shown
        if work >= _LEAST_WORK or not musts:
            before = shots[-1] if shots else None
            if before is not None and before.kind is not ShotKind.MUST_SHOW:
                shots[-1] = replace(before, length=Ms(before.length + work), beats=before.beats + beat)
            else:
                kind = ShotKind.READ if step.read else ShotKind.WORK
                shots.append(_shot(step, plan, kind, step.title, main, at, work, beat))
            at += work
        for must in musts:
            length = block.end - at if must is musts[-1] else must.length
            shots.append(_must(step, plan, must, main, at, length, beat))
            at += length
    for cutaway in step.b_roll:
        shot = _shot(
            step, plan, ShotKind.B_ROLL, _headed(cutaway.what), cutaway.camera or main, time.length, 0, ()
        )
        # It is filmed whenever it suits, also where the work itself has only one try.
        shots.append(replace(shot, at=cutaway.at, asked=cutaway.length, no_return=False))
    # The step's bench time stands at its first shot, so that the column adds up.
    return tuple(
        replace(shot, index=index, bench=step.bench if index == 0 else None)
        for index, shot in enumerate(shots)
    )


def _must(
    step: Step, plan: Plan, must: MustShow, main: str, at: int, length: int, beat: tuple[str, ...]
) -> Shot:
    shot = _shot(
        step,
        plan,
        ShotKind.MUST_SHOW,
        _headed(must.what),
        must.camera or main,
        at,
        length,
        beat,
    )
    return replace(shot, at=must.at, asked=must.length)


def _headed(what: str) -> str:
    return what[:1].upper() + what[1:]


def work_shot(step: Step, plan: Plan) -> Shot:
    """The view of a step's work, where a plan filled it with must-shows alone."""
    main = step.camera or next(iter(plan.front.cameras), "")
    kind = ShotKind.READ if step.read else ShotKind.WORK
    return _shot(step, plan, kind, step.title, main, 0, 0, ())


def _shot(
    step: Step,
    plan: Plan,
    kind: ShotKind,
    what: str,
    camera: str,
    at: int,
    length: int,
    beat: tuple[str, ...],
) -> Shot:
    known = plan.front.cameras.get(camera)
    return Shot(
        step=step.id,
        index=0,
        kind=kind,
        what=what,
        camera=camera,
        view=known.view if known else "",
        start=Ms(at),
        length=Ms(length),
        bench=None,
        beats=beat,
        cautions=cautions_of(step),
        no_return=step.no_return,
        at=step.at,
    )


def numbered(shots: Iterable[Shot]) -> tuple[Shot, ...]:
    """Number the shots from 1 in the order given, which is the screen order."""
    return tuple(replace(shot, number=number) for number, shot in enumerate(shots, start=1))
