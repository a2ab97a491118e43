"""The speed badge: how fast the footage plays, for as long as it is sped up."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from fractions import Fraction

from episodekit.base.time import Frames, nearest
from episodekit.timeline.model import Overlay, OverlayKind, Picture, Segment

FASTEST_UNTOLD = Fraction(5, 4)
"""Up to this speed hands still look unhurried. Common practice, no source."""


def badges(segments: Sequence[Segment]) -> Iterator[Overlay]:
    """A badge over each stretch that plays faster, one for neighbours whose speed reads the same.

    A picture that is held at a segment's end plays at no speed, so it has none.
    """
    at = 0
    open_badge: Overlay | None = None
    for segment in segments:
        picture = segment.source
        if isinstance(picture, Picture) and picture.speed > FASTEST_UNTOLD:
            text, end = speed_text(picture.speed), at + segment.frames - picture.hold
            if open_badge is not None and (open_badge.text, open_badge.end) == (text, at):
                open_badge = Overlay(OverlayKind.BADGE, text, open_badge.start, Frames(end))
            else:
                if open_badge is not None:
                    yield open_badge
                open_badge = Overlay(OverlayKind.BADGE, text, Frames(at), Frames(end)) if end > at else None
        at += segment.frames
    if open_badge is not None:
        yield open_badge


def speed_text(speed: Fraction) -> str:
    """A speed as a viewer reads it: tenths below 10x, whole numbers above, rounded to the nearest.

    >>> speed_text(Fraction(4)), speed_text(Fraction(217, 100)), speed_text(Fraction(599, 10))
    ('4x', '2.2x', '60x')
    """
    tenths = nearest(speed * 10)
    return f"{nearest(speed)}x" if tenths >= 100 else f"{tenths / 10:g}x"
