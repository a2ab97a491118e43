"""Find the filmed clock in a clip: looked for among key frames, then read from every frame around. zxing-cpp reads."""

from __future__ import annotations

from collections.abc import Callable, Iterator
from contextlib import suppress
from fractions import Fraction
from itertools import pairwise
from pathlib import Path
from typing import cast

import av
import av.error
import numpy as np
import zxingcpp
from numpy.typing import NDArray

from episodekit.base.time import Seconds
from episodekit.footage.model import Clip
from episodekit.sync.clock_code import instant
from episodekit.sync.model import Clue
from episodekit.sync.stab import Reading, sightings_of

LOOK_EVERY = Seconds(1)
"""The clock is filmed for three seconds, so one look a second cannot miss it."""

AROUND = Seconds(5)
"""Read before and after a hit."""

_SMALL_LINES = 540
"""Lines of the picture that is searched: a code a tenth of the width wide still has 5.5 pixels a module at 1080."""


def sightings(
    clip: Clip, root: Path, progress: Callable[[Seconds], None] = lambda at: None
) -> tuple[Clue, ...]:
    """Where the clip films the clock. `progress` hears the place that is searched.

    A file that breaks off or cannot be decoded is read as far as it goes. Bounded memory: one frame at a time.
    """
    readings: list[Reading] = []
    done = Seconds(0)
    with suppress(av.error.FFmpegError, OSError):
        for at, code in _searched(clip, root, progress):
            if at < done:
                continue
            begin, done = max(done, at - AROUND), at + AROUND
            readings += _read(clip, root, begin, done) or [Reading(at, code)]
    return sightings_of(clip.path, readings)


def _searched(clip: Clip, root: Path, progress: Callable[[Seconds], None]) -> Iterator[tuple[Seconds, int]]:
    """Frames at least once a second that show a code: key frames where they are dense enough, else some of all."""
    keys = clip.key_frames
    edges = (Seconds(0), *keys, clip.duration)
    dense = bool(keys) and max(b - a for a, b in pairwise(edges)) <= 2 * LOOK_EVERY
    with av.open(str(root / clip.path), metadata_errors="replace") as container:
        stream = container.streams[clip.video_stream]
        assert isinstance(stream, av.VideoStream)
        stream.codec_context.skip_frame = "NONKEY" if dense else "NONREF"
        stream.codec_context.thread_type = "AUTO"
        due = Seconds(0)
        for frame in _decoded(container, stream):
            at = _place(frame, clip)
            if at is None or at < due:
                continue
            if not dense:  # otherwise every key frame is looked at: the clock may be there for one only
                due = at + LOOK_EVERY
            progress(at)
            code = _code(frame)
            if code is not None:
                yield at, code


def _read(clip: Clip, root: Path, begin: Seconds, end: Seconds) -> list[Reading]:
    """Every frame from `begin` to `end` that shows a code."""
    found: list[Reading] = []
    with av.open(str(root / clip.path), metadata_errors="replace") as container:
        stream = container.streams[clip.video_stream]
        assert isinstance(stream, av.VideoStream)
        stream.codec_context.thread_type = "AUTO"
        target = max(Fraction(0), begin - 1) + clip.first
        assert stream.time_base is not None
        container.seek(int(target / stream.time_base), stream=stream)
        for frame in _decoded(container, stream):
            at = _place(frame, clip)
            if at is None or at < begin:
                continue
            if at >= end:
                break
            code = _code(frame)
            if code is not None:
                found.append(Reading(at, code))
    return found


def _decoded(container: av.container.InputContainer, stream: av.VideoStream) -> Iterator[av.VideoFrame]:
    """Frames, whatever a damaged packet says."""
    for packet in container.demux(stream):
        with suppress(av.error.InvalidDataError):
            yield from packet.decode()


def _place(frame: av.VideoFrame, clip: Clip) -> Seconds | None:
    if frame.pts is None or frame.time_base is None:
        return None
    return Seconds(frame.pts * frame.time_base) - clip.first


def _code(frame: av.VideoFrame) -> int | None:
    """What the clock tells in a frame: in the picture made small, and if there is a large one, in that too."""
    lines = min(frame.width, frame.height)
    scale = 2 if lines >= 2 * _SMALL_LINES else 1
    small = frame.reformat(frame.width // scale, frame.height // scale, "gray")
    grey = cast(NDArray[np.uint8], small.to_ndarray())
    found = zxingcpp.read_barcodes(grey, formats=zxingcpp.BarcodeFormats(zxingcpp.BarcodeFormat.QRCode))
    return next((ms for one in found if (ms := instant(one.text)) is not None), None)
