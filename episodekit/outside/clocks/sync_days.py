"""Each day as a strip: what was logged, and each camera's clips under it, in per cent of the day's width."""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass
from datetime import UTC, datetime, timedelta, tzinfo
from fractions import Fraction

from episodekit.base.time import Seconds
from episodekit.bench.model import WALL, PlacedMark, Span, SpanKind
from episodekit.footage.model import PlacedClip
from episodekit.sync.use import Gap, Stretch

_EPOCH = datetime(1970, 1, 1, tzinfo=UTC)
_MARGIN = Fraction(1, 100)
"""Of its length, free at either end of a strip."""

_SEEN = 0.25
"""Per cent of the width under which an uncertainty is no wider than the edge that shows it."""

_HOURS = tuple(60 * minutes for minutes in (1, 2, 5, 10, 15, 30, 60, 120, 180, 360))
_MOST_HOURS = 6
"""Times under a strip: so many fit side by side on a phone."""


@dataclass(frozen=True)
class Bar:
    """A stretch of a strip; `loose` is how far a clip's start may be off, 0 if that cannot be seen."""

    left: float
    width: float
    name: str = ""
    kind: str = ""
    loose: float = 0.0


@dataclass(frozen=True)
class Day:
    """A day of the job: places of marks and of hours, and each camera's clips, "" those of none."""

    date: str
    logged: tuple[Bar, ...]
    marks: tuple[float, ...]
    cameras: Mapping[str, tuple[Bar, ...]]
    hours: tuple[tuple[float, str], ...]


@dataclass(frozen=True)
class Work:
    """What was filmed and logged: `gaps` nobody filmed, `used` are the paths of the clips that a step uses."""

    clips: Sequence[PlacedClip]
    marks: Sequence[PlacedMark]
    spans: Sequence[Span]
    gaps: Sequence[Gap]
    used: frozenset[str]
    cameras: Sequence[str]


def days(work: Work, zone: tzinfo) -> tuple[Day, ...]:
    """The days on which something was logged or filmed, in order; what goes on past midnight is on both."""
    edges = [mark.moment.seconds for mark in work.marks]
    for start, end in _all(work.clips, work.spans):
        edges += [start, end]
    return tuple(_day(day, work, zone) for day in sorted({_date(at, zone) for at in edges}))


def time_of(at: Seconds, zone: tzinfo, *, finely: bool = False) -> str:
    """An instant as the clock on the wall reads, in seconds or, `finely`, rounded to ms."""
    return _instant(at, zone).strftime("%H:%M:%S.%f")[: -3 if finely else -7]


def date_of(at: Seconds, zone: tzinfo) -> str:
    """Its day in words."""
    when = _instant(at, zone)
    return f"{when:%A} {when.day} {when:%B %Y}"


def _day(day: Seconds, work: Work, zone: tzinfo) -> Day:
    own = [mark.moment.seconds for mark in work.marks if day <= mark.moment.seconds < day + 86_400]
    stretches = [cut for one in _all(work.clips, work.spans) if (cut := _cut(one, day))]
    edges = [*own, *(at for one in stretches for at in one)]
    room = max(max(edges) - min(edges), Fraction(60))
    first, scale = min(edges) - room * _MARGIN, 100 / (room * (1 + 2 * _MARGIN))

    def bar(one: Stretch, name: str, kind: str, within: Seconds | None = None) -> Iterator[Bar]:
        cut = _cut(one, day)
        if cut is not None:
            left, width = float((cut[0] - first) * scale), float((cut[1] - cut[0]) * scale)
            loose = float((within or 0) * scale)
            yield Bar(round(left, 3), round(width, 3), name, kind, round(loose, 3) if loose > _SEEN else 0.0)

    logged: list[Bar] = []
    for span in work.spans:
        if span.start.clock == WALL and span.end is not None:
            kind = "wait" if span.kind is SpanKind.WAIT else "step"
            logged += bar((span.start.seconds, span.end.seconds), span.step, kind)
    for gap in work.gaps:
        for one in gap.stretches:
            logged += bar(one, gap.step, "bare")
    lanes: dict[str, list[Bar]] = {name: [] for name in (*work.cameras, "")}
    for clip in work.clips:
        if clip.start is not None and clip.end is not None:
            kind = "used" if clip.clip.path in work.used else "idle"
            lanes[clip.camera or ""] += bar(
                (clip.start, clip.end), clip.clip.path.removeprefix("footage/"), kind, clip.within
            )
    return Day(
        date_of(day, zone),
        tuple(logged),
        tuple(sorted({round(float((at - first) * scale), 2) for at in own})),
        {name: tuple(bars) for name, bars in lanes.items() if name or bars},
        tuple(
            (round(float((at - first) * scale), 3), _instant(at, zone).strftime("%H:%M"))
            for at in _hours(min(edges), room, day)
        ),
    )


def _all(clips: Iterable[PlacedClip], spans: Iterable[Span]) -> Iterator[Stretch]:
    for clip in clips:
        if clip.start is not None and clip.end is not None:
            yield clip.start, clip.end
    for span in spans:
        if span.start.clock == WALL and span.end is not None:
            yield span.start.seconds, span.end.seconds


def _hours(first: Seconds, room: Seconds, day: Seconds) -> list[Seconds]:
    """Round times of the day within `room` from `first` on."""
    step = next((step for step in _HOURS if room / step <= _MOST_HOURS), _HOURS[-1])
    at = day + -(-(first - day) // step) * step
    found = []
    while at <= first + room:
        found.append(at)
        at += step
    return found


def _cut(one: Stretch, day: Seconds) -> Stretch | None:
    start, end = max(one[0], day), min(one[1], day + 86_400)
    return (start, end) if start < end or (start == end == one[0] == one[1]) else None


def _date(at: Seconds, zone: tzinfo) -> Seconds:
    """The second at which its day begins."""
    midnight = _instant(at, zone).replace(hour=0, minute=0, second=0, microsecond=0)
    return Fraction((midnight - _EPOCH) // timedelta(seconds=1))


def _instant(at: Seconds, zone: tzinfo) -> datetime:
    return (_EPOCH + timedelta(milliseconds=round(at * 1000))).astimezone(zone)
