"""The order to film in: as few camera set-ups as the job allows, never across a point of no return.

A step marked `no return` cannot be filmed again, so all before it is filmed before it, all of it in one
go with every camera it needs, and all after it afterwards. In between, a shot waits for the steps that
its own step needs. Common practice, no source.
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
    story = [shot for shot in shots if steps[shot.step].read is None]
    set_ups: list[SetUp] = []
    for group in _between_points_of_no_return(story):
        _add(set_ups, group, steps)
    reads = [shot for shot in shots if shot.kind is ShotKind.READ or steps[shot.step].read is not None]
    for shot in reads:
        _append(set_ups, shot)
    return tuple(set_ups)


def _between_points_of_no_return(shots: Sequence[Shot]) -> list[list[Shot]]:
    groups: list[list[Shot]] = []
    before: Shot | None = None
    for shot in shots:
        new = before is None or (shot.step != before.step and (shot.no_return or before.no_return))
        if new:
            groups.append([])
        groups[-1].append(shot)
        before = shot
    return groups


def _add(set_ups: list[SetUp], group: list[Shot], steps: Mapping[str, Step]) -> None:
    waiting = list(group)
    camera = ""
    while waiting:
        open_steps = {shot.step for shot in waiting}
        # A shot is free when no step that its step needs still has a shot to film.
        free = [shot for shot in waiting if not (set(steps[shot.step].needs) & (open_steps - {shot.step}))]
        free = free or waiting
        shot = next((shot for shot in free if shot.camera == camera), free[0])
        camera = shot.camera
        _append(set_ups, shot)
        waiting.remove(shot)


def _append(set_ups: list[SetUp], shot: Shot) -> None:
    last = set_ups[-1] if set_ups else None
    step = shot.step if shot.no_return else ""
    if last and last.camera == shot.camera and last.once == step:
        set_ups[-1] = SetUp(last.camera, last.view, (*last.shots, shot.number), step)
    else:
        set_ups.append(SetUp(shot.camera, shot.view, (shot.number,), step))
