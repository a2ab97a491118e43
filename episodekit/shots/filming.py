"""The order to film in: the steps as the bench needs them, with as few camera set-ups as that allows.

A bench has one order: what lies under a cover is filmed after the cover is off. So the steps keep the
order of the plan, and only the shots within a step are sorted by camera, beginning with the camera that
stands there already. A step marked `any time` may be pulled forward or put off to save a set-up, but not
past a step that it needs or that needs it, past one with a hazard or caution, or past a point of no return.
Common practice, no source.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass

from episodekit.job.model import Step
from episodekit.shots.model import Shot


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
    waiting = [shot for shot in shots if steps[shot.step].read is None]
    order = list(dict.fromkeys(shot.step for shot in waiting))
    set_ups: list[SetUp] = []
    while waiting:
        free = [shot for shot in waiting if _is_free(shot.step, waiting, order, steps)]
        camera = set_ups[-1].camera if set_ups else ""
        shot = min(free, key=lambda s: (s.camera != camera, s.number))
        _append(set_ups, shot)
        waiting.remove(shot)
    for shot in shots:
        if steps[shot.step].read is not None:
            _append(set_ups, shot)
    return tuple(set_ups)


def _may_wait(step: str, steps: Mapping[str, Step]) -> bool:
    return steps[step].any_time and not steps[step].no_return and not steps[step].risky


def _is_free(step: str, waiting: Sequence[Shot], order: Sequence[str], steps: Mapping[str, Step]) -> bool:
    """Whether nothing that must be filmed before this step is still waiting."""
    left = {shot.step for shot in waiting}
    for other in order[: order.index(step)]:
        if other not in left:
            continue
        movable = _may_wait(step, steps) or _may_wait(other, steps)
        barrier = steps[other].no_return or steps[other].risky or steps[step].no_return or steps[step].risky
        if not movable or barrier or other in _needed_by(step, steps):
            return False
    return True


def _needed_by(step: str, steps: Mapping[str, Step]) -> set[str]:
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
