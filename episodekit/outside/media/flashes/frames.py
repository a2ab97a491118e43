"""Frames made small for counting flashes: each cell the mean of the pixels under it, in sRGB."""

from __future__ import annotations

import threading
from collections.abc import Iterable, Iterator
from pathlib import Path
from typing import cast

import av
import av.error
import numpy as np
from av.video.reformatter import Interpolation
from numpy.typing import NDArray

from episodekit.outside.errors import Cancelled, MediaError
from episodekit.outside.media.flashes.count import Grid, Rgb

# Rec. 709 at video range to R'G'B' of 0 to 255. The scaler's own way to RGB comes out one to two levels too dark.
_KR, _KB = 0.2126, 0.0722
_KG = 1 - _KR - _KB
_LUMA = 255 / 219
_FROM_CHROMA = (
    np.array(
        [[0, 2 * (1 - _KR)], [-2 * (1 - _KB) * _KB / _KG, -2 * (1 - _KR) * _KR / _KG], [2 * (1 - _KB), 0]],
        np.float32,
    )
    * 255
    / 224
)


def small_frames(path: Path, grid: Grid, stop: threading.Event, last: int | None = None) -> Iterator[Rgb]:
    """The frames of a rendered piece, made small; with `last`, only so many at its end, and a few more.

    Raises MediaError if it cannot be decoded, Cancelled when `stop` is set.
    """
    try:
        with av.open(str(path), format="h264") as container:
            stream = container.streams.video[0]
            stream.codec_context.thread_count = 1  # pieces are scanned side by side
            packets: Iterable[av.Packet[av.VideoStream]] = container.demux(stream)
            if last is not None:
                packets = _end_of(packets, last)
            for packet in packets:
                for frame in packet.decode():
                    if stop.is_set():
                        raise Cancelled("stopped before the draft was complete")
                    yield small(frame, grid)
    except av.error.FFmpegError as error:
        raise MediaError(f"A rendered piece cannot be read: {error.strerror}.", (), str(path)) from error


def frames_beside(path: Path, skip: int, stop: threading.Event) -> Iterator[Rgb]:
    """The frames that were written small beside a piece (`picture.Small`), without the first `skip`.

    Raises MediaError if they cannot be decoded, Cancelled when `stop` is set.
    """
    try:
        with av.open(str(path), format="nut", metadata_errors="replace") as container:
            stream = container.streams.video[0]
            stream.codec_context.thread_count = 1
            for number, frame in enumerate(container.decode(stream)):
                if stop.is_set():
                    raise Cancelled("stopped before the draft was complete")
                if number >= skip:
                    yield in_rgb(cast(NDArray[np.uint8], frame.to_ndarray()))
    except av.error.FFmpegError as error:
        raise MediaError(f"A rendered piece cannot be read: {error.strerror}.", (), str(path)) from error


def small(frame: av.VideoFrame, grid: Grid) -> Rgb:
    """A frame of the draft as small as the grid."""
    made = frame.reformat(grid.columns, grid.rows, "yuv444p", interpolation=Interpolation.AREA)
    return in_rgb(cast(NDArray[np.uint8], made.to_ndarray()))


def in_rgb(planes: NDArray[np.uint8]) -> Rgb:
    """Three planes of Rec. 709 at video range as rows x columns x 3 of R'G'B', rounded to the nearest level."""
    luma = (planes[0].astype(np.float32) - 16) * np.float32(_LUMA)
    chroma = np.moveaxis(planes[1:], 0, -1).astype(np.float32) - 128
    levels = luma[..., None] + chroma @ _FROM_CHROMA.T.astype(np.float32)
    rgb: Rgb = np.clip(np.rint(levels), 0, 255).astype(np.uint8)
    return rgb


def _end_of(packets: Iterable[av.Packet[av.VideoStream]], last: int) -> list[av.Packet[av.VideoStream]]:
    """The packets from the last key frame on that has at least so many frames behind it, or all of them."""
    every = list(packets)
    keys = [n for n, packet in enumerate(every) if packet.is_keyframe and packet.size]
    count = sum(1 for packet in every if packet.size)
    start = max((n for n in keys if count - n >= last), default=0)
    return every[start:]
