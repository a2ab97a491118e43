"""Which stretches of which clips show a span of the bench log."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from fractions import Fraction

from episodekit.base.time import Seconds
from episodekit.bench.model import WALL, Moment, Span
from episodekit.footage.clocks import snapped
from episodekit.footage.model import PlacedClip

LEAST_GAP = Fraction(1, 4)
"""Snapping to frames may take up to a frame at either end of a clip, which nobody misses."""


@dataclass(frozen=True)
class Piece:
    """A stretch of one clip, in seconds from its first frame, half-open. `since` is its moment on the clock,
    `camera` whose clip it is, if that is known. `frame` is the length of one of its frames, 0 if that varies.
    `pace` is seconds of that clock for each of the clip's.
    """

    clip: str
    start: Seconds
    end: Seconds
    since: Seconds
    camera: str | None = None
    frame: Seconds = Seconds(0)
    pace: Fraction = Fraction(1)

    @property
    def length(self) -> Seconds:
        """Seconds of footage."""
        return self.end - self.start

    @property
    def until(self) -> Seconds:
        """The moment on the clock at which it ends."""
        return self.since + self.length * self.pace


@dataclass(frozen=True)
class Cover:
    """The pieces that show a span, in time order, the camera they are from, and the seconds nobody filmed.

    `filled` are the cameras that stood in where that one was not running.
    """

    pieces: tuple[Piece, ...]
    camera: str | None
    missing: Seconds
    filled: tuple[str | None, ...] = ()


def cover(span: Span, camera: str | None, clips: Sequence[PlacedClip], *, others: bool = True) -> Cover:
    """Pieces for a span from `camera`; with `others`, from the camera that covers most where that one has none.

    A span whose marks were both given in one clip is shown by that clip, whatever the camera, unless
    `others` is off.
    """
    own = span.start.clip
    if others and own is not None and (span.end is None or span.end.clip == own):
        camera_of_own = next(p.camera for p in clips if p.clip.path == own)
        return _from(span, [p for p in clips if p.clip.path == own], camera_of_own)
    wanted = _from(span, [p for p in clips if p.camera == camera], camera)
    if wanted.pieces and wanted.missing and others:
        return _filled(wanted, span, camera, clips)
    if wanted.pieces or not others:
        return wanted
    cameras = sorted({p.camera for p in clips if p.camera != camera}, key=lambda c: (c is None, c))
    rest = [_from(span, [p for p in clips if p.camera == name], name) for name in cameras]
    best = min(rest, key=lambda c: c.missing, default=wanted)
    return best if best.pieces else wanted


def _filled(found: Cover, span: Span, camera: str | None, clips: Sequence[PlacedClip]) -> Cover:
    """The cover with its gaps shown from other cameras, as far as they were running."""
    end = span.end.seconds if span.end is not None else found.pieces[-1].until
    others = [placed for placed in clips if placed.camera != camera]
    edges = [span.start.seconds]
    for piece in found.pieces:
        edges += [piece.since, piece.until]
    edges.append(end)
    pieces, missing, filled = list(found.pieces), found.missing, list[str | None]()
    for first, last in zip(edges[::2], edges[1::2], strict=True):
        if last - first < LEAST_GAP:
            continue
        gap = replace(span, start=replace(span.start, seconds=first), end=Moment(span.start.clock, last))
        names = sorted({placed.camera for placed in others}, key=lambda c: (c is None, c))
        covers = [_from(gap, [p for p in others if p.camera == name], name) for name in names]
        best = min(covers, key=lambda cover: cover.missing, default=None)
        if best is not None and best.pieces:
            pieces += best.pieces
            missing -= (last - first) - best.missing
            filled.append(best.camera)
    pieces.sort(key=lambda piece: piece.since)
    return Cover(tuple(pieces), camera, _missed(missing), tuple(dict.fromkeys(filled)))


def _from(span: Span, clips: Sequence[PlacedClip], camera: str | None) -> Cover:
    start = span.start.seconds
    end = span.end.seconds if span.end is not None else _end_of_log(span, clips)
    pieces: list[Piece] = []
    at = start
    for placed in sorted(clips, key=lambda p: (_zero(p, span.start.clock) or 0, p.clip.path)):
        zero = _zero(placed, span.start.clock)
        if zero is None:
            continue
        pace = placed.pace if span.start.clock == WALL else Fraction(1)
        finish = zero + placed.clip.duration * pace
        first, last = max(at, zero), min(end, finish)
        if last <= first:
            continue
        into, out = snapped((first - zero) / pace, placed.clip), snapped((last - zero) / pace, placed.clip)
        out = placed.clip.duration if last == finish else out
        if out > into:
            frame = Fraction(0) if placed.clip.variable else 1 / placed.clip.rate.exact
            pieces.append(Piece(placed.clip.path, into, out, first, placed.camera, frame, pace))
        at = last
    covered = sum((piece.length * piece.pace for piece in pieces), Fraction(0))
    return Cover(tuple(pieces), camera, _missed(end - start - covered))


def _missed(missing: Seconds) -> Seconds:
    return missing if missing > LEAST_GAP else Fraction(0)


def _zero(placed: PlacedClip, clock: str) -> Seconds | None:
    """The clip's first frame on the span's clock."""
    if clock == WALL:
        return placed.start
    return Fraction(0) if placed.clip.path == clock else None


def _end_of_log(span: Span, clips: Sequence[PlacedClip]) -> Seconds:
    """A span that the log leaves open ends with the clip that was running."""
    for placed in clips:
        zero = _zero(placed, span.start.clock)
        pace = placed.pace if span.start.clock == WALL else Fraction(1)
        if zero is not None and zero <= span.start.seconds < zero + placed.clip.duration * pace:
            return zero + placed.clip.duration * pace
    return span.start.seconds
