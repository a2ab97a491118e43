"""Find out when each clip of a job rolled: read the clues, climb the ladder, then match the sound of what is left."""

from __future__ import annotations

from collections.abc import Callable, Sequence

from episodekit.base.findings import Finding
from episodekit.footage.clocks import place_clips
from episodekit.footage.model import PlacedClip
from episodekit.job.model import Plan
from episodekit.outside.clocks.hearing import Ears
from episodekit.outside.clocks.matching import Match, matched
from episodekit.outside.job_folder import OpenJob
from episodekit.sync.ladder import climb
from episodekit.sync.model import Clue, Rung, Synced

_SLACK = 60
"""Seconds by which clips may lie apart by their own clocks and still be tried."""


def sync_job(
    job: OpenJob, plan: Plan, clues: Sequence[Clue] = (), progress: Callable[[int, int], None] | None = None
) -> tuple[tuple[Synced, ...], tuple[Finding, ...]]:
    """Place the job's clips. `clues` are those already found (filmed clocks, chirps)."""
    placed, _ = place_clips(job.clips, plan)
    gathered = list(clues)
    synced, findings = climb(placed, gathered, plan)
    ears = Ears(job.root)
    by_path = {one.clip.path: one for one in placed}

    sure = [one for one in synced if one.rung in (Rung.FILMED_CLOCK, Rung.CHIRP)]
    loose = [one for one in synced if one not in sure and by_path[one.clip].clip.has_audio]
    for number, one in enumerate(loose):
        for other in sure:
            if by_path[other.clip].clip.has_audio and _may_meet(one, other, by_path):
                clips = by_path[other.clip].clip, by_path[one.clip].clip
                gathered += _sound_clues(one, other, matched(*clips, job.root, ears))
        if progress is not None:
            progress(number + 1, len(loose))
    return climb(placed, gathered, plan) if len(gathered) > len(clues) else (synced, findings)


def _may_meet(one: Synced, other: Synced, by_path: dict[str, PlacedClip]) -> bool:
    """Whether two clips may have heard the same: different cameras, and not far apart by their clocks."""
    if one.camera is not None and one.camera == other.camera:
        return False
    if one.start is None or other.start is None:
        return True
    ends = [item.start + by_path[item.clip].clip.duration for item in (one, other) if item.start is not None]
    return min(ends) - max(one.start, other.start) > -_SLACK


def _sound_clues(one: Synced, other: Synced, match: Match | None) -> list[Clue]:
    """One clue at either end of what both heard, so that the pace shows."""
    if match is None or other.start is None or other.within is None:
        return []
    found = []
    for at in (match.first, match.last):
        wall = other.start + (match.shift + at * match.pace) * other.pace
        said = f"{match.windows} of {match.of} stretches agree"
        found.append(Clue(one.clip, Rung.SOUND, at, wall, other.within + match.near, other.clip, said))
    return found
