"""A part of a timeline, for a look at one place. Whole segments, so that their pictures serve the whole draft too."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from itertools import accumulate

from episodekit.base.findings import did_you_mean
from episodekit.base.time import Frames, Ms, clock, frames_to_ms
from episodekit.timeline.model import Overlay, Timeline
from episodekit.timeline.narration import Line


class NoSuchPlace(ValueError):
    """The part that was asked for is not in the timeline; says so in a sentence, with a remedy."""


@dataclass(frozen=True)
class Part:
    """What of a draft is to be cut. `name` is how a look at one place is called; the whole draft has none.

    `begin` and `end` are times of the whole draft.
    """

    timeline: Timeline
    narration: tuple[Line, ...]
    name: str
    begin: Ms
    end: Ms


def part_of(
    timeline: Timeline, narration: Sequence[Line], step: str | None, start: Ms | None, end: Ms | None
) -> Part:
    """The whole draft, or whole segments of it: a step's, or those that play in a range of times.

    Raises NoSuchPlace, also if a step and a time are given.
    """
    if step is None and start is None and end is None:
        whole = frames_to_ms(timeline.frames, timeline.rate)
        return Part(timeline, tuple(narration), "", Ms(0), whole)
    if step is not None and (start is not None or end is not None):
        raise NoSuchPlace("Give either --only, or --from and --to.")
    part, lines, begin = excerpt(timeline, narration, asked_for(timeline, step, start, end))
    stop = Ms(begin + frames_to_ms(part.frames, part.rate))
    return Part(part, lines, step or f"{clock(begin)}-{clock(stop)}".replace(":", "."), begin, stop)


def asked_for(timeline: Timeline, step: str | None, start: Ms | None, end: Ms | None) -> range:
    """The numbers of the segments that a step or a range of times asks for. Raises NoSuchPlace."""
    if step is not None:
        numbers = segments_of(timeline, step)
        if not numbers:
            names = {segment.step for segment in timeline.segments if segment.step}
            raise NoSuchPlace(f"No step of the draft is called '{step}'. {did_you_mean(step, names)}")
        return numbers
    length = frames_to_ms(timeline.frames, timeline.rate)
    begin, stop = start or Ms(0), length if end is None else end
    if begin >= length:
        raise NoSuchPlace(f"The draft is over at {clock(length)}. Ask for an earlier place.")
    if begin >= stop:
        raise NoSuchPlace(
            f"From {clock(begin)} to {clock(stop)} is no stretch of time. Write --from before --to."
        )
    return segments_between(timeline, begin, stop)


def segments_of(timeline: Timeline, step: str) -> range:
    """The numbers of a step's segments, with whatever is laid between them; empty if it has none."""
    found = [number for number, segment in enumerate(timeline.segments) if segment.step == step]
    return range(found[0], found[-1] + 1) if found else range(0)


def segments_between(timeline: Timeline, start: Ms, end: Ms) -> range:
    """The numbers of the segments that play at some time from `start` to before `end`; empty if none does."""
    edges = _edges(timeline)
    found = [
        number
        for number in range(len(timeline.segments))
        if frames_to_ms(edges[number], timeline.rate) < end
        and frames_to_ms(edges[number + 1], timeline.rate) > start
    ]
    return range(found[0], found[-1] + 1) if found and start < end else range(0)


def excerpt(
    timeline: Timeline, narration: Sequence[Line], numbers: range
) -> tuple[Timeline, tuple[Line, ...], Ms]:
    """The segments `numbers`, what lies over them, what is said meanwhile; and where in the whole they begin.

    Overlays keep their whole length, so one that began earlier is in the middle of its time. Chapters are
    left out: players want the first at 0.
    """
    edges = _edges(timeline)
    first, last = edges[numbers.start], edges[numbers.stop]
    begin, end = frames_to_ms(first, timeline.rate), frames_to_ms(last, timeline.rate)
    part = replace(
        timeline,
        segments=timeline.segments[numbers.start : numbers.stop],
        overlays=tuple(
            _moved(over, first) for over in timeline.overlays if over.start < last and over.end > first
        ),
        chapters=(),
    )
    return part, tuple(line for whole in narration for line in _within(whole, begin, end)), begin


def _edges(timeline: Timeline) -> list[Frames]:
    return [Frames(at) for at in accumulate((segment.frames for segment in timeline.segments), initial=0)]


def _moved(over: Overlay, by: int) -> Overlay:
    return replace(over, start=Frames(over.start - by), end=Frames(over.end - by))


def _within(line: Line, begin: int, end: int) -> list[Line]:
    start, stop = max(line.at, begin), min(line.at + line.length, end)
    if start >= stop:
        return []
    cut = Ms(line.start + start - line.at)
    return [replace(line, start=cut, length=Ms(stop - start), at=Ms(start - begin))]
