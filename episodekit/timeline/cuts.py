"""The draft as an editor conforms it: cuts end to end, each reading one source in one way.

What a segment plays and the picture it holds after are two cuts; a slate is one.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from dataclasses import dataclass
from enum import StrEnum
from fractions import Fraction
from math import floor

from episodekit.base.time import Frames, Rate, Seconds
from episodekit.base.timecode import label_to_frames
from episodekit.footage.model import Clip
from episodekit.footage.rates import timecode_rate
from episodekit.timeline.model import Picture, Segment, Sound, Timeline
from episodekit.timeline.reading import look_ahead, played_frames, source_frame

STRETCH_UP_TO = Fraction(2)
"""Faster than this, stretched sound is noise; the natural sound of the stretch's beginning lies under the
picture instead, 12 dB lower. Common practice, no source."""
BED_DB = -12

RECORD_START = "01:00:00:00"
"""Where a list of edits begins, so that leader can stand before it. Common practice, no source."""


class Hearing(StrEnum):
    """How the bench is heard: not at all, at its picture's speed, or at its own and lower."""

    SILENT = "silent"
    ALONG = "along"
    UNDER = "under"


@dataclass(frozen=True)
class Source:
    """Where a cut's picture is read.

    `frame` is the clip's frame that the cut's first frame shows, counted from 0. Where each frame of the draft
    is a whole number of the clip's, it is whole; else it is the exact place, with the `look_ahead` in it, so that
    frame n of the cut shows the frame on screen at `frame + n / draft rate * speed * clip rate`, rounded down.
    A `speed` of 0 holds the frame.
    """

    clip: Clip
    frame: Fraction
    speed: Fraction


@dataclass(frozen=True)
class Heard:
    """The bench under a cut: a clip's sound from `start` on. `own` says that it is the picture's, in step with it."""

    clip: Clip
    start: Seconds
    hearing: Hearing
    own: bool


@dataclass(frozen=True)
class Cut:
    """`frames` frames of the draft from frame `at` on; without a source it is the segment's slate."""

    at: Frames
    frames: Frames
    segment: Segment
    source: Source | None
    heard: Heard | None = None


def hearing_at(speed: Fraction) -> Hearing:
    """How a stretch is heard at a speed. Sound slower than half is left out."""
    if speed > STRETCH_UP_TO:
        return Hearing.UNDER
    return Hearing.ALONG if speed >= 1 / STRETCH_UP_TO else Hearing.SILENT


def cuts_of(timeline: Timeline, clips: Mapping[str, Clip]) -> tuple[Cut, ...]:
    """All cuts in playing order. Raises KeyError for a clip that is not in `clips`."""
    found: list[Cut] = []
    at = 0
    for segment in timeline.segments:
        if isinstance(segment.source, Picture):
            heard = _heard(segment, segment.source, clips)
            found += _footage(
                Frames(at), segment, segment.source, clips[segment.source.clip], heard, timeline.rate
            )
        else:
            found.append(Cut(Frames(at), segment.frames, segment, None))
        at += segment.frames
    return tuple(found)


def _heard(segment: Segment, picture: Picture, clips: Mapping[str, Clip]) -> Heard | None:
    """The picture's own sound, or the one that the segment names instead."""
    sound, hearing = segment.sound or Sound(picture.clip, picture.start), hearing_at(picture.speed)
    clip = clips.get(sound.clip or "")
    if clip is None or clip.audio_stream is None or hearing is Hearing.SILENT:
        return None
    own = sound == Sound(picture.clip, picture.start) and hearing is Hearing.ALONG
    return Heard(clip, sound.start, hearing, own)


def _footage(
    at: Frames, segment: Segment, picture: Picture, clip: Clip, heard: Heard | None, rate: Rate
) -> Iterator[Cut]:
    played = played_frames(segment.frames, picture, clip, rate)
    first = (picture.start + look_ahead(picture.speed, clip, rate)) * clip.rate.exact
    step = picture.speed * clip.rate.exact / rate.exact
    whole = step.denominator == 1 and not clip.variable
    frame = max(Fraction(0), Fraction(floor(first)) if whole else first)
    yield Cut(at, played, segment, Source(clip, frame, picture.speed), heard)
    if played < segment.frames:
        last = first + (played - 1) * step
        if not clip.variable:
            last = Fraction(source_frame(picture, played - 1, clip, rate))
        held = Source(clip, max(Fraction(0), last), Fraction(0))
        yield Cut(Frames(at + played), Frames(segment.frames - played), segment, held)


def record_start(rate: Rate) -> Frames:
    """The frame that `RECORD_START` names at a rate, drop-frame or not."""
    return label_to_frames(RECORD_START[:8] + (";" if rate.drop else ":") + RECORD_START[9:], rate)


def first_label(clip: Clip) -> tuple[Rate, Frames] | None:
    """At which rate the clip's own timecode counts, and which frame its first label names; None without one.

    A label that does not exist is none.
    """
    label = clip.start_timecode
    if label is None:
        return None
    rate = timecode_rate(clip.rate, drop=";" in label)
    try:
        return rate, label_to_frames(label, rate)
    except ValueError:
        return None
