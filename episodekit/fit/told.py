"""What a creator is told of a step that its footage does not fill, or overfills. Remedies of one run agree."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from fractions import Fraction

from episodekit.base.findings import Finding, finding
from episodekit.base.time import Frames, Rate, frames_to_ms, lasting, seconds_to_ms, to_film
from episodekit.bench.model import SpanKind
from episodekit.fit import rules
from episodekit.fit.case import Case, Near
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
    """A must-show that no keep answers, and whether it may be in the footage all the same."""
    near = case.near.get(shot.index, Near())
    camera, asked = shot.camera or "a camera", _seconds(case.slates[shot.index], rate)
    # What cannot be done again can still be shown: as it is afterwards.
    film = f"film its result for {asked}" if case.step.no_return else f"film a pickup of {asked}"
    if near.kept > 0:
        kept = lasting(seconds_to_ms(near.kept))
        why = f"the longest `keep` mark left for it has {kept} of {camera}, and {asked} are asked"
        film = f"Move that mark or the next if {camera} shows more of it, ask for less, or {film}"
    elif near.ran >= LITTLE:
        why = f"the step has no `keep` mark left for it, though {camera} was running"
        film = f"Mark as `keep` where {camera} shows it, or {film}"
    else:
        why, film = f"no `keep` mark of the step is covered by {camera}", film[:1].upper() + film[1:]
    return finding(rules.UNFILMED, shot.at, f"'{shot.what}' is not filmed: {why}.", f"{film}.")


def pickup(case: Case, over: int, may: May, rate: Rate) -> Finding:
    """Words that have no picture, in frames, and what to film for them."""
    said = f"'{case.step.title}' has {_seconds(over, rate)} more words than picture."
    seconds = to_film(Frames(over), rate)
    film = f"Film its result for {seconds}" if case.step.no_return else f"Film a pickup of {seconds}"
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
    if not work and case.demand.fixed:  # no speed makes room where there is none
        said += ": what is kept and must be shown fills its words"
        kept = any(item.kind is SpanKind.KEEP for item in case.items)
        remedies.append("end a keep earlier" if kept else "ask for less of its must-shows")
    elif work and not ramped:
        remedies.append("lower `ramp` in `limits`")
    else:
        remedies.append(f"raise `{case.step.work.value}` in `limits`")
    told = ", ".join(remedies[:-1])
    return finding(
        rules.LEFT_OUT, case.step.at, f"{said}.", f"{told[:1].upper()}{told[1:]}, or {remedies[-1]}."
    )


def longer(case: Case, over: int, may: May, rate: Rate) -> Finding:
    """A step that plays so many frames longer than its words."""
    said = f"'{case.step.title}' plays {_seconds(over, rate)} longer than its words."
    # What plays at normal speed or must be shown is to blame for what it alone is longer than the words.
    forced = max(0, case.demand.fixed - case.demand.least)
    if not may.shorter and over - forced > forced:
        remedy = "It was lengthened to come nearer to the run time. Say more over it."
    elif any(item.kind is SpanKind.KEEP for item in case.items):
        remedy = "End a keep earlier, or say more." if may.longer else "End a keep earlier."
    elif case.missing:
        remedy = "Its must-shows need that long."
    else:
        remedy = "A moment of its work is shown all the same; `limits: {open stretch: 0 s}` forbids that."
    return finding(rules.LONGER, case.step.at, said, remedy)


def _seconds(frames: int, rate: Rate) -> str:
    return lasting(frames_to_ms(Frames(frames), rate))
