"""What a plan says about itself must agree: names, order, questions, reads, shutters."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import replace

from episodekit.base.findings import Finding, did_you_mean, finding
from episodekit.base.place import Place
from episodekit.job import rules
from episodekit.job.model import Plan, Step, View


def check_plan(plan: Plan, *, front_known: bool = True) -> tuple[Finding, ...]:
    """All disagreements inside the plan. Without a readable front matter, names from it are not checked."""
    found: list[Finding] = []
    if front_known:
        found += [*_cameras(plan), *_private(plan), *_reads(plan), *_deals(plan), *_flicker(plan)]
    found += [*_needs(plan), *_questions(plan), *_pictures(plan)]
    return tuple(found)


def _cameras(plan: Plan) -> Iterator[Finding]:
    known = plan.front.cameras
    for step in plan.all_steps():
        if step.camera is not None and step.camera not in known:
            yield _unknown_camera(plan, step.where("camera"), step.camera)
        for name in step.angles[1:]:
            if name not in known:
                yield _unknown_camera(plan, step.where("camera"), name)
        views: tuple[View, ...] = (*step.must_show, *step.b_roll)
        for shot in views:
            if shot.camera is not None and shot.camera not in known:
                yield _unknown_camera(plan, shot.at, shot.camera)


def _private(plan: Plan) -> Iterator[Finding]:
    """What must be hidden on a camera that the plan does not have, or on none."""
    for name, place in plan.front.private.items():
        if place.camera is not None and place.camera not in plan.front.cameras:
            unknown = _unknown_camera(plan, plan.where("private", name, "camera"), place.camera)
            yield replace(unknown, rule=rules.PRIVATE)
    for step in plan.all_steps():
        for view in step.private:
            camera = view.camera or step.camera
            if camera is None:
                said = f"It names no camera, and '{step.title}' has none either."
                yield finding(rules.PRIVATE, view.at, said, "Write what | camera | 60% 5% to 95% 15%.")
            elif camera not in plan.front.cameras:
                yield replace(_unknown_camera(plan, view.at, camera), rule=rules.PRIVATE)


def _unknown_camera(plan: Plan, at: Place, name: str) -> Finding:
    by_view = [camera for camera, facts in plan.front.cameras.items() if facts.view.lower() == name.lower()]
    if by_view:
        return finding(
            rules.NAME,
            at,
            f"'{name}' is a view, not a camera.",
            f"Write '{by_view[0]}', which has that view.",
        )
    if not plan.front.cameras:
        return finding(
            rules.NAME,
            at,
            f"There is no camera '{name}'.",
            f"Declare it: `cameras: {{{name}: {{view: ...}}}}`.",
        )
    return _unknown(at, "camera", name, list(plan.front.cameras))


def _unknown(at: Place, kind: str, name: str, known: list[str]) -> Finding:
    return finding(rules.NAME, at, f"There is no {kind} '{name}'.", did_you_mean(name, known))


def _reads(plan: Plan) -> Iterator[Finding]:
    known = plan.front.reads
    seen: dict[str, Step] = {}
    for step in plan.all_steps():
        if step.read is None:
            continue
        if step.read not in known:
            if known:
                yield _unknown(step.where("read"), "read", step.read, list(known))
            else:
                said = f"There is no read '{step.read}'."
                remedy = f"Declare it in the front matter: `reads: {{{step.read}: {{sponsor: ...}}}}`."
                yield finding(rules.NAME, step.where("read"), said, remedy)
        elif step.read in seen:
            first = seen[step.read].at.line
            said = f"The read '{step.read}' has its text in line {first} already."
            yield finding(rules.TWICE, step.where("read"), said, "Keep one of the two sections.")
        seen.setdefault(step.read, step)
    for name in known:
        if name not in seen or not seen[name].beats:
            said = f"The read '{name}' has no words."
            remedy = f"Add a section with `- read: {name}` and its spoken lines."
            yield finding(rules.READ_TEXT, plan.where("reads", name), said, remedy)


def _deals(plan: Plan) -> Iterator[Finding]:
    """Steps that use a sponsor's goods or free goods, and deadlines that need the day of publishing."""
    known = [*plan.front.reads, *plan.front.free_goods]
    for name in plan.front.free_goods:
        if name in plan.front.reads:
            said = f"'{name}' names both a read and free goods."
            yield finding(rules.TWICE, plan.where("free goods", name), said, "Give one another name.")
    for step in plan.all_steps():
        for name in step.uses:
            if name not in known:
                if known:
                    yield _unknown(step.where("uses"), "read or free goods", name, known)
                else:
                    said = f"There is no read and there are no free goods '{name}'."
                    remedy = f"Declare it: `free goods: {{{name}: {{from: ..., what: ...}}}}`."
                    yield finding(rules.NAME, step.where("uses"), said, remedy)
    if plan.front.publish is None:
        for name, read in plan.front.reads.items():
            key = "approval" if read.approval is not None else "link stays" if read.link_stays else ""
            if key:
                said = f"'{key}' of the read '{name}' counts from the day of publishing, which is not set."
                remedy = "Add `publish: 2026-12-18` to the front matter."
                yield finding(rules.NO_DATE, plan.where("reads", name, key), said, remedy)


def _flicker(plan: Plan) -> Iterator[Finding]:
    mains = plan.front.mains
    if mains is None:
        return
    for name, camera in plan.front.cameras.items():
        if camera.shutter is not None and (camera.shutter * 2 * mains).denominator != 1:
            said = f"1/{camera.shutter.denominator} s does not hold whole pulses of {mains} Hz lamps."
            remedy = f"Use 1/{mains} or 1/{2 * mains}, or lamps that do not pulse."
            yield finding(rules.FLICKER, plan.where("cameras", name, "shutter"), said, remedy)


def _needs(plan: Plan) -> Iterator[Finding]:
    order = {step.id: number for number, step in enumerate(plan.steps)}
    for step in plan.steps:
        for need in step.needs:
            if need not in order:
                yield _unknown(step.where("needs"), "step", need, list(order))
            elif order[need] >= order[step.id]:
                said = f"'{step.id}' needs '{need}', which comes later."
                if need == step.id:
                    said = f"'{step.id}' needs itself."
                yield finding(
                    rules.ORDER, step.where("needs"), said, "Move one of the two, or drop the need."
                )


def _questions(plan: Plan) -> Iterator[Finding]:
    asked = {question.id: question for step in plan.all_steps() for question in step.asks}
    answered = set()
    for step in plan.all_steps():
        for answer in step.answers:
            answered.add(answer.id)
            if answer.id not in asked:
                yield _unknown(answer.at, "question", answer.id, list(asked))
    for question in asked.values():
        if question.id not in answered:
            said = f"'{question.text}' is never answered."
            yield finding(
                rules.UNANSWERED, question.at, said, f"Add `- answer {question.id}: ...` where it is."
            )


def _pictures(plan: Plan) -> Iterator[Finding]:
    for step in plan.steps:
        if not step.beats and not step.must_show:
            said = f"'{step.title}' has nothing to say and nothing to show."
            yield finding(rules.NO_PICTURE, step.at, said, "Add a `> ...` line or a `- must show: ...`.")
