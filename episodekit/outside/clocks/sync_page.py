"""out/sync.html: the day as a strip for each camera, with the marks over it."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import UTC, datetime, timedelta, timezone
from fractions import Fraction

from episodekit.base.time import Seconds
from episodekit.bench.model import WALL, Kind, PlacedMark
from episodekit.footage.clocks import place_clips, place_marks
from episodekit.footage.model import Known, PlacedClip
from episodekit.job.model import Plan
from episodekit.outside.job_folder import OpenJob
from episodekit.outside.pages import filled_page
from episodekit.sync.model import Synced

_NOT_OF_THE_WORK = (Kind.PRIVATE, Kind.PUBLIC, Kind.CHIRP)

_LEAST = Fraction(3, 10)
"""Per cent of the strip's width below which a clip could not be seen."""


@dataclass(frozen=True)
class Bar:
    """A clip on its strip, in per cent of the width; `loose` is how far its start may be off."""

    name: str
    left: float
    width: float
    loose: float
    used: bool


@dataclass(frozen=True)
class Tick:
    """A mark over the strips; `filmed` if a camera was running."""

    left: float
    said: str
    time: str
    filmed: bool


@dataclass(frozen=True)
class Row:
    """A clip in the table."""

    name: str
    camera: str
    time: str
    rung: str
    within: str
    pace: str
    residuals: tuple[str, ...]
    used: bool


def sync_page(job: OpenJob, plan: Plan, synced: Sequence[Synced]) -> str:
    """The page's text. Times in the plan's offset from UTC, else in UTC."""
    known = {one.clip: Known(one.start, one.pace, one.within) for one in synced}
    clips, _ = place_clips(job.clips, plan, known)
    marks, _ = place_marks(job.marks, clips, plan.front.utc_offset)
    on_wall = [mark for mark in marks if mark.moment.clock == WALL and mark.mark.kind not in _NOT_OF_THE_WORK]
    edges = [mark.moment.seconds for mark in on_wall]
    for clip in clips:
        edges += [at for at in (clip.start, clip.end) if at is not None]
    first, last = min(edges, default=Fraction(0)), max(edges, default=Fraction(1))
    scale = 100 / max(last - first, Fraction(1))
    zone = timezone(plan.front.utc_offset) if plan.front.utc_offset is not None else UTC
    ticks = [_tick(mark, clips, first, scale, zone) for mark in on_wall]
    strips: dict[str, list[Bar]] = {}
    for clip in clips:
        if clip.start is not None and clip.end is not None:
            wide = max(_LEAST, (clip.end - clip.start) * scale)
            left, loose = float((clip.start - first) * scale), float((clip.within or 0) * scale)
            bar = Bar(_name(clip.clip.path), left, float(wide), loose, _used(clip, on_wall))
            strips.setdefault(clip.camera or "no camera", []).append(bar)
    return filled_page(
        "sync.html",
        title=plan.front.title,
        begins=_time(first, zone) if edges else "",
        ends=_time(last, zone) if edges else "",
        strips=strips,
        ticks=ticks,
        rows=[_row(one, clip, on_wall, zone) for one, clip in zip(synced, clips, strict=True)],
    )


def _tick(
    mark: PlacedMark, clips: Sequence[PlacedClip], first: Seconds, scale: Fraction, zone: timezone
) -> Tick:
    at = mark.moment.seconds
    filmed = any(
        clip.start is not None and clip.end is not None and clip.start <= at <= clip.end for clip in clips
    )
    said = " ".join(part for part in (mark.mark.kind.value, mark.mark.step or "") if part)
    return Tick(float((at - first) * scale), said, _time(at, zone), filmed)


def _used(clip: PlacedClip, marks: Sequence[PlacedMark]) -> bool:
    """Whether a mark falls into the clip."""
    if clip.start is None or clip.end is None:
        return False
    return any(clip.start <= mark.moment.seconds <= clip.end for mark in marks)


def _row(one: Synced, clip: PlacedClip, marks: Sequence[PlacedMark], zone: timezone) -> Row:
    return Row(
        _name(one.clip),
        one.camera or "",
        "not placed" if one.start is None else _time(one.start, zone),
        one.rung or "",
        "" if one.within is None else f"± {float(one.within):.3f} s",
        "" if one.pace == 1 else f"{float((one.pace - 1) * 1_000_000):+.1f} ppm",
        tuple(
            f"{r.clue.rung} at {float(r.clue.at):.1f} s: {float(r.off) * 1000:+.1f} ms" for r in one.residuals
        ),
        _used(clip, marks),
    )


def _time(at: Seconds, zone: timezone) -> str:
    moment = datetime(1970, 1, 1, tzinfo=UTC) + timedelta(milliseconds=int(at * 1000))
    return moment.astimezone(zone).strftime("%H:%M:%S.%f")[:-3]


def _name(path: str) -> str:
    return path.removeprefix("footage/")
