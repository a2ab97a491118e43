"""Each term of a read's deal: what it asks, what was measured in the finished video, and whether that meets it.

Here are the terms of the picture: length, window, disclosure, code. Words, distances and what goes beside the
video have files of their own. Local law and the signed contract decide.
"""

from __future__ import annotations

from collections.abc import Iterator
from itertools import pairwise

from episodekit.base.time import Ms
from episodekit.pack.measured import Measured, Span
from episodekit.pack.proof_after import after_terms
from episodekit.pack.proof_clear import clear_terms
from episodekit.pack.proof_words import spoken, word_terms
from episodekit.pack.term import Case, Met, Term, inside, met, off, seconds, stamp
from episodekit.pack.terms import terms_of
from episodekit.slots.phrases import opening, says_paid
from episodekit.timeline.episode import Episode

# What a disclosure has to reach: ISO 9241-3 (16 arc-minutes at least, 20 to 22 preferred by NUREG-0700, 1.3.1-4)
# and WCAG 2.2, 1.4.3 (4.5 to 1).
LEAST_ARC_MINUTES = 16.0
LEAST_CONTRAST = 4.5


def prove(episode: Episode, measured: Measured, description: str | None) -> dict[str, tuple[Term, ...]]:
    """The terms of each read, by its name, in the order in which they play.

    `description` is the text that goes under the video, None if it is not written yet.
    """
    found: dict[str, tuple[Term, ...]] = {}
    for placed in sorted(episode.reads, key=lambda one: one.start):
        laid = next(one for one in episode.steps if one.step.read == placed.name)
        read = episode.plan.front.reads[placed.name]
        seen = measured.reads[placed.name]
        case = Case(placed.name, read, laid.step, laid.time, placed, seen, measured, episode)
        found[placed.name] = (
            *_place(case),
            *_disclosure(case),
            *word_terms(case),
            *_code(case),
            *clear_terms(case),
            *after_terms(case, description),
        )
    return found


def _place(case: Case) -> Iterator[Term]:
    """Length and window."""
    asked, span = dict(terms_of(case.read)), case.span
    frame = None if span is None else inside(span, 0.5)
    if case.read.length is not None:
        if span is None:
            yield case.unseen("Length", asked["length"])
        else:
            low, high = case.read.length.low, case.read.length.high
            good = low - case.slack <= span.length <= high + case.slack
            told = f"{seconds(span.length)}, from {stamp(span.start)} to {stamp(span.end)}"
            todo = "" if good else f"It is {seconds(off(span.length, low, high))} off. Cut the read anew."
            yield case.term("Length", asked["length"], met(good), told, at=span.start, todo=todo, frame=frame)
    if case.read.starts is not None:
        if span is None:
            yield case.unseen("Start", asked["starts"])
            return
        runtime = case.measured.runtime
        low, high = case.read.starts.low.at(runtime), case.read.starts.high.at(runtime)
        good = low - case.slack <= span.start <= high + case.slack
        share = f"{span.start * 100 / runtime:.1f}%" if runtime else "0%"
        told = f"starts at {stamp(span.start)}, {share} of the run time of {stamp(runtime)}"
        todo = "" if good else f"Move it to {stamp(low)} to {stamp(high)}."
        yield case.term("Start", asked["starts"], met(good), told, at=span.start, todo=todo, frame=span.start)


def _disclosure(case: Case) -> Iterator[Term]:
    """Seen: for the whole read, large and strong enough. Heard: in the first sentence."""
    asks = "on screen for the whole read"
    span, planned = case.span, case.placed.length
    if span is None:
        todo = (
            "Lay it over the whole read as in the draft, uncovered; cut the draft again if the plan changed."
        )
        yield case.term("Disclosure seen", asks, Met.FAIL, "not found anywhere in the video", todo=todo)
    else:
        gaps = [Span(a.end, b.start) for a, b in pairwise(case.seen.ad.runs)]
        short = planned - span.length
        told = (
            f"{stamp(span.start)} to {stamp(span.end)}: {seconds(span.length)} of {seconds(planned)} planned"
        )
        faults = [f"gone for {seconds(gap.length)} at {stamp(gap.start)}" for gap in gaps]
        if short > case.slack:
            faults.append(f"{seconds(Ms(short))} are missing")
        todo = ""
        if faults:
            todo = "Bring back what was cut or covered; if the read is shorter on purpose, shorten it in job.md too."
        yield case.term(
            "Disclosure seen",
            asks,
            met(not faults),
            "; ".join((told, *faults)),
            at=gaps[0].start if gaps else span.start,
            todo=todo,
            frame=inside(gaps[0] if gaps else span, 0.5),
        )
        yield _legible(case, span)
    if "heard" in case.read.disclosure and case.step.beats:
        first = case.step.beats[0]
        yield spoken(
            case, "Disclosure heard", "in the read's first sentence", first, says_paid(opening(first.text))
        )


def _legible(case: Case, span: Span) -> Term:
    asks = f"letters of {LEAST_ARC_MINUTES:g} arc-minutes on a phone at 32 cm, contrast {LEAST_CONTRAST:g}:1"
    size, contrast = case.seen.ad.arc_minutes, case.seen.ad.contrast
    if size is None or contrast is None:
        todo = "Look at it on a phone."
        return case.term(
            "Disclosure readable", asks, Met.OPEN, "its letters could not be measured", todo=todo
        )
    good = size >= LEAST_ARC_MINUTES and contrast >= LEAST_CONTRAST
    told = f"{size:.1f} arc-minutes, contrast {contrast:.1f}:1 at its lowest"
    todo = "" if good else "Show it larger, or on its own dark ground, as in the draft."
    return case.term(
        "Disclosure readable", asks, met(good), told, at=span.start, todo=todo, frame=inside(span, 0.25)
    )


def _code(case: Case) -> Iterator[Term]:
    """How long the code is on screen, inside the read."""
    if case.read.code is None:
        return
    asks = f"{case.read.code} on screen"
    if case.read.code_shown is not None:
        asks += f" for {dict(terms_of(case.read))['code shown']}"
    span = case.span
    if span is None:
        yield case.unseen("Shows the code", asks)
        return
    shown = [
        Span(Ms(max(run.start, span.start)), Ms(min(run.end, span.end)))
        for run in case.seen.code.runs
        if run.start < span.end and run.end > span.start
    ]
    longest = max(shown, key=lambda run: run.length, default=None)
    if longest is None:
        todo = "Lay the code's board over the read as in the draft."
        yield case.term("Shows the code", asks, Met.FAIL, "not found in the read", at=span.start, todo=todo)
        return
    good = case.read.code_shown is None or longest.length >= case.read.code_shown - case.slack
    size, contrast = case.seen.code.arc_minutes, case.seen.code.contrast
    told = f"{stamp(longest.start)} to {stamp(longest.end)}: {seconds(longest.length)}"
    if size is not None and contrast is not None:
        told += f"; {size:.0f} arc-minutes, contrast {contrast:.1f}:1"
        good = good and size >= LEAST_ARC_MINUTES and contrast >= LEAST_CONTRAST
    todo = "" if good else "Leave it on screen longer, at its full size."
    yield case.term(
        "Shows the code", asks, met(good), told, at=longest.start, todo=todo, frame=inside(longest, 0.5)
    )
