"""Render the pictures of a draft, piece by piece, side by side.

What lies in the cache is not rendered again. A stretch of footage that gives no picture is replaced by
a slate that says so, and the work goes on.
"""

from __future__ import annotations

import threading
from collections.abc import Callable
from dataclasses import dataclass, replace

from episodekit.base.findings import Finding, finding
from episodekit.base.place import Place
from episodekit.base.time import clock, seconds_to_ms
from episodekit.outside.media.ffmpeg_door import Children
from episodekit.outside.media.recipes.pieces import Piece, is_fast, pieces, scanned_with
from episodekit.outside.media.rendering.piece_job import PictureJob, Tally
from episodekit.outside.media.rendering.recut import Facts
from episodekit.outside.media.rendering.soundtrack import Sounds
from episodekit.outside.media.rendering.studio import Studio
from episodekit.outside.workers import Task, run_all
from episodekit.timeline.model import Card, Picture, Segment
from episodekit.timeline.rules import UNREADABLE


@dataclass(frozen=True)
class Parts:
    """Cache entries in playing order: a picture for each piece.

    `pieces` are what was rendered in the end, with slates for what gave no picture.

    `new` are the numbers of the segments of which some picture had to be rendered. `facts` tell what every
    piece was made from, `made` those that were rendered.
    """

    pieces: tuple[Piece, ...]
    pictures: tuple[str, ...]
    new: frozenset[int]
    findings: tuple[Finding, ...]
    facts: tuple[Facts, ...]
    made: tuple[Facts, ...]


def make_parts(
    studio: Studio,
    workers: int,
    progress: Callable[[int, int], None],
    stop: threading.Event,
    children: Children,
    sounds: Sounds,
    also: Task[bool],
    end: Callable[[], None],
) -> Parts:
    """Render whatever the cache lacks; `children` run ffmpeg, here or elsewhere, and `end` ends all that runs.

    `also` is done beside the pictures. The entries of `sounds` are named to other runs as needed too. Raises
    MediaError and Cancelled.
    """
    timeline = studio.timeline
    lost = {
        number: _slate(timeline.segments[number], "the clip is not there") for number in sorted(studio.lost())
    }
    plan = list(pieces(timeline, studio.clips, {number: card for number, (card, _) in lost.items()}))
    findings = [told for _, told in lost.values()]

    tally = Tally(timeline.frames)
    jobs = [PictureJob(studio, children, tally, index, piece) for index, piece in enumerate(plan)]
    needed = [kept for kept in sounds.keys if kept]
    missing = sum(not studio.cache.entry(job.key).exists() for job in jobs)
    for number, job in enumerate(jobs):
        if is_fast(job.piece):
            before, after = scanned_with(plan, number, studio.look.rate)
            for near in (*before, number, *after):
                jobs[near].scanned = True
    if children.here:
        for job in jobs:  # after a small edit there is less to do than there are cores
            job.threads = max(1, workers // max(1, missing))
    studio.cache.need((*(job.key for job in jobs), *needed))
    tasks = [*(Task(job.cost, job.run) for job in jobs), also]

    def watch() -> None:
        progress(tally.done, tally.total)

    good = run_all(tasks, workers, stop, watch, end)

    again: list[Task[bool]] = []
    spoiled: list[PictureJob] = []
    for index, fine in enumerate(good[: len(jobs)]):
        if not fine:
            piece = plan[index]
            card, told = _slate(timeline.segments[piece.segment], jobs[index].why)
            findings.append(told)
            spoiled.append(jobs[index])
            jobs[index] = PictureJob(studio, children, tally, index, replace(piece, show=card))
            again.append(Task(piece.frames, jobs[index].run))
    studio.cache.need((*(job.key for job in jobs), *needed))
    run_all(again, workers, stop, watch, end)
    watch()
    return Parts(
        tuple(job.piece for job in jobs),
        tuple(job.key for job in jobs),
        frozenset(job.piece.segment for job in (*jobs, *spoiled) if job.new),
        tuple(findings),
        tuple(job.facts for job in jobs),
        tuple(job.facts for job in jobs if job.new),
    )


def _slate(segment: Segment, why: str) -> tuple[Card, Finding]:
    """The slate that stands for a stretch without a picture, and what to tell the creator."""
    picture = segment.source
    assert isinstance(picture, Picture)
    at = clock(seconds_to_ms(picture.start))
    card = Card(
        heading="No picture from this clip",
        kicker="Footage",
        lines=(picture.clip, f"from {at} in the clip", f"Why: {why}"),
        accent="caution",
    )
    told = finding(
        UNREADABLE,
        Place(picture.clip),
        f"From {at} on the clip gives no picture for the draft: {why}. A slate stands there.",
        "Copy the file from the card again, or take these marks out of the log.",
    )
    return card, told
