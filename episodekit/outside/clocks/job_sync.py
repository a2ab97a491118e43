"""Find out when each clip of a job rolled: read the clues, climb the ladder, then match the sound of what is left.

Sound goes from clip to clip: what is left is matched against what was measured last, until nothing new is placed. So a
clip leans on others only that were placed before it, never in a circle, and each step is as uncertain as the one before
and its own match together.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from fractions import Fraction
from pathlib import Path

from episodekit.base.findings import Finding, Severity
from episodekit.base.time import Seconds
from episodekit.bench.spans import spans_of
from episodekit.footage.cameras import UNCHECKED_WITHIN
from episodekit.footage.clocks import place_clips, place_marks
from episodekit.footage.model import Known, PlacedClip
from episodekit.job.model import Plan
from episodekit.outside.clocks.hearing import Ears
from episodekit.outside.clocks.kept import kept
from episodekit.outside.clocks.matching import VERSION, Match, matched
from episodekit.outside.job_folder import OpenJob
from episodekit.sync.ladder import climb
from episodekit.sync.model import MEASURED, Clue, Rung, Synced

_SLACK = 60
"""Seconds by which clips may lie apart and still be tried, besides what is uncertain: a match tells it better."""

Findings = tuple[Finding, ...]


def sync_job(
    job: OpenJob,
    plan: Plan,
    clues: Sequence[Clue],
    cache: Path,
    progress: Callable[[int, int], None] = lambda done, whole: None,
) -> tuple[tuple[Synced, ...], Findings]:
    """Place the job's clips. `clues` are those already found (filmed clocks, chirps).

    Matches are kept in `cache`. `progress` hears clips listened to and in all. Raises MediaError when the cache cannot
    be written.
    """
    placed, _ = place_clips(job.clips, plan)
    by_path = {one.clip.path: one for one in placed if one.clip.has_audio}
    ears = Ears(job.root)
    gathered = list(clues)
    synced, findings = climb(placed, gathered, plan)
    tried: set[str] = set()
    done = whole = 0
    while True:
        heard = [one for one in synced if one.clip in by_path]
        others = [one for one in heard if one.rung in MEASURED and one.clip not in tried]
        left = [one for one in heard if one.rung not in MEASURED]
        tried |= {one.clip for one in others}
        whole += len(left) if others else 0
        found: list[Clue] = []
        for one in left if others else ():
            for other in others:
                clips = by_path[one.clip], by_path[other.clip]
                if _may_meet(one, other, *clips):
                    found += _sound_clues(
                        one, other, _matched(other, one, by_path, job.root, cache / "clocks", ears)
                    )
            done += 1
            progress(done, whole)
        if not found:
            return synced, findings
        gathered += found
        synced, findings = climb(placed, gathered, plan)


def left_out(job: OpenJob, plan: Plan, synced: Sequence[Synced]) -> Findings:
    """The errors for which sync does without some of the plan, the log or the footage."""
    known = {one.clip: Known(one.start, one.pace, one.within) for one in synced}
    clips, _ = place_clips(job.clips, plan, known)
    marks, unplaced = place_marks(job.marks, clips, plan.front.utc_offset)
    _, odd = spans_of(marks, [step.id for step in plan.all_steps()])
    return tuple(
        one
        for one in (*job.findings, *unplaced, *odd)
        if one.severity is Severity.ERROR and one.at.file.startswith(("job.md", "bench.", "footage"))
    )


def _matched(
    one: Synced, two: Synced, by_path: Mapping[str, PlacedClip], root: Path, folder: Path, ears: Ears
) -> Match | None:
    clips = by_path[one.clip].clip, by_path[two.clip].clip
    return kept(folder, VERSION, clips, lambda: matched(*clips, root, ears), _rows, _read)


def _rows(match: Match | None) -> list[str] | None:
    return None if match is None else [str(value) for value in vars(match).values()]


def _read(rows: list[str] | None) -> Match | None:
    if rows is None:
        return None
    shift, pace, windows, of, first, last, near, steep = map(Fraction, rows)
    return Match(shift, pace, int(windows), int(of), first, last, near, steep)


def _may_meet(one: Synced, other: Synced, clip: PlacedClip, other_clip: PlacedClip) -> bool:
    """Whether two clips may have heard the same: different cameras, and not far apart by their clocks."""
    if one.camera is not None and one.camera == other.camera:
        return False
    start = clip.start if one.start is None else one.start
    if start is None or other.start is None:
        return True
    loose = UNCHECKED_WITHIN if one.within is None else one.within
    ends = min(start + clip.clip.duration, other.start + other_clip.clip.duration)
    return ends - max(start, other.start) > -_SLACK - loose


def _sound_clues(one: Synced, other: Synced, match: Match | None) -> list[Clue]:
    """One clue at either end of what both heard, so that the pace shows."""
    if match is None or other.start is None:
        return []
    found = []
    for at in (match.first, match.last):
        there = Seconds(match.shift + at * match.pace)
        shared = other.within_at(there)
        assert shared is not None
        said = f"{match.windows} of {match.of} stretches agree"
        wall = other.start + there * other.pace
        found.append(Clue(one.clip, Rung.SOUND, at, wall, match.near, other.clip, said, shared, other.steep))
    return found
