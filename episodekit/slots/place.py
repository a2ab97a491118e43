"""Where each read and each ad break plays, and why there: the plan's terms, searched, judged and told."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace

from episodekit.base.findings import Finding, finding
from episodekit.base.place import Place
from episodekit.base.time import Frames, Ms, Rate, clock, frames_to_ms
from episodekit.job.model import Plan
from episodekit.slots import rules
from episodekit.slots.collide import collisions
from episodekit.slots.judge import misses
from episodekit.slots.model import BREAKS, Event, Placement, Problem, Span, Term
from episodekit.slots.search import search
from episodekit.slots.tell import Teller
from episodekit.slots.terms import Text, Unit, problem_of, written_at

_MOST_READS = 6


@dataclass(frozen=True)
class PlacedRead:
    """A read at its place. `before` is the id of the step that follows it, "" at the very end.

    `inside` says that this step was interrupted: it goes on after the read.
    """

    name: str
    sponsor: str
    start: Ms
    length: Ms
    before: str
    why: str
    inside: bool = False


@dataclass(frozen=True)
class PlacedBreak:
    """A place where the host may insert an advertisement; it takes no time of the episode."""

    start: Ms
    before: str
    why: str
    inside: bool = False


@dataclass(frozen=True)
class Placed:
    """Everything in screen order. A row is a unit of the story or the text of a read."""

    order: tuple[Unit | Text, ...]
    reads: tuple[PlacedRead, ...]
    breaks: tuple[PlacedBreak, ...]
    findings: tuple[Finding, ...]


def place(plan: Plan, units: Sequence[Unit], texts: Sequence[Text], rate: Rate) -> Placed:
    """Place all reads and ad breaks at once; at the nearest miss, and with a finding, where terms collide.

    Percents of a window refer to the final run time, all reads included.
    """
    findings: list[Finding] = []
    texts, rest = texts[:_MOST_READS], texts[_MOST_READS:]
    if rest:
        names = ", ".join(f"'{text.name}'" for text in rest)
        said = f"{_MOST_READS} reads can be placed; {names} stand at the end."
        findings.append(finding(rules.MANY, rest[0].step.at, said, "Leave some for another episode."))
    problem = problem_of(plan, units, texts, rate)
    made = search(problem)
    if made is None:  # more ad breaks are asked than there are places: as many as fit, and it is said
        assert problem.breaks is not None
        findings.append(_too_many_breaks(plan, problem))
        problem = replace(problem, breaks=replace(problem.breaks, count=Span(0, problem.breaks.count.high)))
        made = search(problem)
    assert made is not None  # the end of the story is always open to reads
    tell = Teller(plan, problem, made, tuple(units), rate)
    if made.miss:
        findings += _no_place(plan, problem, made, tell)
    elif problem.breaks is not None and problem.total < problem.breaks.run_time:
        findings.append(_too_short(plan, problem, rate))
    findings += _moved(plan, problem, made, tell, units, texts)
    reads, breaks = _told(plan, problem, made, tell, units, rate)
    reads += _at_the_end(plan, rest, Frames(problem.total), rate)
    return Placed((*_in_order(units, texts, made), *rest), reads, breaks, tuple(findings))


def _at_the_end(plan: Plan, texts: Sequence[Text], at: Frames, rate: Rate) -> tuple[PlacedRead, ...]:
    """Reads that were not placed, one after the other."""
    placed: list[PlacedRead] = []
    for text in texts:
        start = frames_to_ms(at, rate)
        sponsor = plan.front.reads[text.name].sponsor
        why = f"at the end: {_MOST_READS} reads can be placed"
        placed.append(PlacedRead(text.name, sponsor, start, text.length, "", why))
        at = Frames(at + text.frames)
    return tuple(placed)


def _in_order(units: Sequence[Unit], texts: Sequence[Text], made: Placement) -> tuple[Unit | Text, ...]:
    order: list[Unit | Text] = []
    for n in range(len(units) + 1):
        order += [texts[event.who] for event in made.events if event.boundary == n and event.who >= 0]
        order += units[n : n + 1]
    return tuple(order)


def _told(
    plan: Plan, problem: Problem, made: Placement, tell: Teller, units: Sequence[Unit], rate: Rate
) -> tuple[tuple[PlacedRead, ...], tuple[PlacedBreak, ...]]:
    reads: list[PlacedRead] = []
    breaks: list[PlacedBreak] = []
    for event in made.events:
        start = frames_to_ms(Frames(event.at), rate)
        follows = units[event.boundary] if event.boundary < len(units) else None
        before, inside = (follows.step.id, not follows.first) if follows else ("", False)
        why = tell.why(event)
        if event.who < 0:
            breaks.append(PlacedBreak(start, before, why, inside))
            continue
        read = problem.reads[event.who]
        end = frames_to_ms(Frames(event.at + read.frames), rate)
        sponsor = plan.front.reads[read.name].sponsor
        reads.append(PlacedRead(read.name, sponsor, start, Ms(end - start), before, why, inside))
    return tuple(reads), tuple(breaks)


def _no_place(plan: Plan, problem: Problem, made: Placement, tell: Teller) -> list[Finding]:
    """Each set of terms that collide, the nearest miss with its numbers, and what to change."""
    found: list[Finding] = []
    broken = misses(problem, made)
    for terms in collisions(problem):
        named = "; ".join(tell.term(term) for term in terms)
        said = f"These terms cannot be kept together: {named}."
        if len(terms) == 1:
            said = f"This term cannot be kept: {named}."
        own = [miss for miss in broken if miss.term in terms] or broken
        nearest = "; ".join(dict.fromkeys(tell.miss(miss) for miss in own))
        at = _where(plan, terms)
        found.append(finding(rules.NO_PLACE, at, f"{said} The nearest miss: {nearest}.", _remedy(terms)))
    return found


def _remedy(terms: Sequence[Term]) -> str:
    """What would help: the kinds of terms that collide, each with its key."""
    names = {name.partition(":")[0] for _, name in terms}
    helps = {
        "starts": "widen `starts`",
        "keep clear of": "lower `keep clear of`",
        "apart": "widen `apart`",
        "count": "ask for fewer ad breaks",
        "run time": "lower the host's `run time`",
    }
    said = ", ".join(words for name, words in helps.items() if name in names)
    return f"{said[:1].upper()}{said[1:]}, or split, shorten or move a step."


def _where(plan: Plan, terms: Sequence[Term]) -> Place:
    """Where the first of the terms was written."""
    for owner, name in terms:
        keys = name.split(": ")
        return plan.where(owner, *keys) if owner == BREAKS else plan.where("reads", owner, *keys)
    return plan.where("reads")


def _too_many_breaks(plan: Plan, problem: Problem) -> Finding:
    assert problem.breaks is not None
    said = (
        f"{problem.breaks.count.low} ad breaks are asked, more than the story has places between its beats."
    )
    return finding(rules.NO_PLACE, plan.where(BREAKS, "count"), said, "Ask for fewer.")


def _too_short(plan: Plan, problem: Problem, rate: Rate) -> Finding:
    assert problem.breaks is not None
    runtime, asked = (clock(frames_to_ms(Frames(f), rate)) for f in (problem.total, problem.breaks.run_time))
    said = f"No ad break is placed: the episode runs {runtime}, and the host allows them from {asked} on."
    return finding(
        rules.NO_BREAKS, plan.where(BREAKS), said, "Nothing to do, unless your host's rule differs."
    )


def _moved(
    plan: Plan, problem: Problem, made: Placement, tell: Teller, units: Sequence[Unit], texts: Sequence[Text]
) -> list[Finding]:
    """Reads that do not play where they were written, and what spoke against it."""
    found: list[Finding] = []
    for event in made.events if not made.miss else ():
        if event.who < 0:
            continue
        written = written_at(plan, units, texts[event.who].step)
        if written is None or written == event.boundary:
            continue
        there = moved_to(problem, made, event, written)
        against = "; ".join(tell.miss(miss) for miss in misses(problem, there)) or "others are worth more"
        said = f"The read was moved {_to(tell.where(event))}: where it was written, {against}."
        remedy = "Move the section, or change the read's terms, to have it there."
        found.append(finding(rules.MOVED, texts[event.who].step.at, said, remedy))
    return found


def _to(where: str) -> str:
    return where.replace("at the end", "to the end")


def moved_to(problem: Problem, made: Placement, event: Event, boundary: int) -> Placement:
    """The placement with one event at another boundary, all the others where they are."""
    moved = [Event(e.who, boundary if e == event else e.boundary, 0) for e in made.events]
    moved.sort(key=lambda e: e.boundary)
    events: list[Event] = []
    for e in moved:
        at = sum(problem.frames[: e.boundary])
        at += sum(problem.reads[other.who].frames for other in events if other.who >= 0)
        events.append(Event(e.who, e.boundary, at))
    return replace(made, events=tuple(events))
