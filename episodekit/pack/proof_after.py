"""Terms beside the read: goods where they are used, its chapter, the description, and what follows the draft."""

from __future__ import annotations

from collections.abc import Iterator, Sequence

from episodekit.base.text import counted
from episodekit.base.time import Ms
from episodekit.pack.dates import Deadline, deadlines, written
from episodekit.pack.description import FIRST_LINES
from episodekit.pack.measured import Span
from episodekit.pack.term import Case, Met, Term, inside, met, seconds, stamp
from episodekit.pack.terms import terms_of

MARKED = Ms(1000)
"""How far a chapter may lie from where its read begins: its stamp is in whole seconds."""


def after_terms(case: Case, description: str | None) -> Iterator[Term]:
    """Goods on screen, the marker, the description, and what happens after the draft."""
    if case.seen.goods:
        yield _goods(case)
    if case.read.marker:
        yield _marker(case)
    if case.read.link is not None:
        yield _link(case.read.link, case, description)
    due = [one for one in deadlines(case.episode.plan) if one.read == case.name]
    if case.read.approval is not None:
        yield _approval(case, due)
    if case.read.link_stays is not None:
        asks = dict(terms_of(case.read))["link stays"]
        stays = next((one for one in due if one.what.startswith("last day")), None)
        until = "set `publish` for the last day" if stays is None else f"until {written(stays.day)}"
        yield case.term("Link stays", asks, Met.OPEN, until, todo="Leave the link where it is until then.")


def _goods(case: Case) -> Term:
    asks = f"'Free from {case.read.sponsor}' on screen where they are used"
    lost = [length for length, seen in case.seen.goods if not _lasts(seen.runs, length, case.slack)]
    count = len(case.seen.goods)
    runs = [run for _, seen in case.seen.goods for run in seen.runs]
    first = min(runs, key=lambda run: run.start, default=None)
    told = f"{count - len(lost)} of {counted(count, 'board')} on screen for as long as drafted"
    at = None if first is None else first.start
    todo = f"One of {seconds(lost[0])} is missing or cut." if lost else ""
    frame = None if first is None else inside(first, 0.5)
    return case.term("Goods disclosed", asks, met(not lost), told, at=at, todo=todo, frame=frame)


def _lasts(runs: Sequence[Span], length: Ms, slack: int) -> bool:
    return any(run.length >= length - slack for run in runs)


def _marker(case: Case) -> Term:
    asks, span = "a chapter of its own", case.span
    if span is None:
        return case.unseen("Chapter", asks)
    near = [(abs(at - span.start), title, at) for at, title in case.measured.chapters]
    if near and min(near)[0] <= MARKED:
        return case.term(
            "Chapter", asks, Met.PASS, f"'{min(near)[1]}' at {stamp(min(near)[2])}", at=min(near)[2]
        )
    told = (
        "the file has no chapters"
        if not near
        else f"the nearest, '{min(near)[1]}', is at {stamp(min(near)[2])}"
    )
    if (
        not near and not case.measured.draft
    ):  # many exports drop them, and the description's stamps count then
        todo = f"Check that the description has a stamp at {stamp(span.start)}."
        return case.term("Chapter", asks, Met.OPEN, told, at=span.start, todo=todo)
    return case.term("Chapter", asks, Met.FAIL, told, at=span.start, todo="Cut the draft again.")


def _link(link: str, case: Case, description: str | None) -> Term:
    if description is None:
        todo = "Run `episodekit plan JOB`, which writes it."
        return case.term("Link", link, Met.OPEN, "the description is not written yet", todo=todo)
    lines = description.splitlines()
    number = next((n for n, line in enumerate(lines, start=1) if link in line), None)
    if number is None:
        todo = "Put it into the description's first lines."
        return case.term("Link", link, Met.FAIL, "not in out/pack/description.txt", todo=todo)
    good = number <= FIRST_LINES
    told = f"line {number} of out/pack/description.txt"
    todo = "" if good else f"Bring it into the first {FIRST_LINES} lines."
    return case.term("Link", link, met(good), told, words=lines[number - 1], todo=todo)


def _approval(case: Case, due: Sequence[Deadline]) -> Term:
    asked = dict(terms_of(case.read))
    asks = asked["approval"]
    if "revisions" in asked:
        asks += f", revisions: {asked['revisions']}"
    days = [one for one in due if not one.what.startswith("last day")]
    if not days:
        return case.term(
            "Approval", asks, Met.OPEN, "no day of publishing is set", todo="Set `publish` in job.md."
        )
    told = "; ".join(f"{one.what} by {written(one.day)}" for one in days)
    return case.term("Approval", asks, Met.OPEN, told, todo="Send the draft, and keep the answer.")
