"""A timeline cut into pieces that can be rendered apart and joined without re-encoding. Pure.

A long segment becomes several pieces, so that two workers share it, an edit to a lower third re-renders
twenty seconds and not ten minutes, and a stopped run resumes near where it was.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, replace
from fractions import Fraction
from itertools import pairwise
from math import ceil

from episodekit.base.time import Frames, Rate, Seconds, frames_to_seconds
from episodekit.footage.model import Clip
from episodekit.timeline.model import Card, Overlay, Picture, Segment, Timeline
from episodekit.timeline.reading import played_frames

PIECE_SECONDS = 20


@dataclass(frozen=True)
class Slice:
    """The part of an overlay that falls on a piece.

    `begins` is the piece's frame on which the overlay's first frame falls, negative if the overlay
    began earlier; `length` is the whole overlay's, so that fades lie at its true ends.
    """

    overlay: Overlay
    begins: int
    length: int


@dataclass(frozen=True)
class Stretch:
    """What of a clip a piece shows: from `start`, `played` frames at `speed`, the last one held."""

    clip: Clip
    start: Seconds
    speed: Fraction
    played: Frames


@dataclass(frozen=True)
class Piece:
    """`frames` frames of segment number `segment`, from timeline frame `start` on.

    `show` is a stretch of a clip, or a card.
    """

    segment: int
    start: Frames
    frames: Frames
    show: Stretch | Card
    slices: tuple[Slice, ...]


def pieces(timeline: Timeline, clips: Mapping[str, Clip], cards: Mapping[int, Card]) -> tuple[Piece, ...]:
    """All pieces in playing order. `cards` replaces segments, by number, that have no picture.

    Raises KeyError for a clip that is neither in `clips` nor replaced.
    """
    found: list[Piece] = []
    start = 0
    for number, segment in enumerate(timeline.segments):
        for first, count in _cuts(segment.frames, timeline.rate):
            show = cards.get(number) or shown(segment, first, clips, timeline.rate)
            at = Frames(start + first)
            found.append(Piece(number, at, Frames(count), show, _slices(timeline.overlays, at, count)))
        start += segment.frames
    return tuple(found)


def _cuts(frames: int, rate: Rate) -> list[tuple[int, int]]:
    longest = PIECE_SECONDS * rate.nominal
    if frames <= longest * 3 // 2:
        return [(0, frames)]
    count = ceil(frames / longest)
    edges = [frames * index // count for index in range(count + 1)]
    return [(a, b - a) for a, b in pairwise(edges)]


def shown(segment: Segment, first: int, clips: Mapping[str, Clip], rate: Rate) -> Stretch | Card:
    """What a segment shows from its frame `first` on. Raises KeyError for a clip not in `clips`."""
    picture = segment.source
    if isinstance(picture, Card):
        return picture
    clip = clips[picture.clip]
    played = played_frames(segment.frames, picture, clip, rate)
    first = min(first, played - 1)
    start = picture.start + frames_to_seconds(Frames(first), rate) * picture.speed
    return Stretch(clip, start, picture.speed, Frames(played - first))


def heard(segment: Segment, clips: Mapping[str, Clip], rate: Rate) -> Stretch | None:
    """The stretch whose sound is heard with a segment, as long as its picture moves; None is silence."""
    show = shown(segment, 0, clips, rate)
    if not isinstance(show, Stretch):
        return None
    clip, start = show.clip, show.start
    if segment.sound is not None:
        other = clips.get(segment.sound.clip or "")
        if other is None:
            return None
        clip, start = other, segment.sound.start
    return Stretch(clip, start, show.speed, show.played) if clip.audio_stream is not None else None


def carries_on(one: Segment, two: Segment, rate: Rate) -> bool:
    """Whether the second segment's sound goes on where the first one's ends, so that no joint is heard."""
    a, b = _sound_of(one), _sound_of(two)
    if a is None or b is None:
        return False
    reached = a.start + frames_to_seconds(one.frames, rate) * a.speed
    return a.clip == b.clip and a.speed == b.speed == 1 and a.hold == 0 and reached == b.start <= a.end


def _sound_of(segment: Segment) -> Picture | None:
    """The stretch that a segment's sound is of, as if it were a picture."""
    picture = segment.source
    if isinstance(picture, Card):
        return None
    if segment.sound is None:
        return picture
    if segment.sound.clip is None:
        return None
    moved = segment.sound.start - picture.start
    return replace(picture, clip=segment.sound.clip, start=segment.sound.start, end=picture.end + moved)


def _slices(overlays: tuple[Overlay, ...], start: Frames, frames: int) -> tuple[Slice, ...]:
    return tuple(
        Slice(overlay, overlay.start - start, overlay.end - overlay.start)
        for overlay in overlays
        if overlay.start < start + frames and overlay.end > start
    )
