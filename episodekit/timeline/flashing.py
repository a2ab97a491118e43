"""What is told of footage that flashes too often in the draft."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from fractions import Fraction

from episodekit.base.findings import Finding, finding
from episodekit.base.place import Place
from episodekit.base.text import counted
from episodekit.base.time import Frames, Rate, frames_to_seconds
from episodekit.base.timecode import frames_to_label
from episodekit.timeline.badge import speed_text
from episodekit.timeline.model import Picture, Segment
from episodekit.timeline.rules import FLASH


@dataclass(frozen=True)
class FlashSpan:
    """A stretch of the draft, in frames, half-open, in which each second flashes too often.

    `kind` is "general" or "red", `flashes` the most within a second, `share` the largest share of the picture.
    """

    kind: str
    start: Frames
    end: Frames
    flashes: int
    share: float


def tell(
    spans: Sequence[FlashSpan], segment: Segment, start: Frames, rate: Rate, safe: Fraction | None
) -> Finding:
    """The finding for one segment, which begins at frame `start`, and its spans of one kind.

    `safe` is the highest speed at which it does not flash, None if it flashes at normal speed as well.
    """
    picture = segment.source
    assert isinstance(picture, Picture)
    first = spans[0]
    flashes, share = max(s.flashes for s in spans), max(s.share for s in spans)
    edges = [min(max(at, start), start + segment.frames) for at in (first.start, first.end)]
    places = [picture.start + frames_to_seconds(Frames(at - start), rate) * picture.speed for at in edges]
    begin, end = (_place(min(at, picture.end)) for at in places)
    at = " to ".join(frames_to_label(Frames(at), rate) for at in edges)
    later = counted(len(spans) - 1, "later stretch", "later stretches")
    message = (
        f"At {speed_text(picture.speed)} it makes {flashes} {first.kind} flashes a second over "
        f"{max(1, round(100 * share))} % of the picture from {begin} to {end} of the clip, {at} in the draft"
        f"{f', and in {later}' if len(spans) > 1 else ''}; three a second are the most."
    )
    step = f"'{segment.step}'" if segment.step else "it"
    if safe is None:
        remedy = (
            f"It flashes at normal speed too: choose another stretch or camera for {step}, or cut it out."
        )
    else:
        remedy = (
            f"Play {step} at {speed_text(safe)} or slower, by its `work` or that kind's speeds under `limits`, or cut "
            "that stretch out. A caution on screen does not help."
        )
    return finding(FLASH, Place(picture.clip), message, remedy)


def _place(seconds: Fraction) -> str:
    """A place in a clip as a player shows it, with tenths, rounded down."""
    tenths = int(seconds * 10)
    return f"{tenths // 600}:{tenths // 10 % 60:02d}.{tenths % 10}"
