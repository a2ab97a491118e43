"""Sound that puts a clip far from where its camera's clock does, and when that is not believed.

A clock that was never set is years off, so that alone tells nothing. But two clips of one camera are as far apart as
its clock says, unless it was set in between. So where sound says otherwise, a place is believed only if a second clip
of that camera bears it out, which a copy does not.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace

from episodekit.base.time import Seconds
from episodekit.footage.cameras import UNCHECKED_WITHIN, clock_by_hand
from episodekit.job.model import Plan
from episodekit.sync.line import DRIFT
from episodekit.sync.model import Clue, Rung
from episodekit.sync.own_clock import CREATED_WITHIN, DAY, Found, at_once, is_copy
from episodekit.sync.recordings import Recording

SLACK = Seconds(60)
"""Clips that lie so far apart may still have been near: a match tells it better than clocks."""

Placed = tuple[Recording, Found | None]


@dataclass(frozen=True)
class Doubt:
    """Sound puts a recording `later` seconds later than `other`, a clip's path, has it; negative: earlier.

    `by_clock`: that is a clip of the same camera, by whose clock they lie otherwise; else one that heard it too.
    """

    later: Seconds
    other: str
    by_clock: bool


def is_far(one: Recording, start: Seconds, plan: Plan) -> bool:
    """Whether that is farther from where its file says than a clock that was set may be; never where job.md says how
    far the clock is off: its sound was compared only near there.
    """
    if one.created is None or clock_by_hand(one.camera, plan) is not None:
        return False
    return abs(start - one.created) > UNCHECKED_WITHIN + SLACK


def doubts(placed: Sequence[Placed], clues: Sequence[Sequence[Clue]], plan: Plan) -> tuple[Doubt | None, ...]:
    """For each recording, what speaks against the place that sound gave it; None where nothing does.

    `clues` are its own, those that were not used among them.
    """
    return tuple(
        _of_two_times(there, group) or _by_its_clock(one, there, placed)
        if there is not None and there.rung is Rung.SOUND and is_far(one, there.start, plan)
        else None
        for (one, there), group in zip(placed, clues, strict=True)
    )


def doubted(
    placed: Sequence[Placed], found: Sequence[Doubt | None], clues: Sequence[Sequence[Clue]]
) -> tuple[Found | None, ...]:
    """The places, each as unsure as what speaks against it is far off; so is what leans on them by sound alone.

    `clues` are those of each that were used.
    """
    unsure = {
        file.clip.path: abs(doubt.later)
        for (one, _), doubt in zip(placed, found, strict=True)
        if doubt is not None
        for file in one.files
    }
    told = [there for _, there in placed]
    grew = bool(unsure)
    while grew:
        grew = False
        for n, (one, there) in enumerate(placed):
            if there is None or there.rung is not Rung.SOUND:
                continue
            path = one.first.path
            leans = [unsure.get(clue.other, Seconds(0)) for clue in clues[n] if clue.rung is Rung.SOUND]
            room = max(unsure.get(path, Seconds(0)), min(leans, default=Seconds(0)))
            if room > unsure.get(path, Seconds(0)):
                unsure |= {file.clip.path: room for file in one.files}
                grew = True
            told[n] = replace(there, within=max(there.within, room))
    return tuple(told)


def _of_two_times(there: Found, group: Sequence[Clue]) -> Doubt | None:
    """That as many clues of sound put it elsewhere."""
    off = [
        (clue.wall - there.start - clue.at * there.pace.value, clue)
        for clue in group
        if clue.rung is Rung.SOUND
    ]
    against = [(far, clue) for far, clue in off if abs(far) > 2 * CREATED_WITHIN]
    if 2 * len(against) < len(off) or not against:
        return None
    far, clue = against[0]
    return Doubt(-far, clue.other, by_clock=False)


def _by_its_clock(one: Recording, there: Found, placed: Sequence[Placed]) -> Doubt | None:
    """The nearest by its camera's clock of those that contradict it; None if there is none, or another bears it out."""
    rows = []
    for two, then in placed:
        if then is None or two is one or one.camera is None or two.camera != one.camera or is_copy(one, two):
            continue
        if one.created is None or two.created is None or abs(one.created - two.created) >= DAY:
            continue
        later = (there.start - one.created) - (then.start - two.created)
        at_end = later + one.length - two.length
        room = there.within + then.within + 2 * CREATED_WITHIN + abs(one.created - two.created) * DRIFT
        if min(abs(later), abs(at_end)) <= room:
            return None
        if not at_once(one, two):
            rows.append((abs(one.created - two.created), Doubt(later, two.first.path, by_clock=True)))
    return min(rows, key=lambda row: row[0])[1] if rows else None
