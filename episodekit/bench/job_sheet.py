"""What a person at the bench wants to see of the plan: each step with what can hurt, what to film, what comes first.

Plain values that become JSON; no times of the screen, since at the bench nobody has a hand for them.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass

from episodekit.base.time import lasting
from episodekit.job.model import Plan, Step, View
from episodekit.shots.model import cautions_of


@dataclass(frozen=True)
class SheetShot:
    """A view to film beside the work. `shot` is its id in the plan, "screen/1"; `must` is false for b-roll."""

    shot: str
    what: str
    camera: str
    length: str
    must: bool


@dataclass(frozen=True)
class SheetStep:
    """A step as it is worked. `needs` says in words what must be done or filmed before it is begun.

    `after` are the steps, and `film` the shots, that those words speak of. A step is `optional` if it may be
    done at any time, or is the picture of a sponsor's read.
    """

    id: str
    title: str
    section: str
    cautions: tuple[str, ...]
    tools: tuple[str, ...]
    shots: tuple[SheetShot, ...]
    parts: tuple[str, ...]
    no_return: bool
    needs: tuple[str, ...]
    after: tuple[str, ...]
    film: tuple[str, ...]
    optional: bool
    cameras: tuple[str, ...]
    bench: str
    notes: tuple[str, ...]


@dataclass(frozen=True)
class JobSheet:
    """The plan at the bench, in the order of the plan."""

    title: str
    device: str
    steps: tuple[SheetStep, ...]


def job_sheet(plan: Plan) -> JobSheet:
    """The job sheet of a plan.

    >>> from episodekit.job.reader import read_plan
    >>> plan, _ = read_plan(b"# Teardown\\n## Lift the screen {#screen}\\n- hazard: heat\\n- off: 4 x M2x4\\n")
    >>> step = job_sheet(plan).steps[0]
    >>> step.id, step.section, step.parts
    ('screen', 'Teardown', ('4 x M2x4',))
    """
    main = next(iter(plan.front.cameras), "")
    steps = {step.id: step for step in plan.all_steps()}
    sections = {step.id: section.title for section in plan.sections for step in section.steps}
    shots = {name: _shots(step, main) for name, step in steps.items()}
    return JobSheet(
        plan.front.title,
        plan.front.device,
        tuple(_step(step, sections[step.id], plan, steps, shots, main) for step in steps.values()),
    )


def _step(
    step: Step,
    section: str,
    plan: Plan,
    steps: Mapping[str, Step],
    shots: Mapping[str, Sequence[SheetShot]],
    main: str,
) -> SheetStep:
    before = [steps[name] for name in dict.fromkeys(step.needs) if name in steps and name != step.id]
    needs = [f"{one.title}: done" for one in before]
    film: list[str] = []
    if step.no_return:
        # What lies under it is out of reach afterwards, so all that the steps before it must show is due now.
        for one in (*_all_before(step, steps), step):
            for shot in shots[one.id]:
                if shot.must:
                    needs.append(_to_film(shot, own=one is step))
                    film.append(shot.shot)
    goods = plan.front.free_goods
    cameras = step.angles or ((step.camera or main,) if step.camera or main else ())
    return SheetStep(
        id=step.id,
        title=step.title,
        section=section,
        cautions=cautions_of(step),
        tools=tuple(goods[name].what for name in step.uses if name in goods),
        shots=tuple(shots[step.id]),
        parts=tuple(f"{off.count} x {off.name}" if off.count > 1 else off.name for off in step.off),
        no_return=step.no_return,
        needs=tuple(needs),
        after=tuple(one.id for one in before),
        film=tuple(film),
        optional=step.any_time or step.read is not None,
        cameras=cameras,
        bench=lasting(step.bench) if step.bench else "",
        notes=tuple(note.text for note in step.notes),
    )


def _to_film(shot: SheetShot, own: bool) -> str:
    how = ", ".join(word for word in (shot.camera, shot.length) if word)
    return f"{'Ready to film' if own else 'Filmed'}: {shot.what} ({how})"


def _all_before(step: Step, steps: Mapping[str, Step]) -> list[Step]:
    """All steps that a step needs, directly or through others, in the order of the plan."""
    found: set[str] = set()
    left = list(step.needs)
    while left:
        name = left.pop()
        if name in steps and name not in found and name != step.id:
            found.add(name)
            left += steps[name].needs
    return [one for one in steps.values() if one.id in found]


def _shots(step: Step, main: str) -> list[SheetShot]:
    own = step.camera or main
    views: list[tuple[View, bool]] = [
        *((view, True) for view in step.must_show),
        *((view, False) for view in step.b_roll),
    ]
    return [
        SheetShot(f"{step.id}/{number}", view.what, view.camera or own, lasting(view.length), must)
        for number, (view, must) in enumerate(views, start=1)
    ]
