"""Why no placement keeps all terms: the smallest set of them that cannot be kept together."""

from __future__ import annotations

from collections.abc import Collection, Sequence
from dataclasses import replace

from episodekit.slots.judge import misses
from episodekit.slots.model import BREAKS, Placement, Problem, Span, Term
from episodekit.slots.search import keeping


def collisions(problem: Problem) -> tuple[tuple[Term, ...], ...]:
    """All that stands in the way: sets of terms, none in two sets, without which the rest can be kept."""
    found: list[tuple[Term, ...]] = []
    left = terms_of(problem)
    while named := colliding(only(problem, left)):
        found.append(named)
        left = tuple(term for term in left if term not in named)
    return tuple(found)


def colliding(problem: Problem) -> tuple[Term, ...]:
    """The smallest set of terms that cannot be kept together, the first such set in their order; () if all can be.

    Every set that collides holds a term that is broken by any one placement: otherwise that placement would keep
    the set. So the smallest set that holds a broken term of each placement found so far is asked for a placement
    of its own; if there is none, it is the answer (implicit hitting sets: Ignatiev and others, 2015). Each placement
    is first bettered until it keeps whatever it can.
    """
    terms = terms_of(problem)
    broken: list[frozenset[Term]] = []
    while frozenset() not in broken:
        some = _smallest_through(broken, terms)
        found = keeping(only(problem, some))
        if found is None:
            return some
        broken.append(_bettered(problem, terms, found))
    return ()


def _bettered(problem: Problem, terms: Sequence[Term], found: Placement) -> frozenset[Term]:
    """What stays broken when one broken term after the other is asked for besides those that are kept."""
    broken = broken_by(problem, terms, found)
    for term in (term for term in terms if term in broken):
        if term in broken:
            better = keeping(only(problem, [kept for kept in terms if kept not in broken or kept == term]))
            broken = broken if better is None else broken_by(problem, terms, better)
    return broken


def broken_by(problem: Problem, terms: Sequence[Term], placement: Placement) -> frozenset[Term]:
    """The terms that a placement breaks, each asked by itself."""
    breaks = sum(event.who < 0 for event in placement.events)
    few = {(BREAKS, "count")} if problem.breaks is not None and breaks < problem.breaks.count.low else set()
    return frozenset(few | {term for term in terms if misses(only(problem, [term]), placement)})


def _smallest_through(groups: Sequence[frozenset[Term]], terms: Sequence[Term]) -> tuple[Term, ...]:
    """The smallest choice of terms, first in their order, that holds one of every group."""
    bits = {term: 1 << n for n, term in enumerate(terms)}
    masks = [sum(bits[term] for term in group) for group in groups]
    for size in range(len(terms) + 1):
        found = _through(masks, len(terms), 0, size)
        if found is not None:
            return tuple(terms[n] for n in found)
    return tuple(terms)


def _through(masks: Sequence[int], count: int, first: int, size: int) -> tuple[int, ...] | None:
    """The first choice of at most `size` terms from number `first` on that meets every mask."""
    if not masks:
        return ()
    if size == 0:
        return None
    # Not past the last term of any group, or that group would be missed.
    until = min(mask.bit_length() for mask in masks)
    for n in range(first, min(until, count)):
        left = [mask for mask in masks if not mask >> n & 1]
        found = _through(left, count, n + 1, size - 1) if len(left) < len(masks) else None
        if found is not None:
            return (n, *found)
    return None


def terms_of(problem: Problem) -> tuple[Term, ...]:
    """Every term that asks something, the reads' first, in a fixed order."""
    terms: list[Term] = []
    for read in problem.reads:
        terms += [(read.name, "starts")] if read.starts is not None else []
        terms += [(read.name, f"keep clear of: {name}") for name in read.clear]
        terms += [(read.name, "keep clear of: read")] if read.reads else []
        terms += [(read.name, "keep clear of: ad break")] if read.ad_breaks else []
    if problem.breaks is not None:
        terms += [(BREAKS, name) for name in ("count", "apart", "starts", "run time")]
        terms += [(BREAKS, f"keep clear of: {name}") for name in problem.breaks.clear]
        terms += [(BREAKS, "keep clear of: read")] if problem.breaks.reads else []
    return tuple(terms)


def only(problem: Problem, terms: Collection[Term]) -> Problem:
    """The problem under no other terms than these."""
    reads = tuple(
        replace(
            read,
            starts=read.starts if (read.name, "starts") in terms else None,
            clear={
                name: frames
                for name, frames in read.clear.items()
                if (read.name, f"keep clear of: {name}") in terms
            },
            reads=read.reads if (read.name, "keep clear of: read") in terms else 0,
            ad_breaks=read.ad_breaks if (read.name, "keep clear of: ad break") in terms else 0,
        )
        for read in problem.reads
    )
    breaks = problem.breaks
    if breaks is not None:
        free = Span(0, problem.total)
        breaks = replace(
            breaks,
            count=breaks.count if (BREAKS, "count") in terms else Span(0, breaks.count.high),
            apart=breaks.apart if (BREAKS, "apart") in terms else free,
            starts=breaks.starts if (BREAKS, "starts") in terms else free,
            run_time=breaks.run_time if (BREAKS, "run time") in terms else 0,
            clear={
                name: frames
                for name, frames in breaks.clear.items()
                if (BREAKS, f"keep clear of: {name}") in terms
            },
            reads=breaks.reads if (BREAKS, "keep clear of: read") in terms else 0,
        )
    return replace(problem, reads=reads, breaks=breaks)
