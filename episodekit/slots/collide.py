"""Why no placement keeps all terms: the smallest set of them that cannot be kept together."""

from __future__ import annotations

from collections.abc import Collection
from dataclasses import replace
from itertools import combinations

from episodekit.slots.model import BREAKS, Problem, Span, Term
from episodekit.slots.search import possible

_TRIES = 600
"""Smaller sets are tried as long as there are no more of them than this; an episode has a few dozen at most."""


def collisions(problem: Problem) -> tuple[tuple[Term, ...], ...]:
    """All that stands in the way: sets of terms, none in two sets, without which the rest can be kept."""
    found: list[tuple[Term, ...]] = []
    left = terms_of(problem)
    while named := colliding(only(problem, left)):
        found.append(named)
        left = tuple(term for term in left if term not in named)
    return tuple(found)


def colliding(problem: Problem) -> tuple[Term, ...]:
    """Terms that cannot be kept together, and could be if any one of them were dropped; () if all can be kept.

    First one term after the other is dropped for good if the rest collides without it. Then smaller sets
    are tried, the smallest first, so that as few terms as possible are named.
    """
    if possible(problem):
        return ()
    kept = terms_of(problem)
    for term in terms_of(problem):
        without = tuple(other for other in kept if other != term)
        if not possible(only(problem, without)):
            kept = without
    tries = 0
    for size in range(len(kept)):
        for some in combinations(terms_of(problem), size):
            tries += 1
            if tries > _TRIES:
                return kept
            if not possible(only(problem, some)):
                return some
    return kept


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
