"""What a camera's own clock tells of a recording in which nothing was measured: corrected, by hand, or unchecked."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from fractions import Fraction

from episodekit.base.time import Seconds
from episodekit.footage.cameras import BY_HAND_WITHIN, UNCHECKED_WITHIN, clock_by_hand
from episodekit.job.model import Plan
from episodekit.sync.line import Pace
from episodekit.sync.model import AS_FILED, LOOSEST, Rung
from episodekit.sync.recordings import Recording

CREATED_WITHIN = Seconds(1)
"""Creation times are whole seconds on most cameras."""

DAY = 86_400


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
    one: Recording, measured: Sequence[tuple[Recording, Found]], pace: Pace, plan: Plan
) -> Found | None:
    """A recording by its camera's own clock; None if it has no creation time.

    Corrected by the nearest measured one of that camera within a day, unless that leaves it too loose and a person said
    how far the clock is off; else as said; else unchecked.
    """
    said = one.created
    if said is None:
        return None
    corrected = _corrected(one, said, measured, pace)
    given = clock_by_hand(one.camera, plan)
    if corrected is not None and (corrected.within <= LOOSEST or given is None):
        return corrected
    if given is not None:
        return Found(said + given, pace, BY_HAND_WITHIN, Rung.BY_HAND, AS_FILED)
    return Found(said, pace, UNCHECKED_WITHIN, Rung.CREATION, AS_FILED)


def _corrected(
    one: Recording, said: Seconds, measured: Sequence[tuple[Recording, Found]], pace: Pace
) -> Found | None:
    """By start timecode, else by creation time."""
    same = [
        (abs(there.start - said), near, there)
        for near, there in measured
        if near.camera is not None and near.camera == one.camera
    ]
    same = sorted((row for row in same if row[0] < DAY), key=lambda row: row[0])
    for far, near, there in same:
        label, other = one.label, near.label
        if label is not None and other is not None:
            since = (label - other + DAY // 2) % DAY - DAY // 2
            within = there.within + 1 / one.first.rate.exact + far * pace.within
            if _near_created(one, near, since):
                return Found(there.start + since * pace.value, pace, within, Rung.TIMECODE)
    at_end = _stamps_the_end(same)
    for far, near, there in same:
        own = near.created
        if own is not None:
            since = said - own + (near.length - one.length if at_end else 0)
            within = there.within + CREATED_WITHIN + far * pace.within
            return Found(there.start + since * pace.value, pace, within, Rung.CREATION)
    return None


def _near_created(one: Recording, near: Recording, since: Seconds) -> bool:
    """Whether the timecode ran through between two recordings: their creation times are as far apart as it says."""
    if near.created is None or one.created is None:
        return False
    return abs(one.created - near.created - since) <= 2 * CREATED_WITHIN + abs(one.length - near.length)


def _stamps_the_end(same: Sequence[tuple[Seconds, Recording, Found]]) -> bool:
    """Whether a camera writes the end of a recording as its creation time: then its error is the same measured there.

    Two measured recordings whose lengths differ tell it.
    """
    if len(same) < 2:
        return False
    off = [(near.created or Fraction(0)) - there.start for _, near, there in same]
    at_end = [one - near.length for one, (_, near, _) in zip(off, same, strict=True)]
    return max(off) - min(off) > 2 * CREATED_WITHIN and max(at_end) - min(at_end) <= 2 * CREATED_WITHIN
