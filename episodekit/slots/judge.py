"""A placement measured against its terms, one by one: the plain way, from the finished order of things."""

from __future__ import annotations

from collections.abc import Iterator
from itertools import pairwise

from episodekit.slots.model import BREAKS, BreakTerms, Event, Miss, Placement, Problem, ReadTerms, Term


def misses(problem: Problem, placement: Placement) -> tuple[Miss, ...]:
    """Every term that is broken, and by how many frames; empty if the placement keeps them all."""
    starts = unit_starts(problem, placement)
    found: list[Miss] = []
    for number, event in enumerate(placement.events):
        found += _own(problem, event, starts)
        for other in placement.events[number + 1 :]:
            found += _pair(problem, event, other)
    found += _spacing(problem, placement)
    return tuple(miss for miss in found if miss.frames > 0)


def unit_starts(problem: Problem, placement: Placement) -> tuple[int, ...]:
    """When each unit begins on the final time, in frames, and when the last one ends."""
    starts: list[int] = []
    at = 0
    for n in range(len(problem.frames) + 1):
        at += sum(problem.reads[e.who].frames for e in placement.events if e.boundary == n and e.who >= 0)
        starts.append(at)
        at += problem.frames[n] if n < len(problem.frames) else 0
    return tuple(starts)


def nearest_unit(
    problem: Problem, starts: tuple[int, ...], event: Event, name: str
) -> tuple[tuple[int, int] | None, tuple[int, int] | None]:
    """The nearest units of a class before and after an event, each with its distance in frames."""
    end = event.at + length_of(problem, event)
    before = [
        (event.at - starts[n] - problem.frames[n], n)
        for n, classes in enumerate(problem.classes[: event.boundary])
        if name in classes
    ]
    after = [
        (starts[n] - end, n)
        for n in range(event.boundary, len(problem.classes))
        if name in problem.classes[n]
    ]
    return min(before, default=None), min(after, default=None)


def length_of(problem: Problem, event: Event) -> int:
    """Frames that the event plays; an ad break takes none of the episode."""
    return problem.reads[event.who].frames if event.who >= 0 else 0


def terms_of(problem: Problem, event: Event) -> ReadTerms | BreakTerms:
    """The terms an event stands under."""
    if event.who >= 0:
        return problem.reads[event.who]
    assert problem.breaks is not None
    return problem.breaks


def name_of(problem: Problem, who: int) -> str:
    """The read's name, or that of the ad breaks."""
    return problem.reads[who].name if who >= 0 else BREAKS


def _own(problem: Problem, event: Event, starts: tuple[int, ...]) -> Iterator[Miss]:
    terms, owner = terms_of(problem, event), name_of(problem, event.who)
    if terms.starts is not None:
        yield Miss((owner, "starts"), event, max(0, terms.starts.low - event.at))
        yield Miss((owner, "starts"), event, max(0, event.at - terms.starts.high))
    if isinstance(terms, BreakTerms):
        yield Miss((owner, "run time"), event, max(0, terms.run_time - problem.total))
    for name, distance in terms.clear.items():
        for side in nearest_unit(problem, starts, event, name):
            if side is not None:
                yield Miss((owner, f"keep clear of: {name}"), event, max(0, distance - side[0]), unit=side[1])


def _pair(problem: Problem, one: Event, two: Event) -> Iterator[Miss]:
    if one.who < 0 and two.who < 0:
        return
    gap = two.at - one.at - length_of(problem, one)
    term, asked = _distance(problem, one.who, two.who)
    own, other = (one, two) if term[0] == name_of(problem, one.who) else (two, one)
    yield Miss(term, own, max(0, asked - gap), beside=other)


def _distance(problem: Problem, one: int, two: int) -> tuple[Term, int]:
    """The larger of what the two ask of each other, and whose term that is."""
    asked: list[tuple[int, Term]] = []
    for who, other in ((one, two), (two, one)):
        kind = "read" if other >= 0 else "ad break"
        if who >= 0:
            read = problem.reads[who]
            asked.append(
                (read.reads if other >= 0 else read.ad_breaks, (read.name, f"keep clear of: {kind}"))
            )
        elif problem.breaks is not None:
            asked.append((problem.breaks.reads, (BREAKS, f"keep clear of: {kind}")))
    frames, term = max(asked, key=lambda pair: pair[0])
    return term, frames


def _spacing(problem: Problem, placement: Placement) -> Iterator[Miss]:
    breaks = [event for event in placement.events if event.who < 0]
    for one, two in pairwise(breaks):
        assert problem.breaks is not None
        apart, gap = problem.breaks.apart, two.at - one.at
        yield Miss((BREAKS, "apart"), two, max(0, apart.low - gap) + max(0, gap - apart.high), beside=one)
