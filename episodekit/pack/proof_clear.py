"""Terms about distance: how far a read is from hazards, cautions, failures and other reads, as they are on screen."""

from __future__ import annotations

from collections.abc import Iterator, Sequence

from episodekit.base.time import Ms, lasting
from episodekit.job.model import Step
from episodekit.pack.term import Case, Met, Term, apart, seconds, stamp


def clear_terms(case: Case) -> Iterator[Term]:
    """Each distance that was asked; those that stand by themselves only where there is something to keep clear of."""
    keys = {info.alias or name: name for name, info in type(case.read.keep_clear_of).model_fields.items()}
    for kind, asked in case.read.keep_clear_of.distances().items():
        steps = [laid.step for laid in case.episode.steps if _is_near(kind, laid.step)]
        explicit = keys[kind] in case.read.keep_clear_of.model_fields_set
        asks = f"{_asked(asked)} from {_called(kind)}"
        if kind == "ad break":
            yield _from_breaks(case, asks)
        elif kind == "read":
            yield from _from_reads(case, asks, asked)
        elif steps:
            yield _from_steps(case, asks, asked, steps)
        elif explicit:
            yield case.term("Keeps clear", asks, Met.PASS, "the episode has none")


def _is_near(kind: str, step: Step) -> bool:
    """Whether a step is what a read keeps clear of, by the key of the distance."""
    if step.read is not None:
        return False
    hazards = {*step.hazards, *(["heat"] if step.heat is not None else [])}
    match kind:
        case "hazard":
            return bool(hazards)
        case "caution":
            return bool(step.cautions)
        case "failure":
            return bool(step.failure)
    return kind in hazards


def _asked(ms: Ms) -> str:
    """A distance as it was asked, nothing rounded: 2 min rather than 120 s."""
    return f"{ms / 1000:g} s" if ms < 60_000 or ms % 1000 else lasting(ms)


def _called(kind: str) -> str:
    names = {"hazard": "hazards", "caution": "cautions", "failure": "failures", "read": "other reads"}
    return names.get(kind, "ad breaks" if kind == "ad break" else f"the hazard '{kind}'")


def _from_steps(case: Case, asks: str, asked: Ms, steps: Sequence[Step]) -> Term:
    span = case.span
    if span is None:
        return case.unseen("Keeps clear", asks)
    far = [(apart(span, run), step, run) for step in steps for run in case.measured.steps.get(step.id, ())]
    unseen = [step for step in steps if step.id not in case.measured.steps]
    nearest = min(far, key=lambda one: one[0], default=None)
    told = "no board of such a step was found"
    at = None
    if nearest is not None:
        away, step, run = nearest
        at = run.start if run.start >= span.end else Ms(max(run.start, run.end - 100))
        told = f"'{step.title}' is {seconds(away)} away, its caution on screen {stamp(run.start)} to {stamp(run.end)}"
        if away < asked - case.slack:
            return case.term(
                "Keeps clear", asks, Met.FAIL, told, at=at, frame=at, todo="Move the read or the step."
            )
    if unseen:
        told += f"; no caution of '{unseen[0].title}' was found"
        told += f" and {len(unseen) - 1} more" if len(unseen) > 1 else ""
        todo = f"Look how far '{unseen[0].title}' is from the read."
        return case.term("Keeps clear", asks, Met.OPEN, told, at=at, todo=todo, frame=at)
    return case.term("Keeps clear", asks, Met.PASS, told, at=at, frame=at)


def _from_reads(case: Case, asks: str, asked: Ms) -> Iterator[Term]:
    span = case.span
    others = {name: seen.ad.span for name, seen in case.measured.reads.items() if name != case.name}
    if span is None:
        yield case.unseen("Keeps clear", asks)
        return
    found = [(apart(span, other), name, other) for name, other in others.items() if other is not None]
    if found and (nearest := min(found))[0] < asked - case.slack:
        told = f"'{nearest[1]}' is {seconds(nearest[0])} away"
        yield case.term("Keeps clear", asks, Met.FAIL, told, at=nearest[2].start, todo="Move one of the two.")
    elif lost := [name for name, other in others.items() if other is None]:
        told = f"the read '{lost[0]}' was not found"
        yield case.term("Keeps clear", asks, Met.OPEN, told, todo="Mend its disclosure, then measure again.")
    elif found:
        told = f"'{min(found)[1]}' is {seconds(min(found)[0])} away"
        yield case.term("Keeps clear", asks, Met.PASS, told, at=min(found)[2].start)
    else:
        yield case.term("Keeps clear", asks, Met.PASS, "the episode has no other")


def _from_breaks(case: Case, asks: str) -> Term:
    """Breaks are set at the host and stand in no file; told are the places that the plan gives them."""
    planned = [stamp(one.start) for one in case.episode.ad_breaks]
    if not planned:
        return case.term(
            "Keeps clear", asks, Met.OPEN, "no ad break is planned", todo="Set none near the read."
        )
    told = f"breaks are not in the video file; planned at {', '.join(planned)}"
    return case.term(
        "Keeps clear", asks, Met.OPEN, told, todo="Set them there at the host, and nowhere else."
    )
