"""What is told of a choice of chapters: sections without one, reads without their marker, too few of them.

A step that begins no chapter is not told; that is how most steps are.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import replace

from episodekit.base.findings import Finding, finding
from episodekit.base.text import counted
from episodekit.base.time import Ms, clock
from episodekit.chapters import rules
from episodekit.chapters.choose import Terms, choose, resumes_at, stamp
from episodekit.chapters.starts import Kind, Start
from episodekit.job.model import Plan


def told(
    plan: Plan, starts: Sequence[Start], chosen: Sequence[int], runtime: Ms, terms: Terms
) -> tuple[Finding, ...]:
    """Findings about a choice, one for each section or marker that was left out, and one if all are too few."""
    found: list[Finding] = []
    for index, start in enumerate(starts):
        if index in chosen:
            continue
        if start.kind is Kind.SECTION and chosen:
            found.append(_section(starts, index, chosen, runtime, terms))
        elif start.kind is Kind.READ:
            found.append(_marker(starts, index, runtime, terms))
    if terms.most and (len(chosen) < terms.fewest or runtime < terms.shortest):
        found.append(_few(plan, starts, len(chosen), runtime, terms))
    return tuple(found)


def _section(
    starts: Sequence[Start], index: int, chosen: Sequence[int], runtime: Ms, terms: Terms
) -> Finding:
    here = stamp(starts[index].start)
    before = max(n for n in chosen if n < index)
    after = min((n for n in chosen if n > index), default=None)
    since = here - (stamp(starts[before].start) if before > chosen[0] else 0)
    left = (runtime if after is None else stamp(starts[after].start)) - here
    short = f"a chapter needs {terms.shortest / 1000:g} s"
    remedy = "Lengthen the section, or leave it merged."
    if left < terms.shortest:
        end = "the end" if after is None else f"'{starts[after].title}'"
        why = f"plays {left // 100 / 10:g} s before {end}; {short}"
    elif since < terms.shortest:
        why = f"begins {since // 100 / 10:g} s after '{starts[before].title}'; {short}"
        remedy = "Lengthen what comes before it, or leave it merged."
    elif len(chosen) >= terms.most:
        why = f"would be one chapter more than {terms.most}"
        remedy = "Raise `most` in `chapters`, or leave it merged."
    else:
        spacing = f"{clock(terms.low)} to {clock(terms.high)}"
        why = f"stands too near its neighbours; chapters are to be {spacing} apart"
        remedy = "Lower `apart` in `chapters`, or leave it merged."
    said = f"'{starts[index].title}' {why}. It is merged into '{starts[before].title}'."
    return finding(rules.MERGED, starts[index].at, said, remedy)


def _marker(starts: Sequence[Start], index: int, runtime: Ms, terms: Terms) -> Finding:
    why, remedy = _why_no_marker(starts, index, runtime, terms)
    said = f"'{starts[index].title}' cannot have a marker of its own: {why}."
    return finding(rules.MARKER, starts[index].at, said, f"{remedy}, or write `marker: no`.")


def _why_no_marker(starts: Sequence[Start], index: int, runtime: Ms, terms: Terms) -> tuple[str, str]:
    here = stamp(starts[index].start) if index else 0
    goes_on = resumes_at(starts, index)
    ends = runtime if goes_on is None else stamp(starts[goes_on].start)
    short = f"a chapter needs {terms.shortest / 1000:g} s"
    if starts[index].splits_payoff or (goes_on is not None and starts[goes_on].splits_payoff):
        return "it interrupts an answer, and a marker there would split the payoff", "Move the read"
    if ends - here < terms.shortest:
        return f"it is over after {(ends - here) / 1000:g} s; {short}", "Lengthen the read"
    if index and here < terms.shortest:
        return f"it begins {here / 1000:g} s after the start; {short}", "Move the read"
    if goes_on is not None and runtime - ends < terms.shortest:
        return f"the story goes on for {(runtime - ends) / 1000:g} s after it; {short}", "Move the read"
    # The first chapter, and for each read its marker and the place where the story resumes.
    reads = sum(start.kind is Kind.READ for start in starts)
    if index in choose(starts, runtime, replace(terms, most=terms.most + 1 + 2 * reads)):
        return f"there may be {counted(terms.most, 'chapter')} at most", "Raise `most` in `chapters`"
    return "another read's marker is too near", "Move the read"


def _few(plan: Plan, starts: Sequence[Start], count: int, runtime: Ms, terms: Terms) -> Finding:
    at, remedy = plan.where("limits"), "Add a `# Section`, or leave the episode without chapters."
    are = "There is" if count == 1 else "There are"
    said = f"{are} {counted(count, 'chapter')}; the host shows them from {terms.fewest} on"
    need = terms.fewest * terms.shortest
    if terms.most < terms.fewest:
        why = f"`most` allows no more than {terms.most}"
        at, remedy = plan.where("chapters", "most"), f"Write `most: {terms.fewest}` or more in `chapters`."
    elif runtime < need:
        why = (
            f"{counted(terms.fewest, 'chapter')} of {terms.shortest / 1000:g} s take {need / 1000:g} s, "
            f"and it plays {runtime // 100 / 10:g} s"
        )
    elif (places := sum(1 for _ in _usable(starts))) < terms.fewest:
        why = f"{counted(places, 'place')} where one may begin"
    else:
        why = f"no {terms.fewest} of its {places} starts leave each of them {terms.shortest / 1000:g} s"
    return finding(rules.FEW, at, f"{said}: {why}.", remedy)


def _usable(starts: Sequence[Start]) -> Iterator[Start]:
    return (start for start in starts if not start.splits_payoff)
