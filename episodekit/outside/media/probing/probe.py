"""What a camera file says about itself, read in process through PyAV. Nothing is written, and no more is
decoded than one frame: an hour of footage is probed as fast as a minute.
"""

from __future__ import annotations

from collections.abc import Iterator
from contextlib import contextmanager, suppress
from dataclasses import dataclass
from fractions import Fraction
from pathlib import Path

import av
import av.error

from episodekit.base.findings import Finding, finding
from episodekit.base.place import Place
from episodekit.base.time import Rate, Seconds, clock, seconds_to_ms
from episodekit.footage.model import Clip
from episodekit.footage.rules import DAMAGED, NOT_MEDIA
from episodekit.outside.media.probing.identity import identity
from episodekit.outside.media.probing.stamps import Stamps, read_stamps
from episodekit.outside.media.probing.tags import MATRIX, TRANSFER, created, text, timecode

_COPY_AGAIN = "Copy it from the card again, or move it out of footage/."
_TEXT_ART = {"ansi", "bintext", "xbin", "idf"}
_STILL_CODECS = {"png", "mjpeg", "webp", "bmp", "tiff", "jpegls", "jpeg2000", "svg", "qoi"}
_FULL_RANGE = 2  # ISO/IEC 23091-2 as FFmpeg numbers it: AVCOL_RANGE_JPEG
_FRAMES_TRIED = 60
"""Packets fed to the decoder before giving up on a first picture. Those that an edit list hides do not count:
a clip trimmed by copying begins with all that lie between its key frame and the trim."""


@dataclass(frozen=True)
class Probed:
    """What was read: a clip, if the file holds video that plays, and what is wrong with it."""

    clip: Clip | None
    findings: tuple[Finding, ...] = ()


@dataclass(frozen=True)
class Look:
    """What only a decoded frame tells. `first` is its time stamp, None if it has none."""

    rotation: int
    interlaced: bool
    first: Seconds | None


class _NoVideo(Exception):
    """Why a file is no clip, in words."""


def probe(path: Path, name: str) -> Probed:
    """Read one camera file; `name` is its path inside the job folder, as findings and clips name it.

    Whatever is wrong with the file is a finding, never an exception.
    """
    try:
        with _foreign_errors():
            return _probe(path, name)
    except _NoVideo as problem:
        return Probed(None, (finding(NOT_MEDIA, Place(name), str(problem), _COPY_AGAIN),))


def _probe(path: Path, name: str) -> Probed:
    if path.is_dir():
        raise _NoVideo("a folder, not a video file.")
    size = path.stat().st_size
    if size == 0:
        raise _NoVideo("The file is empty.")
    digest = identity(path)
    # opened twice, one after the other: in a transport stream a seek back to the start misses the first key
    # frame, and the index of hours of footage is large
    with av.open(str(path), metadata_errors="replace") as container:
        seen = _first_picture(container, _video(container))
    with av.open(str(path), metadata_errors="replace") as container:
        stream = _video(container)
        audio = container.streams.best("audio")
        stamps = read_stamps(container, stream, size)
        if stamps.frames < 2:
            raise _NoVideo("The file holds a single picture, not a video.")
        codec = stream.codec_context
        groups = (container.metadata, stream.metadata, *(other.metadata for other in container.streams))
        facts = [text(group) for group in groups]
        first = stamps.first if seen is None or seen.first is None else max(seen.first, stamps.first)
        clip = Clip(
            path=name,
            duration=stamps.end - first,
            rate=Rate(stamps.rate),
            width=codec.width,
            height=codec.height,
            codec=codec.name,
            identity=digest,
            variable=stamps.variable,
            rotation=seen.rotation if seen else 0,
            start_timecode=timecode(facts),
            created=created(facts),
            has_audio=audio is not None,
            audio_start=_start(audio),
            audio_end=_end(audio),
            first=first,
            key_frames=tuple(key - first for key in stamps.key_frames if key >= first),
            video_stream=stream.index,
            audio_stream=audio.index if audio is not None else None,
            transfer=TRANSFER.get(int(codec.color_trc or 0), ""),
            matrix=MATRIX.get(int(codec.colorspace or 0), ""),
            full_range=int(codec.color_range or 0) == _FULL_RANGE,
            interlaced=bool(seen and seen.interlaced),
            pixel_aspect=stream.sample_aspect_ratio or Fraction(1),
        )
    return Probed(clip, tuple(_damage(clip, stamps, seen)))


def _video(container: av.container.InputContainer) -> av.VideoStream:
    """The stream a player would show. Raises _NoVideo for sound, cover art, stills and text."""
    stream = container.streams.best("video")
    if stream is None:
        what = "only sound" if container.streams.audio else "no video stream"
        raise _NoVideo(f"The file holds {what}.")
    assert isinstance(stream, av.VideoStream)
    codec = stream.codec_context
    if codec is None or not codec.name or codec.name in _TEXT_ART:
        raise _NoVideo("The file is no video, whatever its name says.")
    if stream.disposition & av.stream.Disposition.attached_pic:
        raise _NoVideo("The file holds only sound and a cover picture.")
    still = container.format.name.endswith("_pipe") or container.format.name == "image2"
    if still and codec.name in _STILL_CODECS:
        raise _NoVideo("a still picture, not a video.")
    if not codec.width or not codec.height:
        raise _NoVideo("The video has no picture size; its header is damaged.")
    return stream


def _first_picture(container: av.container.InputContainer, stream: av.VideoStream) -> Look | None:
    """What the first picture that decodes tells, or None if there is none near the beginning."""
    tried = 0
    with suppress(av.error.FFmpegError, IndexError):  # see `stamps._read`
        for packet in container.demux(stream):
            try:
                for frame in stream.codec_context.decode(packet):
                    first = None
                    if frame.pts is not None and frame.time_base is not None:
                        first = frame.pts * frame.time_base
                    return Look(int(frame.rotation), bool(frame.interlaced_frame), first)
            except av.error.FFmpegError:
                stream.codec_context.flush_buffers()
            tried += not packet.is_discard
            if tried > _FRAMES_TRIED:
                break
    return None


def _start(audio: av.stream.Stream | None) -> Seconds:
    if audio is None or audio.start_time is None or audio.time_base is None:
        return Seconds(0)
    return Fraction(audio.start_time * audio.time_base)


def _end(audio: av.stream.Stream | None) -> Seconds | None:
    if audio is None or audio.duration is None or audio.time_base is None:
        return None
    return _start(audio) + Fraction(audio.duration * audio.time_base)


def _damage(clip: Clip, stamps: Stamps, seen: Look | None) -> Iterator[Finding]:
    at = Place(clip.path)
    if seen is None:
        message = "The beginning cannot be decoded; the draft may show a slate for it."
        yield finding(DAMAGED, at, message, "Play the file, and copy it from the card again.")
    if stamps.missing > 0:
        has = clock(seconds_to_ms(clip.duration))
        claims = clock(seconds_to_ms(clip.duration + stamps.missing))
        message = f"The clip claims a length of {claims} but is cut off at {has}."
        yield finding(DAMAGED, at, message, "Copy the file from the card again if the card has all of it.")


@contextmanager
def _foreign_errors() -> Iterator[None]:
    """PyAV's and the system's exceptions, said in plain words.

    Damaged files make PyAV raise whatever its own code trips over, so those are taken for damage too.
    """
    try:
        yield
    except PermissionError as error:
        raise _NoVideo("The file may not be read; check its permissions.") from error
    except FileNotFoundError as error:
        raise _NoVideo("The file is not there.") from error
    except av.error.InvalidDataError as error:
        raise _NoVideo("The file is no video, or its end with the index is missing.") from error
    except (av.error.FFmpegError, OSError) as error:
        raise _NoVideo(f"The file cannot be read: {error.strerror or error}.") from error
    except (ValueError, ArithmeticError, LookupError, TypeError) as error:
        raise _NoVideo(f"The file is damaged and cannot be read: {error}.") from error
