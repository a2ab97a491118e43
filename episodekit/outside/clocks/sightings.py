"""Find the filmed clock in a clip: looked for in a few frames of each group of pictures, then read from every frame
around. zxing-cpp reads; frames that blend two codes make the place exact.

A clock that is filmed for three seconds is seen by at least two looks, however far apart key frames are: each key
frame and what follows for `GLANCE` is looked at, and where the next key frame is further away than `SURE_TO_SEE`, all
up to there. Two looks are needed because one frame in six shows a code that changes under the shutter. What need not be
looked at is not decoded. At 1080p a second of footage costs so many seconds of one core (of two, half of that passes):
H.264 of 17 Mb/s with key frames each second 0.034, each ten seconds 0.19; HEVC of 12 Mb/s, each second, 0.038
(tests/benchmarks/test_filmed_clock.py).
"""

from __future__ import annotations

from bisect import bisect
from collections.abc import Callable, Iterator, Sequence
from contextlib import suppress
from fractions import Fraction
from itertools import pairwise
from pathlib import Path
from statistics import median
from typing import cast

import av
import av.error
import numpy as np
import zxingcpp
from numpy.typing import NDArray

from episodekit.base.time import Seconds
from episodekit.footage.model import Clip
from episodekit.outside.clocks.blends import Look, blends, modules
from episodekit.outside.clocks.shutter import refined
from episodekit.sync.clock_code import instant
from episodekit.sync.model import Clue
from episodekit.sync.stab import Reading, sightings_of

GLANCE = Seconds(2, 5)
"""Looked at from each key frame on: a code stays for less than half of it, so one is caught whole."""

SURE_TO_SEE = Seconds(12, 5)
"""A clock filmed for three seconds that appears later than this before a key frame is still there a glance after it."""

LOOK_EVERY = Seconds(3, 10)
"""Between two looks further on; no multiple of the time for which a code stays."""

_DENSE = Seconds(21, 20)
"""Key frames no further apart than this show a clock of three seconds at least twice by themselves."""

AROUND = Seconds(5)
"""Read before and after a hit."""

UNREAD = 4
"""So many frames in a row may be unread because the code changes, and no more."""

Grey = NDArray[np.uint8]

_SMALL_LINES = 540
"""Lines of the picture that is searched, at least: enough for a code of a tenth of the picture's width."""


def sightings(
    clip: Clip, root: Path, progress: Callable[[Seconds], None] = lambda at: None
) -> tuple[Clue, ...]:
    """Where the clip films the clock. `progress` hears the place that is searched.

    A file that breaks off or cannot be decoded is read as far as it goes. Bounded memory: one frame at a time.
    """
    readings: list[Reading] = []
    looks: list[Look] = []
    done = Seconds(0)
    with suppress(av.error.FFmpegError, OSError):
        for at, code in _searched(clip, root, progress):
            if at < done:
                continue
            begin, done = max(done, at - AROUND), at + AROUND
            found = _read(clip, root, begin, done)
            looks += found
            read = [Reading(look.at, look.code) for look in found if look.code is not None]
            readings += read or [Reading(at, code)]
    return tuple(_sharpened(clue, looks) for clue in sightings_of(clip.path, readings))


def _sharpened(clue: Clue, looks: Sequence[Look]) -> Clue:
    """The clue made exact by frames that were exposed while the code changed."""
    near = [look for look in looks if abs(look.at - clue.at) <= AROUND]
    if len(near) < 2:
        return clue
    longest = median(float(b.at - a.at) for a, b in pairwise(near))
    return refined(clue, blends(near, clue.wall - clue.at), longest)


def _searched(clip: Clip, root: Path, progress: Callable[[Seconds], None]) -> Iterator[tuple[Seconds, int]]:
    """Frames that show a code, at least one wherever the clock is filmed for three seconds."""
    keys = clip.key_frames
    dense = bool(keys) and max(b - a for a, b in pairwise((Seconds(0), *keys, clip.duration))) <= _DENSE
    with av.open(str(root / clip.path), metadata_errors="replace") as container:
        stream = container.streams[clip.video_stream]
        assert isinstance(stream, av.VideoStream)
        stream.codec_context.skip_frame = "NONKEY" if dense else "NONREF"
        # What the filter smooths is far finer than a code, and it is a tenth of the work.
        stream.codec_context.options = {"skip_loop_filter": "all"}
        stream.codec_context.thread_type = "AUTO"
        due = Seconds(0)
        packets = container.demux(stream)
        for frame in _decoded(packets if dense else _worth_a_look(clip, packets)):
            at = _place(frame, clip)
            if at is None or (at < due and not frame.key_frame):
                continue
            near = keys[bisect(keys, at) - 1] if keys and at >= keys[0] else at
            due = at + (LOOK_EVERY if at - near > GLANCE else GLANCE / 6)
            progress(at)
            seen = _code(_grey(frame, _scale(frame)))
            if seen is not None:
                yield at, seen[0]


def _worth_a_look(
    clip: Clip, packets: Iterator[av.Packet[av.VideoStream]]
) -> Iterator[av.Packet[av.VideoStream]]:
    """Packets from each key frame to a glance behind it, or as far as the next one could not be sure to see the clock.

    Told by the order of decoding, so that nothing is left out that a frame leans on.
    """
    keys = clip.key_frames
    end: Seconds | None = None
    for packet in packets:
        if keys and packet.is_keyframe and packet.pts is not None:
            at = Seconds(packet.pts * packet.time_base) - clip.first
            n = bisect(keys, at)
            end = max(at + GLANCE, (keys[n] if n < len(keys) else clip.duration) - SURE_TO_SEE)
        stamp = packet.pts if packet.dts is None else packet.dts
        if end is None or stamp is None or stamp * packet.time_base - clip.first < end:
            yield packet


def _read(clip: Clip, root: Path, begin: Seconds, end: Seconds) -> list[Look]:
    """Every frame from `begin` to `end` that shows the clock, and few that could not be read between two that could."""
    found: list[Look] = []
    waiting: list[tuple[Seconds, Grey]] = []
    with av.open(str(root / clip.path), metadata_errors="replace") as container:
        stream = container.streams[clip.video_stream]
        assert isinstance(stream, av.VideoStream)
        stream.codec_context.thread_type = "AUTO"
        target = max(Fraction(0), begin - 1) + clip.first
        assert stream.time_base is not None
        container.seek(int(target / stream.time_base), stream=stream)
        for frame in _decoded(container.demux(stream)):
            at = _place(frame, clip)
            if at is None or at < begin:
                continue
            if at >= end:
                break
            scale = _scale(frame)
            grey = _grey(frame, scale)
            seen = _code(grey) or (_code(_grey(frame, 1)) if scale > 1 else None)
            if seen is None:
                waiting = [*waiting[-UNREAD:], (at, grey)]
                continue
            code, corners = seen
            if found and len(waiting) <= UNREAD:
                between = (found[-1].corners + corners) / 2
                found += [Look(when, None, modules(picture, between), between) for when, picture in waiting]
            waiting = []
            found.append(Look(at, code, modules(grey, corners), corners))
    return found


def _decoded(packets: Iterator[av.Packet[av.VideoStream]]) -> Iterator[av.VideoFrame]:
    """Frames, whatever a damaged packet says."""
    for packet in packets:
        with suppress(av.error.InvalidDataError):
            yield from packet.decode()


def _place(frame: av.VideoFrame, clip: Clip) -> Seconds | None:
    if frame.pts is None or frame.time_base is None:
        return None
    return Seconds(frame.pts * frame.time_base) - clip.first


def _scale(frame: av.VideoFrame) -> int:
    return max(1, min(frame.width, frame.height) // _SMALL_LINES)


def _grey(frame: av.VideoFrame, by: int) -> Grey:
    """The picture, made smaller so many times."""
    small = frame.reformat(frame.width // by, frame.height // by, "gray")
    return cast(Grey, small.to_ndarray())


def _code(grey: Grey) -> tuple[int, NDArray[np.float64]] | None:
    """What the clock tells in a picture, and where its corners lie."""
    found = zxingcpp.read_barcodes(grey, formats=zxingcpp.BarcodeFormats(zxingcpp.BarcodeFormat.QRCode))
    for one in found:
        code = instant(one.text)
        if code is not None:
            place = one.position
            corners = (place.top_left, place.top_right, place.bottom_right, place.bottom_left)
            return code, np.array([(c.x / grey.shape[1], c.y / grey.shape[0]) for c in corners])
    return None
