"""The ladder: for each clip the surest rung that it stands on, and where clues contradict each other.

1. What was measured in the clip itself: a filmed clock, else a chirp, else sound against a placed clip.
2. Its camera's own clock, start timecode before creation time, corrected by what that camera's measured clips of the
   same day tell about it.
3. Its creation time with the camera's `clock:` in job.md. A measurement is preferred to that figure: it was made on
   the day and knows fractions of a second, while the figure was written by a person, once for all days.

Files of one recording that the camera split are one: a clue in one of them places them all.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, replace
from fractions import Fraction

from episodekit.base.findings import Finding, finding
from episodekit.base.place import Place
from episodekit.base.time import Seconds
from episodekit.base.timecode import label_to_frames
from episodekit.footage.clocks import wall
from episodekit.footage.model import Clip, PlacedClip
from episodekit.footage.rates import timecode_rate
from episodekit.job.model import Plan
from episodekit.sync import rules
from episodekit.sync.line import Pace, pace_of, start_of
from episodekit.sync.model import UNCHECKED, Clue, Residual, Rung, Synced

MEASURED = (Rung.FILMED_CLOCK, Rung.CHIRP, Rung.SOUND)
CREATED_WITHIN = Seconds(1)
"""Creation times are whole seconds on most cameras."""

LOOSEST = Seconds(5)
"""A clip that is known no better is not placed. Common practice, no source."""

_DAY = 86_400
_BY_HAND_WITHIN = Seconds(2)


@dataclass(frozen=True)
class _Recording:
    """Files that follow each other without a gap; `offsets` are their beginnings in it, by path."""

    camera: str | None
    files: tuple[PlacedClip, ...]
    offsets: Mapping[str, Seconds]

    @property
    def first(self) -> Clip:
        return self.files[0].clip

    @property
    def length(self) -> Seconds:
        return sum((file.clip.duration for file in self.files), Fraction(0))


@dataclass(frozen=True)
class _Found:
    start: Seconds
    pace: Pace
    within: Seconds
    rung: Rung
    why: str = ""


def climb(
    clips: Sequence[PlacedClip], clues: Iterable[Clue], plan: Plan
) -> tuple[tuple[Synced, ...], tuple[Finding, ...]]:
    """Place each clip on its surest rung. `clips` as `place_clips` gives them; the result is in their order."""
    recordings = _recordings(clips)
    of_file = {file.clip.path: n for n, one in enumerate(recordings) for file in one.files}
    own: list[list[Clue]] = [[] for _ in recordings]
    for clue in clues:
        if clue.clip in of_file and clue.rung in MEASURED:
            n = of_file[clue.clip]
            own[n].append(replace(clue, at=clue.at + recordings[n].offsets[clue.clip]))
    best = [_best(group) for group in own]
    paces = _paces(recordings, best)
    found: list[_Found | None] = []
    for one, group in zip(recordings, best, strict=True):
        pace = paces.get(_camera_day(one, group), Pace())
        if group:
            start, within = start_of(group, pace)
            found.append(_Found(start, pace, within, group[0].rung))
        else:
            found.append(None)
    measured = [(one, there) for one, there in zip(recordings, found, strict=True) if there is not None]
    placed = [
        there or _by_its_camera(one, measured, paces, plan)
        for one, there in zip(recordings, found, strict=True)
    ]
    findings = [
        told
        for one, there, group in zip(recordings, placed, own, strict=True)
        for told in _judged(one, there, group, plan)
    ]
    result = {
        synced.clip: synced
        for one, there, group in zip(recordings, placed, own, strict=True)
        for synced in _synced(one, there, group)
    }
    return tuple(result[placed.clip.path] for placed in clips), tuple(findings)


def _recordings(clips: Sequence[PlacedClip]) -> list[_Recording]:
    by_path = {placed.clip.path: placed for placed in clips}
    found = []
    for placed in clips:
        if placed.clip.before is not None:
            continue
        files, offsets, at = [placed], {placed.clip.path: Fraction(0)}, placed.clip.duration
        while files[-1].clip.after is not None:
            following = by_path[files[-1].clip.after.path]
            offsets[following.clip.path] = at
            at += following.clip.duration
            files.append(following)
        found.append(_Recording(placed.camera, tuple(files), offsets))
    return found


def _best(group: Sequence[Clue]) -> list[Clue]:
    """The clues of the surest rung there is, without those that the most of them contradict."""
    for rung in MEASURED:
        clues = [clue for clue in group if clue.rung is rung]
        if clues:
            agreeing = [[two for two in clues if _agree(one, two)] for one in clues]
            return max(agreeing, key=len)
    return []


def _agree(one: Clue, two: Clue) -> bool:
    apart = abs((one.wall - one.at) - (two.wall - two.at))
    return apart <= one.within + two.within + abs(one.at - two.at) / 2000


def _camera_day(one: _Recording, group: Sequence[Clue]) -> tuple[str, int]:
    """Whose clock a recording ran on, and on which day; a clip of no camera is alone."""
    start = group[0].wall - group[0].at if group else _clock_of(one.first)
    return one.camera or one.first.path, int(start // _DAY) if start is not None else 0


def _clock_of(clip: Clip) -> Seconds | None:
    return None if clip.created is None else wall(clip.created)


def _paces(recordings: Sequence[_Recording], best: Sequence[Sequence[Clue]]) -> dict[tuple[str, int], Pace]:
    groups: dict[tuple[str, int], list[Sequence[Clue]]] = {}
    for one, group in zip(recordings, best, strict=True):
        if group:
            groups.setdefault(_camera_day(one, group), []).append(group)
    return {key: pace_of(clues) for key, clues in groups.items()}


def _by_its_camera(
    one: _Recording,
    measured: Sequence[tuple[_Recording, _Found]],
    paces: Mapping[tuple[str, int], Pace],
    plan: Plan,
) -> _Found | None:
    """A recording by its camera's own clock: corrected by the nearest measured one of that day, else as set by hand."""
    said = _clock_of(one.first)
    pace = paces.get(_camera_day(one, ()), Pace())
    same = [
        (abs(there.start - said), near, there)
        for near, there in measured
        if said is not None and near.camera is not None and near.camera == one.camera
    ]
    same = [row for row in same if row[0] < _DAY]
    for far, near, there in sorted(same, key=lambda row: row[0]):
        label, other = _label_of(one.first), _label_of(near.first)
        if label is not None and other is not None:
            since = (label - other + _DAY // 2) % _DAY - _DAY // 2
            within = there.within + 1 / one.first.rate.exact + far * pace.within
            start = there.start + since * pace.value
            if _near_created(one, near, since):
                return _Found(start, pace, within, Rung.TIMECODE)
    if said is None:
        return None
    at_end = _stamps_the_end(same)
    for far, near, there in sorted(same, key=lambda row: row[0]):
        own = _clock_of(near.first)
        if own is not None:
            since = said - own + (near.length - one.length if at_end else 0)
            within = there.within + CREATED_WITHIN + far * pace.within
            return _Found(there.start + since * pace.value, pace, within, Rung.CREATION)
    camera = plan.front.cameras.get(one.camera or "")
    by_hand = camera.clock if camera is not None else Fraction(0)
    rung = Rung.BY_HAND if by_hand else Rung.CREATION
    return _Found(said + by_hand, pace, _BY_HAND_WITHIN, rung, UNCHECKED)


def _near_created(one: _Recording, near: _Recording, since: Seconds) -> bool:
    """Whether the timecode ran through between two recordings: their creation times are as far apart as it says."""
    first, second = _clock_of(near.first), _clock_of(one.first)
    if first is None or second is None:
        return False
    return abs(second - first - since) <= 2 * CREATED_WITHIN + abs(one.length - near.length)


def _stamps_the_end(same: Sequence[tuple[Seconds, _Recording, _Found]]) -> bool:
    """Whether a camera writes the end of a recording as its creation time: then its error is the same measured there.

    Two measured recordings whose lengths differ tell it.
    """
    if len(same) < 2:
        return False
    off = [(_clock_of(near.first) or Fraction(0)) - there.start for _, near, there in same]
    at_end = [one - near.length for one, (_, near, _) in zip(off, same, strict=True)]
    return max(off) - min(off) > 2 * CREATED_WITHIN and max(at_end) - min(at_end) <= 2 * CREATED_WITHIN


def _label_of(clip: Clip) -> Seconds | None:
    """The start timecode in seconds since its midnight."""
    if clip.start_timecode is None or clip.variable:
        return None
    rate = timecode_rate(clip.rate, ";" in clip.start_timecode)
    try:
        return Fraction(label_to_frames(clip.start_timecode, rate)) / rate.exact
    except ValueError:
        return None


def _judged(one: _Recording, there: _Found | None, group: Sequence[Clue], plan: Plan) -> Iterable[Finding]:
    at = Place(one.first.path)
    if there is None or there.within > LOOSEST:
        loose = "" if there is None else f": its {there.rung} is sure to {float(there.within):.1f} s only"
        said = f"Nothing tells well enough when it rolled{loose}."
        yield finding(
            rules.NOT_PLACED, at, said, "Log its marks as `clip @ 0:12.5`, or film the log's clock."
        )
        return
    for clue in group:
        off = clue.wall - there.start - clue.at * there.pace.value
        room = clue.within + there.within + clue.at * there.pace.within
        if abs(off) > room:
            said = f"Its {clue.rung} at {float(clue.at):.1f} s puts it {_apart(off)} than its {there.rung}."
            yield finding(rules.CONFLICT, at, said, "Look at both places in the clip.")
    camera = plan.front.cameras.get(one.camera or "")
    said_by_file = _clock_of(one.first)
    if camera is not None and camera.clock and said_by_file is not None and there.rung in MEASURED:
        off = said_by_file + camera.clock - there.start
        if abs(off) > _BY_HAND_WITHIN + one.length:
            said = f"The `clock:` of {one.camera} puts it {_apart(off)} than its {there.rung}, which is used."
            yield finding(
                rules.CONFLICT, at, said, f"Correct `clock:` of {one.camera} in job.md, or delete it."
            )


def _apart(off: Seconds) -> str:
    return f"{abs(float(off)):.3f} s {'later' if off > 0 else 'earlier'}"


def _synced(one: _Recording, there: _Found | None, group: Sequence[Clue]) -> Iterable[Synced]:
    for file in one.files:
        clip, into = file.clip, one.offsets[file.clip.path]
        if there is None or there.within > LOOSEST:
            yield Synced(
                clip.path, clip.identity, one.camera, None, Fraction(1), None, None, (), "not placed"
            )
            continue
        start = there.start + into * there.pace.value
        residuals = tuple(
            Residual(replace(clue, at=clue.at - into), clue.wall - there.start - clue.at * there.pace.value)
            for clue in group
            if clue.clip == clip.path
        )
        within = there.within + into * there.pace.within
        yield Synced(
            clip.path,
            clip.identity,
            one.camera,
            start,
            there.pace.value,
            within,
            there.rung,
            residuals,
            there.why,
        )
