"""A timeline cut into pieces that can be rendered apart and joined without re-encoding. Pure.

A long segment becomes several pieces, so that two workers share it, an edit to a lower third re-renders
twenty seconds and not ten minutes, and a stopped run resumes near where it was.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from fractions import Fraction
from itertools import pairwise
from math import ceil

from episodekit.base.time import Frames, Rate, Seconds, frames_to_seconds
from episodekit.footage.model import Clip
from episodekit.footage.private import Private
from episodekit.timeline.model import Card, Overlay, Picture, Segment, Timeline
from episodekit.timeline.reading import played_frames

PIECE_SECONDS = 20
DRAFT_FRAMES = 2
"""Frames of the draft that stay hidden on either side of what is private."""

MAY_LAG = Seconds(20)


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
    """What of a clip a piece shows: from `start`, `played` frames at `speed`, the last one held.

    `private` is what of the clip is hidden near it.
    """

    clip: Clip
    start: Seconds
    speed: Fraction
    played: Frames
    private: tuple[Private, ...] = ()


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
            if isinstance(show, Stretch):
                show = replace(show, private=_private_near(show, timeline))
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


def _private_near(stretch: Stretch, timeline: Timeline) -> tuple[Private, ...]:
    """What may come before the eye in a stretch, with two frames of the draft more on either side.

    A decoder that skips damage, or takes key frames alone, shows older frames than were asked for, so what lies a
    little before the stretch is hidden too.
    """
    step = stretch.speed / timeline.rate.exact
    first, last = stretch.start - MAY_LAG, stretch.start + (stretch.played + 1) * step
    near = [
        replace(
            one, start=max(Seconds(0), one.start - DRAFT_FRAMES * step), end=one.end + DRAFT_FRAMES * step
        )
        for one in timeline.private
        if one.clip == stretch.clip.path
    ]
    return tuple(one for one in near if one.start < last and one.end > first)


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


def carried_on(one: Segment, two: Segment, clips: Mapping[str, Clip], rate: Rate) -> Seconds | None:
    """Where the second segment's sound begins if it goes on where the first one's ends, so that no joint is heard.

    In seconds from the first frame of its clip: as the timeline says, or, where a recording goes on in its next
    file, up to a quarter of a frame off, even before that frame. None if it does not go on.
    """
    a, b = _sound_of(one), _sound_of(two)
    if a is None or b is None or a.speed != 1 or b.speed != 1 or a.hold:
        return None
    reached = a.start + frames_to_seconds(one.frames, rate)
    if a.clip == b.clip:
        return reached if reached == b.start <= a.end else None
    clip, following = clips.get(a.clip), clips.get(b.clip)
    if clip is None or following is None or following.before is None or following.before.path != a.clip:
        return None
    into = reached - clip.duration
    return into if abs(into - b.start) <= 1 / rate.exact / 4 else None


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


LEAD_SECONDS = 2
"""Of what plays before a piece that is scanned for flashes: one second for the flashes of the second that reaches into
it, one to find its swing."""


def is_fast(piece: Piece) -> bool:
    """Whether it plays faster than it was filmed, so that it is scanned for flashes."""
    return isinstance(piece.show, Stretch) and piece.show.speed > 1


def scanned_with(pieces: Sequence[Piece], number: int, rate: Rate) -> tuple[tuple[int, ...], tuple[int, ...]]:
    """The numbers of the pieces before a fast one that fill its lead, and of those that fill the second after it up to
    the next fast one.
    """
    before: list[int] = []
    lead = 0
    while lead < LEAD_SECONDS * rate.exact and number - len(before) > 0:
        before.insert(0, number - len(before) - 1)
        lead += pieces[before[0]].frames
    after: list[int] = []
    tail = 0
    following = number + 1
    while tail < rate.exact and following < len(pieces) and not is_fast(pieces[following]):
        after.append(following)
        tail += pieces[following].frames
        following += 1
    return tuple(before), tuple(after)
