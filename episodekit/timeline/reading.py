"""Which frame of the source does a frame of the draft show? The contract that the engine is tested against."""

from __future__ import annotations

from fractions import Fraction
from math import ceil, floor

from episodekit.base.time import Frames, Rate, Seconds
from episodekit.footage.model import Clip
from episodekit.timeline.model import Picture, Segment


def look_ahead(speed: Fraction, clip: Clip, rate: Rate) -> Seconds:
    """How far behind the beginning of a draft frame, in source time, the draft looks into the clip.

    A quarter of the shorter frame: the draft's lasts `speed / rate` of source time, the clip's
    `1 / clip rate`. A quarter of the longer one would fall on the edge of another frame wherever the
    ratio of the two is a multiple of four. A clip of variable rate has no frame length of its own.
    """
    step = speed / rate.exact
    return (step if clip.variable else min(step, 1 / clip.rate.exact)) / 4


def played_frames(frames: Frames, picture: Picture, clip: Clip, rate: Rate) -> Frames:
    """How many of a segment's `frames` frames move; the rest hold the last picture.

    The stretch is half-open: a frame that looks at or beyond its end, or the clip's, holds. At least
    one frame plays.
    """
    length = min(picture.end, clip.duration) - picture.start - look_ahead(picture.speed, clip, rate)
    within = ceil(length * rate.exact / picture.speed)
    return Frames(max(1, min(frames - picture.hold, within)))


def source_frame(picture: Picture, n: int, clip: Clip, rate: Rate) -> int:
    """The clip's frame, counted from 0, that frame `n` of the segment shows. For clips of constant rate.

    It is the frame on screen at `start + n / rate * speed` and `look_ahead` later; past the end of the
    picture or the clip it is the last one that played.
    """
    n = min(n, played_frames(Frames(n + 1 + picture.hold), picture, clip, rate) - 1)
    at = picture.start + n / rate.exact * picture.speed + look_ahead(picture.speed, clip, rate)
    return max(0, floor(at * clip.rate.exact))


def first_and_last_source_frame(segment: Segment, clip: Clip, rate: Rate) -> tuple[int | None, int | None]:
    """First and last source frame of a segment that shows footage; None for a variable frame rate."""
    if not isinstance(segment.source, Picture) or clip.variable:
        return None, None
    last = segment.frames - segment.source.hold - 1
    picture = segment.source
    return source_frame(picture, 0, clip, rate), source_frame(picture, max(0, last), clip, rate)
