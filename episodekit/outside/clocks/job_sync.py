"""Find out when each clip of a job rolled: read the clues, climb the ladder, then match the sound of what is left.

Sound goes from clip to clip: what is left is matched against what was measured near it, by the clocks, until nothing
new is placed. So a clip leans on others only that were placed before it, never in a circle, and each step is as
uncertain as the one before and its own match together. Then come cameras whose clock was never set: one clip after the
other is matched against all that was measured, until one is placed. That tells where its camera's others lie, and what
is near them is tried again.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from pathlib import Path

from episodekit.base.findings import Finding, Severity
from episodekit.bench.spans import spans_of
from episodekit.footage.clocks import place_clips, place_marks
from episodekit.footage.model import Known
from episodekit.job.model import Plan
from episodekit.outside.clocks.listener import Listener
from episodekit.outside.job_folder import OpenJob
from episodekit.sync.ladder import climb
from episodekit.sync.model import Clue, Synced

Findings = tuple[Finding, ...]


def sync_job(
    job: OpenJob,
    plan: Plan,
    clues: Sequence[Clue],
    cache: Path,
    progress: Callable[[int, int], None] = lambda done, whole: None,
) -> tuple[tuple[Synced, ...], Findings]:
    """Place the job's clips. `clues` are those already found (filmed clocks, chirps).

    Matches are kept in `cache`. `progress` hears pairs of clips compared and in all. Raises MediaError when the cache
    cannot be written.
    """
    placed, _ = place_clips(job.clips, plan)
    listener = Listener(job.root, [one for one in placed if one.clip.has_audio], cache / "clocks", progress)
    gathered = list(clues)
    synced, findings = climb(placed, gathered, plan)
    while found := listener.near(synced) or listener.far(synced, plan):
        gathered += found
        synced, findings = climb(placed, gathered, plan)
    unheard = listener.in_vain(synced, plan)
    return (synced, findings) if not unheard else climb(placed, gathered, plan, unheard)


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
