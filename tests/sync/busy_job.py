"""Two days at the bench: three cameras, forty steps, several hundred marks; what nobody filmed is known by design."""

from __future__ import annotations

from datetime import UTC, datetime, timedelta
from fractions import Fraction
from pathlib import Path

from episodekit.base.findings import Finding
from episodekit.base.place import Place
from episodekit.base.time import Rate
from episodekit.bench.model import Kind, Mark
from episodekit.footage.clocks import place_clips, wall
from episodekit.footage.model import Clip
from episodekit.job.model import Plan
from episodekit.job.reader import read_plan
from episodekit.outside.job_folder import OpenJob
from episodekit.sync.ladder import climb
from episodekit.sync.model import Clue, Rung, Synced

CAMERAS = ("top", "macro", "side")
STEPS = 40
MORNING = datetime(2026, 11, 7, 9, 0, tzinfo=UTC)
EACH = timedelta(minutes=16)
OF_A_DAY = 28
"""Steps of the first day; the second begins 24 hours after the first."""

BARE, PART, LUNCH = 14, 20, 25
"""The step that nobody filmed; the one of which 90 s are missing; the one before which a clip was filmed in vain."""


def begins(step: int) -> datetime:
    """When a step is begun, counted from 1."""
    day, n = divmod(step - 1, OF_A_DAY) if step <= OF_A_DAY else (1, step - 1 - OF_A_DAY)
    return MORNING + day * timedelta(days=1) + n * EACH


def job(
    bare: str = f"Part {BARE} of the work",
) -> tuple[OpenJob, Plan, tuple[Synced, ...], tuple[Finding, ...]]:
    """The job, where its clips were put, all but one by a filmed clock, and what is wrong with that.

    `bare` is the title of the step that nobody filmed.
    """
    head = "---\ntitle: Two days with an old amplifier\nutc offset: +00:00\ncameras:\n"
    head += "".join(f"  {name}: {{view: {name}}}\n" for name in CAMERAS) + "---\n# All\n"
    text = head + "".join(
        f"## {bare if n == BARE else f'Part {n} of the work'} {{#s{n}}}\n> Words here.\n\n"
        for n in range(1, STEPS + 1)
    )
    plan, _ = read_plan(text.encode(), "job.md")
    assert plan is not None
    marks: list[Mark] = []
    clips: list[Clip] = []
    for n in range(1, STEPS + 1):
        at = begins(n)
        minutes = (0, 2, 3, 5, 6, 9, 10, 12)
        kinds = (Kind.START, Kind.KEEP, Kind.START, Kind.NOTE, Kind.KEEP, Kind.WAIT, Kind.START, Kind.DONE)
        for minute, kind in zip(minutes, kinds, strict=True):
            marks.append(
                Mark(at + timedelta(minutes=minute), kind, f"s{n}", "", Place("bench.jsonl", len(marks) + 1))
            )
        if n != BARE:
            late = timedelta(seconds=90 if n == PART else -20)
            for camera in CAMERAS if n % 3 else CAMERAS[:1]:
                clips.append(clip(f"{camera}-{n:02d}.mp4", at + late, timedelta(minutes=13) - late))
    clips.append(clip("side-lunch.mp4", begins(LUNCH) - timedelta(minutes=3), timedelta(minutes=2)))
    clips.append(clip("loose.mp4", begins(3), timedelta(minutes=1)))
    placed, _ = place_clips(clips, plan)
    clues = [
        Clue(one.path, Rung.FILMED_CLOCK, Fraction(5), wall(one.created) + 5, Fraction(6, 1000))
        for one in clips
        if one.created is not None and "loose" not in one.path
    ]
    synced, findings = climb(placed, clues, plan)
    return OpenJob(Path(), plan, tuple(marks), tuple(clips), (), {}), plan, synced, findings


def clip(name: str, at: datetime, long: timedelta) -> Clip:
    """A clip of no content."""
    seconds = Fraction(int(long.total_seconds()))
    return Clip(f"footage/{name}", seconds, Rate.parse("25"), 64, 36, "h264", "id-" + name, created=at)
