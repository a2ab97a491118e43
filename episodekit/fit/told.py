"""What a creator is told of a step that its footage does not fill, or overfills. Remedies of one run agree."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from fractions import Fraction
from math import ceil

from episodekit.base.findings import Finding, finding
from episodekit.base.time import Frames, Rate, frames_to_ms, lasting, seconds_to_ms
from episodekit.bench.model import SpanKind
from episodekit.fit import rules
from episodekit.fit.case import Case
from episodekit.fit.model import Plays, footage_of
from episodekit.fit.runs import NORMAL, bounds
from episodekit.job.model import Limits
from episodekit.shots.model import Shot

LITTLE = 2
"""Seconds of footage that nobody needs to be told about."""


@dataclass(frozen=True)
class May:
    """What a step's remedies may ask for: `longer` if the episode has room for more words, `shorter` if not
    all of its words must stay for it to be long enough.
    """

    longer: bool = True
    shorter: bool = True


ANY = May()


def unfilmed(shot: Shot, case: Case, rate: Rate) -> Finding:
    """A must-show that no keep answers."""
    said = (
        f"'{shot.what}' is not filmed: no `keep` mark of the step is covered by {shot.camera or 'a camera'}."
    )
    return finding(
        rules.UNFILMED, shot.at, said, f"Film a pickup of {_seconds(case.slates[shot.index], rate)}."
    )


def pickup(case: Case, over: int, may: May, rate: Rate) -> Finding:
    """Words that have no picture, in frames, and what to film for them."""
    said = f"'{case.step.title}' has {_seconds(over, rate)} more words than picture."
    film = f"Film a pickup of {ceil(over / rate.exact)} s"
    if case.wanted:
        film += f", such as {', '.join(shot.what for shot in case.wanted)}"
    return finding(
        rules.PICKUP, case.step.at, said, f"{film}, or trim the words." if may.shorter else f"{film}."
    )


def brief(case: Case) -> Finding:
    """A step whose marks are too close together."""
    said = f"'{case.step.title}' is logged for too short a time to be seen."
    return finding(rules.PICKUP, case.step.at, said, "Check its marks, or film a pickup.")


def left_out(
    case: Case, played: Sequence[Plays], work: int, rate: Rate, limits: Limits, may: May
) -> Finding | None:
    """The work that is not shown, if it is more than a moment, and why."""
    whole = sum((item.piece.length for item in case.items if item.kind is SpanKind.WORK), Fraction(0))
    left = whole - footage_of(SpanKind.WORK, played)
    if left <= LITTLE:
        return None
    said = f"'{case.step.title}' leaves out {lasting(seconds_to_ms(left))} of its work"
    ramped = any(part.speed != NORMAL for part in played if part.kind is SpanKind.WORK)
    if work and not ramped:
        needs = f"a ramp needs {lasting(limits.ramp)}"
        too_brief = work < bounds(NORMAL, limits.ramp, rate).ramp
        said += f": it is on screen for {_seconds(work, rate)}, and {needs}" if too_brief else f": {needs}"
    remedies = ["mark idle time as `wait`", *(["say more"] if may.longer else [])]
    remedies.append(
        "lower `ramp` in `limits`" if work and not ramped else f"raise `{case.step.work.value}` in `limits`"
    )
    told = ", ".join(remedies[:-1])
    return finding(
        rules.LEFT_OUT, case.step.at, f"{said}.", f"{told[:1].upper()}{told[1:]}, or {remedies[-1]}."
    )


def longer(case: Case, over: int, may: May, rate: Rate) -> Finding:
    """A step that plays so many frames longer than its words."""
    said = f"'{case.step.title}' plays {_seconds(over, rate)} longer than its words."
    if any(item.kind is SpanKind.KEEP for item in case.items):
        remedy = "End a keep earlier, or say more." if may.longer else "End a keep earlier."
    elif case.missing:
        remedy = "Its must-shows need that long."
    elif not may.shorter:
        remedy = "It was lengthened to come nearer to the run time. Say more over it."
    else:
        remedy = "It was lengthened to reach the run time; `limits: {open stretch: 0 s}` forbids that."
    return finding(rules.LONGER, case.step.at, said, remedy)


def _seconds(frames: int, rate: Rate) -> str:
    return lasting(frames_to_ms(Frames(frames), rate))
