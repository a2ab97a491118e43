"""What a camera's own clock tells of a recording in which nothing was measured: corrected, by hand, or unchecked."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace

from episodekit.base.time import Seconds
from episodekit.footage.cameras import BY_HAND_WITHIN, UNCHECKED_WITHIN, clock_by_hand
from episodekit.job.model import Plan
from episodekit.sync.line import Pace
from episodekit.sync.model import AS_FILED, LOOSEST, Rung
from episodekit.sync.recordings import Recording

CREATED_WITHIN = Seconds(1)
"""Creation times are whole seconds on most cameras."""

DAY = 86_400

ZONE = 900
"""Seconds: a clock set to another zone is off by a multiple of this. IANA time zone database, offsets of today."""


@dataclass(frozen=True)
class Found:
    """Where a recording begins on the log's clock, in seconds since 1970 UTC, and the rung that says so."""

    start: Seconds
    pace: Pace
    within: Seconds
    rung: Rung
    why: str = ""

    @property
    def unchecked(self) -> bool:
        """Whether its file alone says so."""
        return self.rung is Rung.CREATION and self.why == AS_FILED


def by_its_camera(
    one: Recording,
    measured: Sequence[tuple[Recording, Found]],
    pace: Pace,
    plan: Plan,
    others: Sequence[Recording] = (),
) -> Found | None:
    """A recording by its camera's own clock; None if it has no creation time.

    Corrected by the nearest measured one of that camera within a day, unless that leaves it too loose and a person said
    how far the clock is off; else as said; else unchecked. `others` may rule a correction out: see `at_once`.
    """
    said = one.created
    if said is None:
        return None
    corrected = _corrected(one, said, measured, pace)
    if corrected is not None and any(at_once(one, other) for other in others):
        corrected = replace(corrected, within=Seconds(DAY), why="its camera's clock was set back in between")
    given = clock_by_hand(one.camera, plan)
    if corrected is not None and (corrected.within <= LOOSEST or given is None):
        return corrected
    if given is not None:
        return Found(said + given, pace, BY_HAND_WITHIN, Rung.BY_HAND, AS_FILED)
    return Found(said, pace, UNCHECKED_WITHIN, Rung.CREATION, AS_FILED)


def at_once(one: Recording, two: Recording) -> bool:
    """Whether by their camera's clock both rolled at once, at either end: it began anew in between, as no copy does.

    A camera whose battery ran flat begins at the same instant each time.
    """
    if one is two or one.camera is None or two.camera != one.camera:
        return False
    if one.created is None or two.created is None:
        return False
    apart = abs(one.created - two.created)
    return not is_copy(one, two) and apart + 2 * CREATED_WITHIN < min(one.length, two.length)


def is_copy(one: Recording, two: Recording) -> bool:
    """Whether both are stamped the same and last as long: one file twice, or at two sizes."""
    if one.created is None or two.created is None:
        return False
    return max(abs(one.created - two.created), abs(one.length - two.length)) <= 2 * CREATED_WITHIN


def _corrected(
    one: Recording, said: Seconds, measured: Sequence[tuple[Recording, Found]], pace: Pace
) -> Found | None:
    """By start timecode, else by creation time; both by the nearest measured one of that camera's clock."""
    same = [
        (abs(near.created - said), near.created, near, there)
        for near, there in measured
        if near.camera is not None and near.camera == one.camera and near.created is not None
    ]
    same = sorted((row for row in same if row[0] < DAY), key=lambda row: row[0])
    found = []
    for far, _, near, there in same:
        label, other = one.label, near.label
        if label is not None and other is not None:
            since = (label - other + DAY // 2) % DAY - DAY // 2
            within = there.within + 1 / one.first.rate.exact + far * pace.within
            if _near_created(one, near, since):
                found.append(Found(there.start + since * pace.value, pace, within, Rung.TIMECODE))
    if found:
        return _doubted(found)
    at_end = _stamps_the_end([(own, near.length, there.start) for _, own, near, there in same])
    for far, own, near, there in same:
        longer = near.length - one.length
        since = said - own + (longer if at_end else 0)
        within = there.within + CREATED_WITHIN + far * pace.within + (abs(longer) if at_end is None else 0)
        found.append(Found(there.start + since * pace.value, pace, within, Rung.CREATION))
    return _doubted(found)


def _doubted(found: Sequence[Found]) -> Found | None:
    """The first, as unsure as others that contradict it are far off: then the clock was set in between."""
    if not found:
        return None
    first = found[0]
    apart = [(abs(other.start - first.start), first.within + other.within) for other in found[1:]]
    return replace(first, within=max([first.within, *(far for far, room in apart if far > room)]))


def _near_created(one: Recording, near: Recording, since: Seconds) -> bool:
    """Whether the timecode ran through between two recordings: their creation times are as far apart as it says."""
    if near.created is None or one.created is None:
        return False
    return abs(one.created - near.created - since) <= 2 * CREATED_WITHIN + abs(one.length - near.length)


def _stamps_the_end(same: Sequence[tuple[Seconds, Seconds, Seconds]]) -> bool | None:
    """Whether a camera writes the end of a recording as its creation time; None if nobody can tell.

    `same` are creation time, length and start of its measured recordings, the nearest first. Two whose lengths differ
    tell it: its error is the same at one end. Else a clock that is right at one end but for its zone does. Else the
    start is taken, unless the stamp is nearer the end.
    """
    if not same:
        return None
    starts = [own - start for own, _, start in same]
    ends = [own - start - length for own, length, start in same]
    steady = [max(off) - min(off) <= 2 * CREATED_WITHIN for off in (starts, ends)]
    right = [abs(off - round(off / ZONE) * ZONE) <= 2 * CREATED_WITHIN for off in (starts[0], ends[0])]
    for told in (steady, right):
        if told[0] != told[1]:
            return told[1]
    nearer_end = abs(ends[0]) < abs(starts[0])
    return nearer_end if all(right) else None if nearer_end else False
