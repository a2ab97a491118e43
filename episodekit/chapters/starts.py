"""Where a chapter may begin: at sections, at steps, at a read with a marker of its own, and where the story resumes."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from enum import StrEnum

from episodekit.base.place import Place
from episodekit.base.time import Ms
from episodekit.job.model import Plan, Step


class Kind(StrEnum):
    """What begins there. The story resumes in the middle of a step, after a read with a marker of its own."""

    SECTION = "section"
    STEP = "step"
    READ = "read"
    RESUMES = "resumes"


@dataclass(frozen=True)
class Start:
    """A place where a chapter may begin, in ms of the final run time.

    `splits_payoff` means it lies inside a step that answers a question: no chapter may begin there.
    """

    title: str
    start: Ms
    at: Place
    kind: Kind
    splits_payoff: bool = False


def starts_of(plan: Plan, rows: Sequence[tuple[Step, Ms]]) -> tuple[Start, ...]:
    """Where chapters may begin, from what plays in screen order with the time at which each begins.

    A read without a marker of its own begins no chapter, so it belongs to the one before it. A step that
    is there twice was interrupted: where it goes on is a start only after a read with a marker.
    """
    sections = {section.id: section for section in plan.sections}
    starts: list[Start] = []
    begun: set[str] = set()
    steps: set[str] = set()
    after_marker = False
    for index, (step, at) in enumerate(rows):
        section = sections[step.section]
        if step.read is not None:
            if plan.front.reads[step.read].marker:
                following = next((other for other, _ in rows[index:] if other.read is None), None)
                inside = following is not None and following.id in steps and bool(following.answers)
                place = plan.where("reads", step.read, "marker")
                starts.append(Start(section.title, at, place, Kind.READ, inside))
                after_marker = True
            continue
        if step.section not in begun:
            starts.append(Start(section.title, at, section.at, Kind.SECTION))
        elif step.id not in steps:
            starts.append(Start(step.title, at, step.at, Kind.STEP))
        elif after_marker:
            title = f"{section.title}, continued"
            starts.append(Start(title, at, step.at, Kind.RESUMES, bool(step.answers)))
        begun.add(step.section)
        steps.add(step.id)
        after_marker = False
    return tuple(starts)
