"""The ladder: for each clip the surest rung that it stands on.

1. What was measured in the clip itself: a filmed clock, else a chirp, else sound against a placed clip.
2. Its camera's own clock, start timecode before creation time, corrected by what that camera's measured clips of the
   same day tell about it.
3. Its creation time with the camera's `clock:` in job.md. A measurement is preferred to that figure: it was made on
   the day and knows fractions of a second, while the figure was written by a person, once for all days.
4. Its creation time alone. Beside clips that were measured, such a clip is not placed: the draft would show moments
   that nobody checked as if they were as sure. In a job where nothing was measured all clips stay where their files
   say, which is all that there is, and are called unchecked.

What sound says of a camera whose clock says something else is believed as `far.py` has it.

Files of one recording that the camera split are one: a clue in one of them places them all.
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import replace
from fractions import Fraction

from episodekit.base.findings import Finding
from episodekit.footage.model import PlacedClip
from episodekit.job.model import Plan
from episodekit.sync.far import doubted, doubts
from episodekit.sync.line import DRIFT, Pace, pace_of, start_of
from episodekit.sync.model import LOOSEST, MEASURED, Clue, Residual, Rung, Synced
from episodekit.sync.own_clock import DAY, Found, by_its_camera
from episodekit.sync.recordings import Recording, recordings_of
from episodekit.sync.told import Judged, told, why_not


def climb(
    clips: Sequence[PlacedClip], clues: Iterable[Clue], plan: Plan, unheard: frozenset[str] = frozenset()
) -> tuple[tuple[Synced, ...], tuple[Finding, ...]]:
    """Place each clip on its surest rung. `clips` as `place_clips` gives them; the result is in their order.

    `unheard` are the paths of clips whose sound was compared with that of all that are placed, in vain.
    """
    recordings = recordings_of(clips)
    of_file = {file.clip.path: n for n, one in enumerate(recordings) for file in one.files}
    own: list[list[Clue]] = [[] for _ in recordings]
    for clue in clues:
        if clue.clip in of_file and clue.rung in MEASURED:
            n = of_file[clue.clip]
            own[n].append(replace(clue, at=clue.at + recordings[n].offsets[clue.clip]))
    best = [_best(group) for group in own]
    paces = _paces(recordings, best)
    by_clues = [
        _measured(group, paces.get(_camera_day(one, group), Pace()))
        for one, group in zip(recordings, best, strict=True)
    ]
    placed_by = list(zip(recordings, by_clues, strict=True))
    against = doubts(placed_by, own, plan)
    by_clues = list(doubted(placed_by, against, best))
    measured = [(one, there) for one, there in zip(recordings, by_clues, strict=True) if there is not None]
    judged = []
    for one, there, group, doubt in zip(recordings, by_clues, own, against, strict=True):
        pace = paces.get(_camera_day(one, ()), Pace())
        found = there or by_its_camera(one, measured, pace, plan, recordings)
        judged.append(Judged(one, found, _sure_enough(found, bool(measured)), group, doubt))
    result = {
        synced.clip: synced
        for one in judged
        for synced in _synced(one.recording, one.found, one.placed, one.clues)
    }
    return tuple(result[placed.clip.path] for placed in clips), told(judged, plan, unheard)


def _measured(group: Sequence[Clue], pace: Pace) -> Found | None:
    if not group:
        return None
    start, within = start_of(group, pace)
    return Found(start, pace, within, group[0].rung)


def _sure_enough(found: Found | None, measured: bool) -> bool:
    """Whether a recording is placed there; `measured` says whether any of the job was measured."""
    return found is not None and (found.within <= LOOSEST or (found.unchecked and not measured))


def _best(group: Sequence[Clue]) -> list[Clue]:
    """The clues of the surest rung there is, without those that the most of them contradict."""
    for rung in MEASURED:
        clues = [clue for clue in group if clue.rung is rung]
        best: list[Clue] = []
        for one in clues:
            if len(best) < len(clues):  # mostly the first agrees with all
                best = max(best, [two for two in clues if _agree(one, two)], key=len)
        if best:
            return best
    return []


def _agree(one: Clue, two: Clue) -> bool:
    apart = abs((one.wall - one.at) - (two.wall - two.at))
    return apart <= one.in_all + two.in_all + abs(one.at - two.at) / 2000


def _camera_day(one: Recording, group: Sequence[Clue]) -> tuple[str, int]:
    """Whose clock a recording ran on, and on which day by that clock; a clip of no camera is alone."""
    start = group[0].wall - group[0].at if group and one.created is None else one.created
    return one.camera or one.first.path, int(start // DAY) if start is not None else 0


def _paces(recordings: Sequence[Recording], best: Sequence[Sequence[Clue]]) -> dict[tuple[str, int], Pace]:
    groups: dict[tuple[str, int], list[Sequence[Clue]]] = {}
    for one, group in zip(recordings, best, strict=True):
        if group:
            groups.setdefault(_camera_day(one, group), []).append(group)
    return {key: _pace(clues) for key, clues in groups.items()}


def _pace(groups: Sequence[Sequence[Clue]]) -> Pace:
    """By the log's own clock if that tells it, else by other cameras' too."""
    surely = pace_of([group for group in groups if group[0].rung is not Rung.SOUND])
    return surely if surely.within < DRIFT else pace_of(groups)


def _synced(one: Recording, found: Found | None, placed: bool, group: Sequence[Clue]) -> Iterable[Synced]:
    for file in one.files:
        clip, into = file.clip, one.offsets[file.clip.path]
        nowhere = Synced(
            clip.path, clip.identity, one.camera, None, Fraction(1), None, None, why=why_not(found)
        )
        if found is None or not placed:
            yield nowhere
            continue
        residuals = tuple(
            Residual(replace(clue, at=clue.at - into), clue.wall - found.start - clue.at * found.pace.value)
            for clue in group
            if clue.clip == clip.path
        )
        yield replace(
            nowhere,
            start=found.start + into * found.pace.value,
            pace=found.pace.value,
            steep=found.pace.within,
            within=found.within + into * found.pace.within,
            rung=found.rung,
            residuals=residuals,
            why=found.why,
        )
