"""Where the frames of a private span really begin and end: read from the clip's own packets, nothing decoded.

A phone may show one frame for a second, and a screen recording for a minute. Whatever is on screen at a span's edge
was there since that frame began, so the span is widened to the stamps of whole frames.
"""

from __future__ import annotations

from bisect import bisect_left, bisect_right
from collections.abc import Mapping
from dataclasses import replace
from pathlib import Path

import av
import av.error

from episodekit.base.time import Seconds
from episodekit.footage.model import Clip
from episodekit.footage.private import Private

FRAMES = 2
"""Frames of the clip that stay hidden on either side, at least."""

_NEAR = Seconds(2)
_GRAIN = Seconds(1, 1000)
"""Stamps that the filter graph reads as floating point are met in spite of their rounding."""


def widened(private: Private, clip: Clip, root: Path) -> Private:
    """The span from the beginning of the second frame before it to the end of the second one after it.

    If the packets cannot be read it is the whole clip: better too much is hidden than too little.
    """
    try:
        before, after = _stamps(clip, root, private.start), _stamps(clip, root, private.end)
    except (av.error.FFmpegError, OSError, IndexError, ValueError):
        return replace(private, start=Seconds(0), end=clip.duration)
    first = bisect_right(before, private.start) - 1 - FRAMES
    last = bisect_left(after, private.end) + FRAMES
    return replace(
        private,
        start=max(Seconds(0), before[first] - _GRAIN) if first >= 0 else Seconds(0),
        end=after[last] + _GRAIN if last < len(after) else clip.duration,
    )


def all_widened(private: tuple[Private, ...], clips: Mapping[str, Clip], root: Path) -> tuple[Private, ...]:
    """Each span whose clip is there, widened."""
    return tuple(widened(one, clips[one.clip], root) for one in private if one.clip in clips)


def _stamps(clip: Clip, root: Path, at: Seconds) -> list[Seconds]:
    """When the frames round a place begin, in seconds from the clip's first frame: enough of them before it, unless
    the clip begins first, and enough behind it, unless it ends first.
    """
    reach = _NEAR
    while True:
        found = _read(clip, root, at, at - reach)
        if reach > at or bisect_right(found, at) > FRAMES:
            return found
        reach *= 8


def _read(clip: Clip, root: Path, at: Seconds, since: Seconds) -> list[Seconds]:
    with av.open(str(root / clip.path), metadata_errors="replace") as container:
        stream = container.streams[clip.video_stream]
        base = stream.time_base
        assert base is not None
        if since > 0:
            container.seek(int((clip.first + since) / base), stream=stream, backward=True)
        found: set[Seconds] = set()
        behind = 0
        for packet in container.demux(stream):
            if packet.pts is None:
                continue
            stamp = packet.pts * base - clip.first
            if not packet.is_discard:
                found.add(stamp)
            # decoding stamps only rise, and no frame is shown before it is decoded
            decoded = stamp if packet.dts is None else packet.dts * base - clip.first
            behind += decoded > at
            if behind > 2 * FRAMES:
                break
        return sorted(found)
