"""Markers for an editor: where chapters, steps, beats, reads and ad breaks begin."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from enum import StrEnum

from episodekit.base.time import Frames, Ms, frames_to_ms, ms_to_frames
from episodekit.timeline.episode import Episode


class MarkerKind(StrEnum):
    """What a marker marks."""

    CHAPTER = "chapter"
    AD_BREAK = "ad break"
    READ = "read"
    STEP = "step"
    BEAT = "beat"


@dataclass(frozen=True)
class Marker:
    """`frames` frames from frame `at` of the draft on; 0 for a place without length.

    `id` is the step's, beat's or read's own; `text` is what a beat says, or why a read or break stands there.
    """

    kind: MarkerKind
    at: Frames
    frames: Frames
    name: str
    id: str = ""
    text: str = ""


def markers_of(episode: Episode) -> tuple[Marker, ...]:
    """All markers, by place, and at one place in the order of their kinds."""
    order = list(MarkerKind)
    return tuple(sorted(_all(episode), key=lambda m: (m.at, order.index(m.kind), m.name)))


def _all(episode: Episode) -> Iterator[Marker]:
    rate = episode.timeline.rate
    for chapter in episode.chapters:
        yield Marker(MarkerKind.CHAPTER, ms_to_frames(chapter.start, rate), Frames(0), chapter.title)
    for number, placed in enumerate(episode.ad_breaks, 1):
        at = ms_to_frames(placed.start, rate)
        yield Marker(MarkerKind.AD_BREAK, at, Frames(0), f"Ad break {number}", text=placed.why)
    why = {read.name: read.why for read in episode.reads}
    begin = 0
    for laid in episode.steps:
        step = laid.step
        name = f"{step.title} (continued)" if laid.continued else step.title
        kind = MarkerKind.READ if step.read is not None else MarkerKind.STEP
        told = why.get(step.read, "") if step.read is not None else ""
        yield Marker(kind, Frames(begin), laid.fitted.frames, name, step.read or step.id, told)
        start = frames_to_ms(Frames(begin), rate)
        for text, beat in zip(step.beats, laid.time.beats, strict=True):
            # both ends to the nearest frame, so that a beat marked is as long as one seen
            first = ms_to_frames(Ms(start + beat.start), rate)
            last = ms_to_frames(Ms(start + beat.start + beat.length), rate)
            yield Marker(MarkerKind.BEAT, first, Frames(last - first), beat.id, beat.id, text.text)
        begin += laid.fitted.frames
