"""The order to film in: the steps as the bench needs them, with as few camera set-ups as that allows.

A bench has one order: what lies under a cover is filmed after the cover is off. So the steps keep the
order of the plan, and the shots of a step keep theirs, but for its work, which is one roll. Shots that follow
each other on one camera are one set-up. A step marked `any time` may be pulled forward or put off to save a
set-up, but not past a step that it needs or that needs it, past one with a hazard or caution, or past a point
of no return. Common practice, no source.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass

from episodekit.job.model import Step
from episodekit.shots.model import Shot, ShotKind


@dataclass(frozen=True)
class SetUp:
    """Shots filmed with one camera in place. `once` is the id of the step that cannot be filmed again, if it
    is one: then all set-ups of that step roll at the same time.
    """

    camera: str
    view: str
    shots: tuple[int, ...]
    once: str = ""


def filming_order(shots: Sequence[Shot], steps: Mapping[str, Step]) -> tuple[SetUp, ...]:
    """Group numbered shots into camera set-ups, in filming order. Reads come last: they need no bench."""
    left: dict[str, list[Shot]] = {}
    for shot in shots:
        if steps[shot.step].read is None:
            left.setdefault(shot.step, []).append(shot)
    left = {name: _work_first(some) for name, some in left.items()}
    order = list(left)
    movable = [_may_wait(steps[name]) for name in order]
    barrier = [steps[name].no_return or steps[name].risky for name in order]
    needs = {name: _needs(name, steps) for name in order} if any(movable) else {name: set() for name in order}
    last = max((index for index, free in enumerate(movable) if free), default=-1)
    set_ups: list[SetUp] = []
    first = 0
    while first < len(order):
        camera = set_ups[-1].camera if set_ups else ""
        free = _free(first, order, left, movable, barrier, needs, last)
        # A step's shots keep their order: the view of a result is filmed after the work that leads to it.
        shot = min((left[name][0] for name in free), key=lambda s: (s.camera != camera, s.number))
        _append(set_ups, shot)
        left[shot.step].remove(shot)
        while first < len(order) and not left[order[first]]:
            first += 1
    for shot in shots:
        if steps[shot.step].read is not None:
            _append(set_ups, shot)
    return tuple(set_ups)


def _work_first(shots: Sequence[Shot]) -> list[Shot]:
    """A step's shots, its work together where it begins: the camera on it rolls on while a must-show is filmed."""
    first = next((n for n, shot in enumerate(shots) if shot.kind is ShotKind.WORK), len(shots))
    later = [shot for shot in shots[first + 1 :] if shot.kind is ShotKind.WORK]
    rest = [shot for shot in shots[first + 1 :] if shot.kind is not ShotKind.WORK]
    return [*shots[: first + 1], *later, *rest]


def _may_wait(step: Step) -> bool:
    return step.any_time and not step.no_return and not step.risky


def _free(
    first: int,
    order: Sequence[str],
    left: Mapping[str, Sequence[Shot]],
    movable: Sequence[bool],
    barrier: Sequence[bool],
    needs: Mapping[str, set[str]],
    last: int,
) -> list[str]:
    """The steps that may be filmed now: the first one left, the movable ones that may be pulled forward to
    it, and the one that comes next if all before it may be put off. `last` is the last movable one.
    """
    free = [order[first]]
    if barrier[first]:
        return free
    waiting = {order[first]}
    may_be_passed = movable[first]
    if not may_be_passed and first >= last:
        return free
    for index in range(first + 1, len(order)):
        name = order[index]
        if barrier[index]:
            break
        if not left[name]:
            continue
        if (movable[index] or may_be_passed) and not needs[name] & waiting:
            free.append(name)
        may_be_passed = may_be_passed and movable[index]
        if not may_be_passed and index >= last:
            break
        waiting.add(name)
    return free


def _needs(step: str, steps: Mapping[str, Step]) -> set[str]:
    """All steps that a step needs, directly or through others."""
    found: set[str] = set()
    left = list(steps[step].needs)
    while left:
        name = left.pop()
        if name in steps and name not in found:
            found.add(name)
            left += steps[name].needs
    return found


def _append(set_ups: list[SetUp], shot: Shot) -> None:
    last = set_ups[-1] if set_ups else None
    step = shot.step if shot.no_return else ""
    if last and last.camera == shot.camera and last.once == step:
        set_ups[-1] = SetUp(last.camera, last.view, (*last.shots, shot.number), step)
    else:
        set_ups.append(SetUp(shot.camera, shot.view, (shot.number,), step))
