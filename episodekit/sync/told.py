"""What is wrong with the evidence, in words: clues that contradict each other, cameras that nothing checks."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from decimal import ROUND_CEILING, Context, Decimal

from episodekit.base.findings import Finding, finding
from episodekit.base.place import Place
from episodekit.base.time import Seconds, lasting, seconds_to_ms
from episodekit.footage.cameras import BY_HAND_WITHIN, UNCHECKED_WITHIN, clock_by_hand
from episodekit.job.model import Plan
from episodekit.sync import rules
from episodekit.sync.far import Doubt, is_far
from episodekit.sync.model import MEASURED, Clue, Rung, Synced
from episodekit.sync.own_clock import DAY, Found
from episodekit.sync.recordings import Recording


def sureness(one: Synced) -> str:
    """What a clip's place rests on, and how sure it is.

    >>> sureness(Synced("footage/top-1.mp4", "", None, None, Seconds(1), None, None, why=why_not(None)))
    'not placed: nothing tells when it rolled'
    """
    if one.within is None:
        return f"not placed: {one.why}"
    if one.unchecked:
        return f"{one.rung}, unchecked: may be {float(one.within):.0f} s off, or more"
    return f"{one.rung}, within {at_most(one.within)} s"


def at_most(seconds: Seconds) -> str:
    """A bound with two digits, never less than it is.

    >>> at_most(Seconds(1013, 1000)), at_most(Seconds(10_148, 1_000_000)), at_most(Seconds(3600))
    ('1.1', '0.011', '3600')
    """
    up = Context(prec=2, rounding=ROUND_CEILING)
    found = up.divide(Decimal(seconds.numerator), Decimal(seconds.denominator))
    return f"{found.normalize():f}"


_A_WHILE = 600
"""Seconds from which on nobody wants fractions of one."""


@dataclass(frozen=True)
class Judged:
    """A recording, what was found of it, whether it is placed by that, its own clues, what speaks against its sound."""

    recording: Recording
    found: Found | None
    placed: bool
    clues: Sequence[Clue]
    doubt: Doubt | None = None


def told(judged: Sequence[Judged], plan: Plan, unheard: frozenset[str] = frozenset()) -> tuple[Finding, ...]:
    """The findings: of each recording by itself, and of each camera's unchecked clock once.

    `unheard` are the paths of clips whose sound was compared with that of all that are placed, in vain.
    """
    found: list[Finding] = []
    for one in judged:
        there = one.found
        if one.doubt is not None:
            found.append(_contradicted(one.recording, one.doubt, one.placed))
        elif one.placed and there is not None:
            found += _conflicts(one.recording, there, one.clues, plan)
        elif there is None or not there.unchecked:
            found.append(_not_placed(one.recording, there, unheard))
    return (*found, *_far(judged, plan), *_unchecked(judged, plan, unheard))


def why_not(there: Found | None) -> str:
    """Why a recording is not placed, as a clause."""
    if there is None:
        return "nothing tells when it rolled"
    if there.unchecked:
        return "nothing checks its creation time"
    if there.why:
        return there.why
    return f"its {there.rung} is sure to {at_most(there.within)} s only"


def _not_placed(one: Recording, there: Found | None, unheard: frozenset[str]) -> Finding:
    loose = "" if there is None else f": {why_not(there)}"
    said = f"Nothing tells well enough when it rolled{loose}.{_in_vain([one], unheard)}"
    remedy = "Log its marks as `clip @ 0:12.5`, or film the log's clock."
    return finding(rules.NOT_PLACED, Place(one.first.path), said, remedy)


def _in_vain(group: Sequence[Recording], unheard: frozenset[str]) -> str:
    if not all(file.clip.path in unheard for one in group for file in one.files):
        return ""
    return " No clip that is placed surely heard the same."


def _contradicted(one: Recording, doubt: Doubt, placed: bool) -> Finding:
    other = doubt.other.removeprefix("footage/")
    late = f"{_long(abs(doubt.later))} {'later' if doubt.later > 0 else 'earlier'}"
    than = f"the clock of {one.camera} does, by {other}" if doubt.by_clock else f"what {other} heard does"
    said = f"Its sound puts it {late} than {than}" + ("." if placed else "; it is not placed.")
    remedy = "Log its marks as `clip @ 0:12.5`, or film the log's clock in it next time."
    return finding(rules.CONFLICT, Place(one.first.path), said, remedy)


def _far(judged: Sequence[Judged], plan: Plan) -> Iterator[Finding]:
    """Each camera once that sound puts far from its own clock, with how many of its clips lie by that."""
    groups: dict[str, list[tuple[Recording, Found]]] = {}
    for row in judged:
        one, there = row.recording, row.found
        if row.placed and there is not None and is_far(one, there.start, plan):
            groups.setdefault(one.camera or one.first.path, []).append((one, there))
    for group in groups.values():
        heard = next(((one, there) for one, there in group if there.rung is Rung.SOUND), None)
        if heard is None or any(there.rung in (Rung.FILMED_CLOCK, Rung.CHIRP) for _, there in group):
            continue
        one, there = heard
        assert one.created is not None
        whose = "its clock" if one.camera is None else f"the clock of {one.camera}"
        at = Place(one.first.path) if one.camera is None else plan.where("cameras", one.camera)
        off = f"{_long(abs(one.created - there.start))} {'fast' if one.created > there.start else 'behind'}"
        count = sum(len(lies.files) for lies, _ in group)
        lie = "1 clip lies" if count == 1 else f"{count} clips lie"
        said = f"By sound alone, {whose} is {off}; {lie} by that."
        remedy = "See in the draft whether its moments are the logged ones, and set the camera's clock for next time."
        yield finding(rules.FAR, at, said, remedy)


def _long(seconds: Seconds) -> str:
    days = round(seconds / DAY)
    return f"{days} days" if days > 1 else lasting(seconds_to_ms(seconds))


def _unchecked(judged: Sequence[Judged], plan: Plan, unheard: frozenset[str]) -> Iterator[Finding]:
    """Each camera once whose clips are known by their creation times alone; a clip of no camera by itself."""
    groups: dict[tuple[str, bool], list[Recording]] = {}
    for row in judged:
        if row.found is not None and row.found.unchecked:
            key = row.recording.camera or row.recording.first.path, row.placed
            groups.setdefault(key, []).append(row.recording)
    for (_, placed), group in groups.items():
        camera = group[0].camera
        at = Place(group[0].first.path) if camera is None else plan.where("cameras", camera)
        whose = "its clock" if camera is None else f"the clock of {camera}"
        count = sum(len(one.files) for one in group)
        clips = "1 clip is" if count == 1 else f"{count} clips are"
        off = f"A creation time may be {UNCHECKED_WITHIN} s off, or more."
        said = f"Nothing checks {whose}, so {clips} not placed. {off}{_in_vain(group, unheard)}"
        if placed:
            said = f"Nothing checks {whose}; {clips} taken to lie where the file says. {off}"
        remedy = "Film the log's clock with it for three seconds next time"
        if camera is None:
            remedy += ", or name it after its camera."
        else:
            right = "`clock: 0 s behind` if it is right"
            remedy += f"; or say in job.md how far {camera} is off ({right}), and sync again."
        yield finding(rules.UNCHECKED if placed else rules.NOT_PLACED, at, said, remedy)


def _conflicts(one: Recording, there: Found, clues: Sequence[Clue], plan: Plan) -> Iterator[Finding]:
    at = Place(one.first.path)
    for clue in clues:
        off = clue.wall - there.start - clue.at * there.pace.value
        room = clue.in_all + there.within + clue.at * there.pace.within
        if abs(off) > room:
            said = f"Its {clue.rung} at {float(clue.at):.1f} s puts it {_apart(off)} than its {there.rung}."
            yield finding(rules.CONFLICT, at, said, "Look at both places in the clip.")
    given = clock_by_hand(one.camera, plan)
    if given is not None and one.created is not None and there.rung in MEASURED:
        off = one.created + given - there.start
        if abs(off) > BY_HAND_WITHIN + one.length:
            said = (
                f"The `clock:` of {one.camera} puts it {_apart(off, 0)} than its {there.rung}, which is used."
            )
            remedy = f"Correct `clock:` of {one.camera} in job.md, or delete it."
            yield finding(rules.CONFLICT, at, said, remedy)


def _apart(off: Seconds, digits: int = 3) -> str:
    far = abs(off)
    said = f"{float(far):.{digits}f} s" if far < _A_WHILE else _long(far)
    return f"{said} {'later' if off > 0 else 'earlier'}"
