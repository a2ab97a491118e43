"""A shot: one view to film, covering beats."""

from __future__ import annotations

from dataclasses import dataclass
from enum import StrEnum

from episodekit.base.place import Place
from episodekit.base.time import Ms, lasting
from episodekit.job.hazards import DEFER, HAZARDS, Hazard
from episodekit.job.model import Step


class ShotKind(StrEnum):
    """work: the step as it is done. must show: a view the plan insists on. read: under a sponsor's read.
    b-roll: a cutaway, used only where the words outrun the work.
    """

    WORK = "work"
    MUST_SHOW = "must show"
    READ = "read"
    B_ROLL = "b-roll"


@dataclass(frozen=True)
class Shot:
    """One view. `start` counts from the step's start, `length` is its screen time, both in ms: as planned, or
    as fitted once `fit/` has seen the footage. `asked` is how long a must-show or b-roll is to be filmed.

    `index` counts the shots of its step from 0; `number` counts all shots in screen order from 1, and is
    0 until they are numbered. `beats` are the ids of the beats it covers. `filmed` is for `fit/` to find out.
    """

    step: str
    index: int
    kind: ShotKind
    what: str
    camera: str
    view: str
    start: Ms
    length: Ms
    bench: Ms | None
    beats: tuple[str, ...]
    cautions: tuple[str, ...]
    no_return: bool
    at: Place
    number: int = 0
    asked: Ms | None = None
    filmed: bool = False


def hazards_of(step: Step) -> tuple[Hazard, ...]:
    """The hazards of a step; warming is one even if the creator did not say so."""
    kinds = [*step.hazards, *(["heat"] if step.heat is not None and "heat" not in step.hazards else [])]
    return tuple(HAZARDS[kind] for kind in kinds)


def cautions_of(step: Step) -> tuple[str, ...]:
    """What to mind in a step: the usual caution of each hazard, then the creator's own words.

    Any caution is followed by the note that local codes and licensed practice come first.
    """
    own = [hazard.caution for hazard in hazards_of(step)]
    if step.heat is not None:
        degrees, length = float(step.heat.celsius), lasting(step.heat.length)
        own.append(f"Heat: {degrees:g} °C for {length}, if the adhesive's own sheet says so")
    own += step.cautions
    return (*own, DEFER) if own else ()
