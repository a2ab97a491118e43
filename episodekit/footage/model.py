"""What is known of a camera file without decoding it."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import datetime
from fractions import Fraction

from episodekit.base.time import Rate, Seconds


@dataclass(frozen=True)
class Clip:
    """One camera file.

    `path` is relative to the job folder, with forward slashes. `duration` is the length of the video
    that plays, in seconds, and `rate` its exact average rate. `variable` is set when more than 5 % of
    the sorted time-stamp intervals lie more than 10 % off their median. `rotation` is in degrees
    counter-clockwise, as the player must turn the picture. `start_timecode` is the camera's label of
    the first frame. `created` is the creation time in the file, if it has one, in UTC: many cameras
    write it with one-second resolution, some at the end of recording.

    `first` is the container's time stamp of the first frame, in seconds; places in a clip are counted
    from that frame. `key_frames` are seconds from the first frame, sorted; empty if no index was found.
    `pixel_aspect` is the width of a stored pixel over its height.
    `identity` changes when the content does. `transfer` and `matrix` are the colour tags in ffmpeg's names,
    empty if the file has none.

    `before` and `after` are the neighbours in a recording that the camera split into several files, without
    their own neighbours: the sound of a joint needs both sides of it. `audio_end` is the time stamp at which the
    sound ends, None if that is not known; `audio_late` is how much later than stamped the sound begins if it goes
    on, sample after sample, from the file before: a camera cuts its sound between two packets, not two frames.
    """

    path: str
    duration: Seconds
    rate: Rate
    width: int
    height: int
    codec: str
    identity: str
    variable: bool = False
    rotation: int = 0
    start_timecode: str | None = None
    created: datetime | None = None
    has_audio: bool = False
    audio_start: Seconds = Seconds(0)
    first: Seconds = Seconds(0)
    key_frames: tuple[Seconds, ...] = ()
    video_stream: int = 0
    audio_stream: int | None = None
    transfer: str = ""
    matrix: str = ""
    full_range: bool = False
    interlaced: bool = False
    pixel_aspect: Fraction = Fraction(1)
    audio_end: Seconds | None = None
    audio_late: Seconds = Seconds(0)
    before: Clip | None = None
    after: Clip | None = None


@dataclass(frozen=True)
class Known:
    """Where a clip was found to lie by more than its file says; `start` None: nowhere that could be trusted.

    `start` is the wall-clock second of its first frame, `pace` wall seconds for each of the clip's, `within` how far
    off the start may be.
    """

    start: Seconds | None
    pace: Fraction = Fraction(1)
    within: Seconds | None = None


@dataclass(frozen=True)
class PlacedClip:
    """A clip with its camera, and the wall-clock second of its first frame if that is known.

    `pace` is wall seconds for each second of the clip: 1 unless its camera's clock was found to run fast or slow.
    `within` is how far off `start` may be, plus or minus, in seconds; None if nobody knows.
    """

    clip: Clip
    camera: str | None
    start: Seconds | None
    pace: Fraction = Fraction(1)
    within: Seconds | None = None

    @property
    def end(self) -> Seconds | None:
        """The wall-clock second at which the clip ends, None if its start is not known."""
        return self.wall(self.clip.duration)

    def wall(self, at: Seconds) -> Seconds | None:
        """The wall-clock second of a place in the clip; exact. None if its start is not known."""
        return None if self.start is None else self.start + at * self.pace

    def into(self, wall: Seconds) -> Seconds | None:
        """The place in the clip (or before or after it) of a wall-clock second; None if its start is unknown."""
        return None if self.start is None else (wall - self.start) / self.pace
