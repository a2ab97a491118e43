"""Who heard the same: a job's clips compared by sound, those that lie near each other first."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from fractions import Fraction
from pathlib import Path

from episodekit.base.time import Seconds
from episodekit.footage.cameras import UNCHECKED_WITHIN, clock_by_hand
from episodekit.footage.clocks import wall
from episodekit.footage.model import PlacedClip
from episodekit.job.model import Plan
from episodekit.outside.clocks.all_along import VERSION as ALL_ALONG
from episodekit.outside.clocks.all_along import heard_all_along
from episodekit.outside.clocks.hearing import Ears
from episodekit.outside.clocks.kept import kept
from episodekit.outside.clocks.matching import VERSION, Match, matched
from episodekit.sync.far import SLACK
from episodekit.sync.model import MEASURED, Clue, Rung, Synced

_BELIED = Seconds(30)
"""Clips that lie together for so long, by a clock, and did not hear the same cast doubt on that clock. Common practice,
no source."""

_Pair = tuple[Synced, Synced]


class Listener:
    """Compares clips of `clips`, those that have sound, by twos, and no two again; matches are kept in `folder`.

    Only two that were strangers wherever they lie may still be near: then they need not match all along. `progress`
    hears pairs compared and in all. Each method raises MediaError when the cache cannot be written.
    """

    def __init__(
        self, root: Path, clips: Sequence[PlacedClip], folder: Path, progress: Callable[[int, int], None]
    ) -> None:
        self._clips = {one.clip.path: one for one in clips}
        self._ears, self._folder, self._progress = Ears(root), folder, progress
        self._root = root
        self._near: set[frozenset[str]] = set()
        self._far: set[frozenset[str]] = set()
        self._compared = self._whole = 0

    def near(self, synced: Sequence[Synced]) -> list[Clue]:
        """Clues for what was not measured yet, by what was measured and lies near it."""
        measured, left = self._sorted(synced)
        pairs = [(one, other) for one in left for other in measured]
        pairs = [pair for pair in pairs if _names(pair) not in self._near and self._may_meet(*pair)]
        self._near |= set(map(_names, pairs))
        self._whole = self._compared + len(pairs)
        return [clue for one, other in pairs for clue in _clues(one, other, self._match(one, other))]

    def far(self, synced: Sequence[Synced], plan: Plan) -> list[Clue]:
        """Clues for the first clip that another camera's heard, wherever that one lies.

        Those that are not placed come first, then those placed by a clock that sound does not bear out; long before
        short.
        """
        measured, left = self._sorted(synced)
        asked = [one for one in left if self._is_lost(one, measured, plan)]
        asked.sort(key=lambda one: (one.start is not None, -self._clips[one.clip].clip.duration, one.clip))
        rows = [[(one, other) for other in measured if self._is_new(one, other)] for one in asked]
        self._whole = self._compared + sum(map(len, rows))
        for pairs in rows:
            self._far |= set(map(_names, pairs))
            if found := [clue for one, other in pairs for clue in self._clues_afar(one, other)]:
                return found
        return []

    def in_vain(self, synced: Sequence[Synced], plan: Plan) -> frozenset[str]:
        """The paths of clips that are not placed though they were compared with all that are."""
        measured, left = self._sorted(synced)
        lost = [one for one in left if one.start is None and self._is_lost(one, measured, plan)]
        return frozenset(one.clip for one in lost if any(_differ(one, other) for other in measured))

    def _sorted(self, synced: Sequence[Synced]) -> tuple[list[Synced], list[Synced]]:
        heard = [one for one in synced if one.clip in self._clips]
        return [one for one in heard if one.rung in MEASURED], [
            one for one in heard if one.rung not in MEASURED
        ]

    def _is_lost(self, one: Synced, measured: Sequence[Synced], plan: Plan) -> bool:
        """Whether nothing tells where it lies, or only a clock that was never set and that sound does not bear out.

        That is a clock that a single clip tells by sound, or that belies what this one heard.
        """
        created = self._clips[one.clip].clip.created
        if created is None:
            return one.start is None
        if clock_by_hand(one.camera, plan) is not None:
            return False
        if one.start is None:
            return True
        if abs(one.start - wall(created)) <= UNCHECKED_WITHIN + SLACK:
            return False
        heard = [other.rung for other in measured if other.camera == one.camera and other.residuals]
        if heard == [Rung.SOUND]:
            return True
        return any(_differ(one, other) and self._together(one, other) >= _BELIED for other in measured)

    def _may_meet(self, one: Synced, other: Synced) -> bool:
        """Whether two clips may have heard the same: different cameras, and not far apart by their clocks."""
        first = self._clips[one.clip].start if one.start is None else one.start
        if not _differ(one, other) or first is None:
            return False
        loose = UNCHECKED_WITHIN if one.within is None else one.within
        return self._together(one, other) > -SLACK - loose

    def _together(self, one: Synced, other: Synced) -> Seconds:
        """For how long both rolled, by their places or else their clocks; less than none: how far they lie apart."""
        first, second = self._clips[one.clip], self._clips[other.clip]
        start = first.start if one.start is None else one.start
        assert start is not None
        assert other.start is not None
        ends = min(start + first.clip.duration, other.start + second.clip.duration)
        return ends - max(start, other.start)

    def _is_new(self, one: Synced, other: Synced) -> bool:
        names = _names((one, other))
        return _differ(one, other) and names not in self._near and names not in self._far

    def _clues_afar(self, one: Synced, other: Synced) -> list[Clue]:
        match = self._match(one, other)
        if match is None:
            return []
        clips = self._clips[other.clip].clip, self._clips[one.clip].clip
        version = f"{ALL_ALONG} of {VERSION}"  # an answer is about the match that was found then
        same = kept(
            self._folder, version, clips, lambda: heard_all_along(*clips, match, self._ears), bool, bool
        )
        return _clues(one, other, match) if same else []

    def _match(self, one: Synced, other: Synced) -> Match | None:
        clips = self._clips[other.clip].clip, self._clips[one.clip].clip
        found = kept(
            self._folder, VERSION, clips, lambda: matched(*clips, self._root, self._ears), _rows, _read
        )
        self._compared += 1
        self._progress(self._compared, self._whole)
        return found


def _names(pair: _Pair) -> frozenset[str]:
    return frozenset(one.clip for one in pair)


def _differ(one: Synced, other: Synced) -> bool:
    return one.camera is None or one.camera != other.camera


def _rows(match: Match | None) -> list[str] | None:
    return None if match is None else [str(value) for value in vars(match).values()]


def _read(rows: list[str] | None) -> Match | None:
    if rows is None:
        return None
    shift, pace, windows, of, first, last, near, steep = map(Fraction, rows)
    return Match(shift, pace, int(windows), int(of), first, last, near, steep)


def _clues(one: Synced, other: Synced, match: Match | None) -> list[Clue]:
    """One clue at either end of what both heard, so that the pace shows."""
    if match is None or other.start is None:
        return []
    found = []
    for at in (match.first, match.last):
        there = Seconds(match.shift + at * match.pace)
        shared = other.within_at(there)
        assert shared is not None
        said = f"{match.windows} of {match.of} stretches agree"
        wall_time = other.start + there * other.pace
        found.append(
            Clue(one.clip, Rung.SOUND, at, wall_time, match.near, other.clip, said, shared, other.steep)
        )
    return found
