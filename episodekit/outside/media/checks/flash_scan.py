"""Scan what was sped up in a draft for flashes, on the frames as rendered.

Work that is harmless to watch at normal speed may flash when it is ramped, so that is what is scanned: each piece
that plays faster than it was filmed, with the seconds before and after it. To decode the rest as well would cost
nearly a fifth of the draft. A piece that is rendered now was made small beside (`picture.Small`); others are decoded.
What was found in a piece is kept in the cache under its name, so an edit scans what it changed.
"""

from __future__ import annotations

import hashlib
import json
import threading
from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass
from functools import partial
from itertools import groupby, islice
from math import ceil
from pathlib import Path

from episodekit.base.findings import Finding
from episodekit.base.time import Frames, Rate
from episodekit.outside.media.checks.flash_speed import highest_safe_speed
from episodekit.outside.media.ffmpeg_door import Children
from episodekit.outside.media.flashes.count import FlashCounter, FlashKind, Grid, Rgb, grid_of
from episodekit.outside.media.flashes.frames import frames_beside, small_frames
from episodekit.outside.media.recipes.pieces import LEAD_SECONDS, is_fast, scanned_with
from episodekit.outside.media.rendering.parts import Parts
from episodekit.outside.media.rendering.studio import Studio
from episodekit.outside.workers import Task, run_all
from episodekit.timeline.flashing import FlashSpan, tell
from episodekit.timeline.model import Picture

VERSION = "flashes 1"
"""Part of the name of what is kept: to be changed whenever the counting is."""


@dataclass(frozen=True)
class _Look:
    """One piece to scan: which pieces around it are needed too, and the name of what is found."""

    number: int
    before: tuple[int, ...]
    after: tuple[int, ...]
    key: str


@dataclass(frozen=True)
class _Seen:
    """A frame of the draft, and what flashes too often in the second that ends with it."""

    frame: int
    kind: FlashKind
    flashes: int
    share: float


def scan_flashes(studio: Studio, parts: Parts, workers: int, stop: threading.Event) -> tuple[Finding, ...]:
    """What flashes in the draft's sped-up footage, and the speed at which it would not.

    Raises MediaError when the disk refuses, Cancelled when `stop` is set.
    """
    looks = [
        _look(parts, number, studio.look.rate) for number, piece in enumerate(parts.pieces) if is_fast(piece)
    ]
    grid = grid_of(studio.look.width, studio.look.height)
    tasks = [
        Task(parts.pieces[one.number].frames, partial(_kept, studio, parts, one, grid, stop)) for one in looks
    ]
    found = [seen for some in run_all(tasks, workers, stop, lambda: None, stop.set) for seen in some]
    spans = _spans(found, studio.look.rate)
    children = Children()

    def end() -> None:
        stop.set()
        children.end_all()

    tellings = [Task(1, partial(_told, studio, some, children, stop)) for some in _by_segment(spans, studio)]
    return tuple(run_all(tellings, workers, stop, lambda: None, end))


def _look(parts: Parts, number: int, rate: Rate) -> _Look:
    before, after = scanned_with(parts.pieces, number, rate)
    names = [
        VERSION,
        str(rate.exact),
        *(parts.pictures[n] for n in (*before, number, *after)),
        str(len(before)),
    ]
    digest = hashlib.sha256("\0".join(names).encode()).hexdigest()[:40]
    return _Look(number, before, after, f"{digest}.flashes")


def _kept(studio: Studio, parts: Parts, look: _Look, grid: Grid, stop: threading.Event) -> list[_Seen]:
    """What was found in a piece, now or before. Frames are counted from the piece's first one in the cache."""
    cache, piece = studio.cache, parts.pieces[look.number]

    def make(target: Path) -> bool:
        found = _scan(studio, parts, look, grid, stop)
        rows = [[one.frame, one.kind.value, one.flashes, round(one.share, 4)] for one in found]
        target.write_text(json.dumps(rows), encoding="ascii", newline="\n")
        return True

    if not cache.has(look.key):
        cache.fill(look.key, make)
    rows = json.loads(cache.entry(look.key).read_text(encoding="ascii"))
    return [_Seen(piece.start + at, FlashKind(kind), flashes, share) for at, kind, flashes, share in rows]


def _scan(studio: Studio, parts: Parts, look: _Look, grid: Grid, stop: threading.Event) -> Iterator[_Seen]:
    rate = studio.look.rate.exact
    counter = FlashCounter(grid, rate)
    lead = ceil(LEAD_SECONDS * rate)

    def frames_of(number: int, last: int | None = None) -> Iterator[Rgb]:
        key = parts.pictures[number]
        beside = studio.beside(key)
        if beside.is_file():
            skip = 0 if last is None else max(0, parts.pieces[number].frames - last)
            return frames_beside(beside, skip, stop)
        return small_frames(studio.cache.entry(key), grid, stop, last=last)

    for number in look.before:
        rest = sum(parts.pieces[n].frames for n in look.before if n > number)
        for frame in frames_of(number, lead - rest):
            counter.look(frame)
    at = 0
    for number in (look.number, *look.after):
        frames = frames_of(number)
        if number != look.number:
            frames = islice(frames, parts.pieces[look.number].frames + ceil(rate) - 1 - at)
        for frame in frames:
            for one in counter.look(frame):
                yield _Seen(at, one.kind, one.flashes, one.share)
            at += 1


def _spans(found: Sequence[_Seen], rate: Rate) -> list[FlashSpan]:
    """Frames that flash, joined where their seconds meet, each kind by itself."""
    second = ceil(rate.exact)
    spans: list[FlashSpan] = []
    for one in sorted(found, key=lambda seen: (seen.kind, seen.frame)):
        begin, end = Frames(max(0, one.frame - second + 1)), Frames(one.frame + 1)
        last = spans[-1] if spans else None
        if last is not None and last.kind == one.kind and begin <= last.end:
            flashes, share = max(last.flashes, one.flashes), max(last.share, one.share)
            spans[-1] = FlashSpan(last.kind, last.start, end, flashes, share)
        else:
            spans.append(FlashSpan(one.kind.value, begin, end, one.flashes, one.share))
    return spans


def _by_segment(spans: Iterable[FlashSpan], studio: Studio) -> list[tuple[int, Frames, list[FlashSpan]]]:
    """Each span with the sped-up segment that it lies in most: the segment's number and first frame, and its spans."""
    segments = studio.timeline.segments
    starts = [sum(segment.frames for segment in segments[:n]) for n in range(len(segments))]

    def home(span: FlashSpan) -> int:
        shared = [
            (min(span.end, start + segment.frames) - max(span.start, start), -n)
            for n, (segment, start) in enumerate(zip(segments, starts, strict=True))
            if isinstance(segment.source, Picture) and segment.source.speed > 1
        ]
        return -max(shared)[1]

    ordered = sorted(spans, key=lambda span: (home(span), span.kind, span.start))
    grouped = groupby(ordered, key=lambda span: (home(span), span.kind))
    return [(number, Frames(starts[number]), list(some)) for (number, _), some in grouped]


def _told(
    studio: Studio, found: tuple[int, Frames, list[FlashSpan]], children: Children, stop: threading.Event
) -> Finding:
    number, start, spans = found
    segment = studio.timeline.segments[number]
    safe = highest_safe_speed(studio, segment, children, stop)
    return tell(spans, segment, start, studio.look.rate, safe)
