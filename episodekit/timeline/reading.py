"""Which frame of the source does a frame of the draft show? The contract that the engine is tested against."""

from __future__ import annotations

from fractions import Fraction
from math import ceil

from episodekit.base.time import Rate
from episodekit.footage.model import Clip
from episodekit.timeline.model import Picture, Segment

QUARTER = Fraction(1, 4)


def source_frame(picture: Picture, n: int, clip: Clip, rate: Rate) -> int:
    """The clip's frame, counted from 0, that frame `n` of the segment shows. For clips of constant rate.

    It is the last frame that has begun before `start + (n + 1/4) / rate * speed`; past the picture's end
    the last one before that end is held.
    """
    at = picture.start + (n + QUARTER) / rate.exact * picture.speed
    frame = ceil(at * clip.rate.exact) - 1
    last = ceil(picture.end * clip.rate.exact) - 1
    return max(0, min(frame, last))


def first_and_last_source_frame(segment: Segment, clip: Clip, rate: Rate) -> tuple[int | None, int | None]:
    """First and last source frame of a segment that shows footage; None for a variable frame rate."""
    if not isinstance(segment.source, Picture) or clip.variable:
        return None, None
    last = segment.frames - segment.source.hold - 1
    picture = segment.source
    return source_frame(picture, 0, clip, rate), source_frame(picture, max(0, last), clip, rate)
