"""out/sync.html: each day as a strip for each camera, with the log over them; what nobody filmed, what nobody uses."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from datetime import UTC, datetime, timezone, tzinfo

from episodekit.base.findings import Finding, in_order
from episodekit.base.time import lasting, seconds_to_ms
from episodekit.bench.model import WALL, Kind
from episodekit.bench.spans import spans_of
from episodekit.footage.clocks import place_clips, place_marks
from episodekit.footage.model import Known
from episodekit.job.model import Plan
from episodekit.outside.clocks.sync_days import Work, date_of, days, time_of
from episodekit.outside.job_folder import OpenJob
from episodekit.outside.pages import filled_page
from episodekit.sync.model import Synced
from episodekit.sync.told import sureness
from episodekit.sync.use import Gap, gaps, used

_NOT_OF_THE_WORK = (Kind.PRIVATE, Kind.PUBLIC, Kind.CHIRP)


@dataclass(frozen=True)
class Bare:
    """A step that nobody filmed: its number and title, what of it is missing, and when that was."""

    number: int
    title: str
    missing: str
    when: tuple[str, ...]


@dataclass(frozen=True)
class Row:
    """A clip in the table; empty where nothing is known. `exact` is its time as exact as it is known."""

    name: str
    day: str
    time: str
    exact: str
    sure: str
    pace: str
    residuals: tuple[str, ...]
    used: bool


def sync_page(job: OpenJob, plan: Plan, synced: Sequence[Synced], findings: Sequence[Finding]) -> str:
    """The page's text, with what sync found wrong. Times in the plan's offset from UTC, else in the log's."""
    known = {one.clip: Known(one.start, one.pace, one.within) for one in synced}
    clips, _ = place_clips(job.clips, plan, known)
    marks, _ = place_marks(job.marks, clips, plan.front.utc_offset)
    spans, _ = spans_of(marks, [step.id for step in plan.all_steps()])
    shown = [mark for mark in marks if mark.moment.clock == WALL and mark.mark.kind not in _NOT_OF_THE_WORK]
    missing, in_use = gaps(spans, clips), used(clips, spans)
    zone = _zone(job, plan)
    rows = [_row(one, one.clip in in_use, zone) for one in sorted(synced, key=_when)]
    return filled_page(
        "sync.html",
        title=plan.front.title,
        zone=str(zone),
        days=days(Work(clips, shown, spans, missing, in_use, list(plan.front.cameras)), zone),
        bare=list(_bare(missing, plan, zone)),
        rows=rows,
        idle=[row for row in rows if row.time and not row.used],
        lost=[row for row in rows if not row.time],
        logged=len(shown),
        steps=bool(spans),
        findings=in_order(findings),
    )


def _zone(job: OpenJob, plan: Plan) -> tzinfo:
    """The plan's offset from UTC, else that of the log's first instant that has one, else UTC."""
    if plan.front.utc_offset is not None:
        return timezone(plan.front.utc_offset)
    instants = (mark.when for mark in job.marks if isinstance(mark.when, datetime))
    offset = next((when.utcoffset() for when in instants if when.tzinfo is not None), None)
    return UTC if offset is None else timezone(offset)


def _bare(missing: Sequence[Gap], plan: Plan, zone: tzinfo) -> Iterator[Bare]:
    steps = {step.id: (number, step.title) for number, step in enumerate(plan.all_steps(), 1)}
    for gap in missing:
        number, title = steps[gap.step]
        yield Bare(
            number,
            title,
            "" if gap.whole else lasting(seconds_to_ms(gap.length)),
            tuple(
                f"{date_of(start, zone)}, {time_of(start, zone)} to {time_of(end, zone)}"
                if end > start
                else f"{date_of(start, zone)}, from {time_of(start, zone)}"
                for start, end in gap.stretches
            ),
        )


def _when(one: Synced) -> tuple[bool, object, str]:
    """In the order in which they rolled, the ones that nobody knows last."""
    return one.start is None, 0 if one.start is None else one.start, one.clip


def _row(one: Synced, in_use: bool, zone: tzinfo) -> Row:
    return Row(
        one.clip.removeprefix("footage/"),
        "" if one.start is None else date_of(one.start, zone),
        "" if one.start is None else time_of(one.start, zone),
        "" if one.start is None else time_of(one.start, zone, finely=(one.within or 1) < 1),
        sureness(one),
        "" if one.pace == 1 else f"{float((one.pace - 1) * 1_000_000):+.1f} ppm",
        tuple(_clues(one)),
        in_use,
    )


def _clues(one: Synced) -> Iterator[str]:
    """Where in the clip each clue is and how far off, which a single one cannot be."""
    for found in one.residuals:
        off = f": {float(found.off) * 1000:+z.1f} ms" if len(one.residuals) > 1 else ""
        yield f"{found.clue.rung} at {float(found.clue.at):.1f} s{off}"
