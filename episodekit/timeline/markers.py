"""Markers for an editor: where chapters, steps, beats, reads and ad breaks begin, and what must be hidden."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from dataclasses import dataclass, replace
from enum import StrEnum
from itertools import accumulate
from math import ceil, floor

from episodekit.base.time import Frames, Ms, Rate, Seconds, frames_to_ms, ms_to_frames
from episodekit.footage.model import Clip
from episodekit.footage.private import Private
from episodekit.timeline.episode import Episode
from episodekit.timeline.model import Picture, Timeline


class MarkerKind(StrEnum):
    """What a marker marks."""

    CHAPTER = "chapter"
    AD_BREAK = "ad break"
    READ = "read"
    STEP = "step"
    BEAT = "beat"
    PRIVATE = "private"


@dataclass(frozen=True)
class Marker:
    """`frames` frames from frame `at` of the draft on; 0 for a place without length.

    `id` is the step's, beat's or read's own, or a private clip's path; `text` is what a beat says, why a read or
    break stands there, or which box of the picture is private.
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
    yield from private_markers(episode.timeline, episode.clips_by_path)


def private_markers(timeline: Timeline, clips: Mapping[str, Clip]) -> Iterator[Marker]:
    """Where the draft would show what is private: an editor is given the raw footage and must hide it again.

    In whole frames, ends outward by a frame of the clip, since one that is on screen at an end began before it or lasts
    beyond it; boxes outward too. Stretches of one box that follow each other without a gap are one marker.
    """
    begins = accumulate((segment.frames for segment in timeline.segments), initial=0)
    running: dict[Private, Marker] = {}
    for begin, segment in zip(begins, timeline.segments, strict=False):
        picture = segment.source
        if not isinstance(picture, Picture):
            continue
        for private in timeline.private:
            shown = _shown(private, picture, segment.frames, timeline.rate, clips)
            if shown is None:
                continue
            at, end = begin + shown[0], begin + shown[1]
            same = _alike(private)
            before = running.get(same)
            if before is not None and before.at + before.frames >= at:
                at = before.at
            elif before is not None:
                yield before
            name, told = private.what or "private", f"Hide the box {_box(private)} of the picture."
            running[same] = Marker(MarkerKind.PRIVATE, Frames(at), Frames(end - at), name, private.clip, told)
    yield from running.values()


def _alike(private: Private) -> Private:
    """The same whatever its times: what one marker may go on with."""
    return replace(private, start=Seconds(0), end=Seconds(0))


def _box(private: Private) -> str:
    """In tenths of a percent, no side further in than it is."""
    box = private.box
    first = (floor(1000 * side) for side in (box.left, box.top))
    last = (ceil(1000 * side) for side in (box.right, box.bottom))
    across, down, right, low = (f"{side // 10}.{side % 10}%" for side in (*first, *last))
    return f"{across} {down} to {right} {low}"


def _shown(
    private: Private, picture: Picture, frames: Frames, rate: Rate, clips: Mapping[str, Clip]
) -> tuple[int, int] | None:
    """The first frame of a segment that shows it and the one after the last; None if it is not shown."""
    if private.clip != picture.clip:
        return None
    clip = clips[picture.clip]
    loose = (2 if clip.variable else 1) / clip.rate.exact
    start, end = private.start - loose, private.end + loose
    if start >= picture.end or end <= picture.start:
        return None
    if picture.speed == 0:
        return 0, frames
    a_frame = picture.speed / rate.exact
    first = max(0, floor((start - picture.start) / a_frame))
    if end >= picture.end:  # what is held at the end shows it too
        return first, frames
    return first, min(frames, ceil((end - picture.start) / a_frame))
