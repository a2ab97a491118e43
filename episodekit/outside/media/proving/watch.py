"""Watch a finished video, ours or the creator's own export, and tell when each board is on screen.

The file is scanned at least twice a second; round every edge that shows up, and through the whole of a board of
the deal, each frame is decoded, so that first and last frame are exact. The video's own time stamps count,
from its first frame, so another size, rate or codec changes nothing.
"""

from __future__ import annotations

from collections.abc import Callable, Generator, Iterator, Sequence
from contextlib import closing, suppress
from dataclasses import dataclass
from fractions import Fraction
from itertools import pairwise
from pathlib import Path
from typing import Any, Literal, cast

import av
import av.error
import numpy as np
from PIL import Image

from episodekit.base.time import Seconds
from episodekit.footage.model import Clip
from episodekit.footage.rules import DAMAGED
from episodekit.outside.errors import MediaError
from episodekit.outside.media.probing.probe import probe
from episodekit.outside.media.proving.boards import Board, Plane, Template, geometry

_EVERY = Fraction(1, 2)
_MOST_BETWEEN_KEYS = Fraction(1)
"""Seconds between key frames up to which looking at those alone is enough."""
_Skip = Literal["DEFAULT", "NONREF", "NONKEY"]
_PLANAR = ("yuv420p", "yuvj420p", "yuv422p", "yuvj422p", "yuv444p", "yuvj444p", "nv12", "gray")


@dataclass(frozen=True)
class Wanted:
    """A board to look for. `whole`: each frame between its edges is looked at too, so that no cover is missed."""

    board: Board
    whole: bool


@dataclass(frozen=True)
class Run:
    """A stretch in which a board is on screen, in seconds from the video's first frame, half-open."""

    start: Seconds
    end: Seconds


@dataclass(frozen=True)
class Film:
    """A video that can be watched: its facts, the shape of its pixels, and its chapters (start, title)."""

    path: Path
    clip: Clip
    pixel: Fraction
    chapters: tuple[tuple[Seconds, str], ...]

    @property
    def size(self) -> tuple[int, int]:
        """Width and height of its coded picture."""
        return self.clip.width, self.clip.height

    @property
    def frame(self) -> Seconds:
        """How long a frame lasts."""
        return 1 / self.clip.rate.exact


def open_film(path: Path) -> Film:
    """Read a video's facts. Raises MediaError with one plain line for anything that is no whole video.

    One that is cut off is refused too: what it does not hold would pass for what the creator left out.
    """
    probed = probe(path, path.name)
    damaged = [found for found in probed.findings if found.rule is DAMAGED]
    if probed.clip is None or damaged:
        why = (damaged or probed.findings)[0].message.partition(";")[0].rstrip(".")
        raise MediaError(f"The video cannot be measured: {why}. Export it again.", (), str(path))
    with av.open(str(path), metadata_errors="replace") as container:
        stream = container.streams[probed.clip.video_stream]
        pixel = getattr(stream, "sample_aspect_ratio", None) or Fraction(1)
        marks = [
            (c["start"] * (c["time_base"] or 0) - probed.clip.first, str(c["metadata"].get("title", "")))
            for c in container.chapters()
        ]
    return Film(
        path, probed.clip, Fraction(pixel), tuple((max(Seconds(0), at), title) for at, title in marks)
    )


def watch(
    film: Film,
    wanted: Sequence[Wanted],
    size: tuple[int, int],
    progress: Callable[[int, int], None] = lambda done, total: None,
) -> tuple[tuple[Run, ...], ...]:
    """The runs of each board, in the order of `wanted`; `size` is that of the draft they were drawn for.

    Where two boards lie on one another the more alike one is taken. `progress` hears how many milliseconds of how
    many were scanned. Raises MediaError if nothing decodes.
    """
    shape = geometry(size, film.size, film.pixel)
    templates = [Template(one.board, shape) for one in wanted]
    scanned = _scan(film, templates, progress)
    samples: list[dict[Seconds, bool]] = [{} for _ in wanted]
    windows: list[list[tuple[Seconds, Seconds]]] = []
    for number, one in enumerate(wanted):
        times = [(at, number in seen) for at, seen in scanned]
        samples[number].update(times)
        windows.append(_windows(times, one.whole, film.clip.duration))
    for start, end in _merged([window for some in windows for window in some]):
        asked = [n for n, some in enumerate(windows) if any(a < end and b > start for a, b in some)]
        for at, plane in _planes(film, start, end):
            seen = _seen(plane, templates, asked)
            for number in asked:
                if any(a <= at < b for a, b in windows[number]):
                    samples[number][at] = number in seen
    return tuple(tuple(_runs(sample, film.clip.duration)) for sample in samples)


def stills(film: Film, times: Sequence[Seconds]) -> dict[Seconds, Image.Image]:
    """The frame on screen at each time, in the video's own size; times with no frame are left out."""
    found: dict[Seconds, Image.Image] = {}
    for at in sorted(set(times)):
        last = None
        with closing(_decoded(film, max(Seconds(0), at - film.frame), at + film.frame)) as frames:
            for stamp, frame in frames:
                if stamp > at and last is not None:
                    break
                last = frame
        if last is not None:
            found[at] = last.to_image()  # type: ignore[no-untyped-call]
    return found


def _scan(
    film: Film, templates: Sequence[Template], progress: Callable[[int, int], None]
) -> list[tuple[Seconds, set[int]]]:
    """Which boards are on screen, at least twice a second or at each key frame."""
    keys = film.clip.key_frames
    gaps = [b - a for a, b in pairwise((*keys, film.clip.duration))]
    dense = bool(keys) and keys[0] == 0 and max(gaps, default=_EVERY) <= _MOST_BETWEEN_KEYS
    found: list[tuple[Seconds, set[int]]] = []
    due = Seconds(0)
    # Frames that no other refers to are skipped while scanning: there are always others beside them.
    with closing(_decoded(film, Seconds(0), None, "NONKEY" if dense else "NONREF")) as frames:
        for at, frame in frames:
            if dense or at >= due:
                due = at + _EVERY
                plane = _luma(frame)
                near = [n for n, template in enumerate(templates) if template.may_show(plane)]
                found.append((at, _seen(plane, templates, near)))
                progress(int(at * 1000), int(film.clip.duration * 1000))
    if not found:
        raise MediaError(
            "The video cannot be measured: none of it decodes. Export it again.", (), str(film.path)
        )
    return found


def _seen(plane: Plane, templates: Sequence[Template], asked: Sequence[int]) -> set[int]:
    """The boards on screen, the more alike one of two that lie on one another."""
    scores = {number: templates[number].shows(plane) for number in asked}
    seen: set[int] = set()
    for number in sorted((n for n in asked if scores[n] > 0), key=lambda n: (-scores[n], n)):
        if not any(_meet(templates[number], templates[other]) for other in seen):
            seen.add(number)
    return seen


def _meet(one: Template, other: Template) -> bool:
    a, b = one.box, other.box
    return a[0] < b[2] and b[0] < a[2] and a[1] < b[3] and b[1] < a[3]


def _windows(
    times: Sequence[tuple[Seconds, bool]], whole: bool, end: Seconds
) -> list[tuple[Seconds, Seconds]]:
    """Where each frame must be looked at: round each edge, and between them if `whole`."""
    found = []
    stamps = [at for at, _ in times]
    for index, (at, seen) in enumerate(times):
        before = index > 0 and times[index - 1][1]
        after = stamps[index + 1] if index + 1 < len(times) else end
        if seen and not before:
            found.append((stamps[index - 1] if index else Seconds(0), at))
        last = seen and not (index + 1 < len(times) and times[index + 1][1])
        if last or (seen and whole):
            found.append((at, after))
    return found


def _merged(windows: Sequence[tuple[Seconds, Seconds]]) -> list[tuple[Seconds, Seconds]]:
    """Windows as few stretches: a seek costs more than two seconds of decoding."""
    found: list[tuple[Seconds, Seconds]] = []
    for start, end in sorted(windows):
        if found and start <= found[-1][1] + 2:
            found[-1] = (found[-1][0], max(found[-1][1], end))
        else:
            found.append((start, end))
    return found


def _runs(samples: dict[Seconds, bool], end: Seconds) -> Iterator[Run]:
    start = None
    for at, seen in sorted(samples.items()):
        if seen and start is None:
            start = at
        if not seen and start is not None:
            yield Run(start, at)
            start = None
    if start is not None:
        yield Run(start, max(end, start))


def _planes(film: Film, start: Seconds, end: Seconds) -> Iterator[tuple[Seconds, Plane]]:
    with closing(_decoded(film, start, end)) as frames:
        for at, frame in frames:
            if start <= at < end:
                yield at, _luma(frame)


def _decoded(
    film: Film, start: Seconds, end: Seconds | None, skip: _Skip = "DEFAULT"
) -> Generator[tuple[Seconds, av.VideoFrame], None, None]:
    """Frames from at or before `start` on, to the first at or after `end`, with their times."""
    for back in (Seconds(1), Seconds(12), None):
        frames = _from(film, None if back is None or start <= back else start - back, skip)
        first = next(frames, None)
        if first is None or (first[0] > start and back is not None and start > 0):
            frames.close()
            continue
        with closing(frames):
            yield first
            for at, frame in frames:
                if end is not None and at >= end:
                    yield at, frame
                    return
                yield at, frame
        return


def _from(
    film: Film, start: Seconds | None, skip: _Skip
) -> Generator[tuple[Seconds, av.VideoFrame], None, None]:
    clip = film.clip
    with av.open(str(film.path), metadata_errors="replace") as container:
        stream = container.streams[clip.video_stream]
        assert isinstance(stream, av.VideoStream)
        stream.thread_type = "AUTO"
        stream.codec_context.skip_frame = skip
        if start is not None and stream.time_base:
            with suppress(av.error.FFmpegError):
                container.seek(int((start + clip.first) / stream.time_base), stream=stream)
        with suppress(av.error.FFmpegError, IndexError):  # a damaged end; see `stamps._read`
            for packet in container.demux(stream):
                try:
                    for frame in stream.codec_context.decode(packet):
                        if frame.pts is not None and frame.time_base is not None:
                            yield frame.pts * frame.time_base - clip.first, frame
                except av.error.FFmpegError:
                    stream.codec_context.flush_buffers()


def _luma(frame: av.VideoFrame) -> Plane:
    """The brightness of a frame: its own plane of 8 bits, without a copy, where it has one."""
    if frame.format.name not in _PLANAR:
        return cast(Plane, frame.reformat(format="gray").to_ndarray())
    plane = frame.planes[0]
    rows: Plane = np.frombuffer(cast(Any, plane), np.uint8).reshape(-1, plane.line_size)
    return rows[: frame.height, : frame.width]
