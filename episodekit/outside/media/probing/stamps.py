"""The time stamps of a camera file: rate, variable rate, first and last instant, key frames.

Only a few windows of packets are read, and the container's index where it has one: MP4 and MOV list
every frame, Matroska some key frames. What other containers call their index is only a memory of where
the reader has been, with holes, so it is not used.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from contextlib import suppress
from dataclasses import dataclass, replace
from fractions import Fraction
from itertools import pairwise
from statistics import median

import av
import av.error
from av.index import IndexEntry

from episodekit.base.time import Seconds, nearest

WINDOWS = 5
WINDOW_PACKETS = 90
VARIABLE_SHARE = Fraction(5, 100)
OFF_MEDIAN = Fraction(10, 100)
MOST_TICK = Fraction(1, 4)
CUT_OFF = Seconds(1, 2)
"""A clip that claims this much more than it holds is cut off."""

_TAIL = Seconds(12)
"""How far before the claimed end the last packets are looked for first."""

_WHOLE = (15, 24, 25, 30, 48, 50, 60, 100, 120, 240)
_STANDARD = (*map(Fraction, _WHOLE), *(Fraction(rate * 1000, 1001) for rate in _WHOLE if rate % 24 % 6 == 0))


@dataclass(frozen=True)
class Packet:
    """When a frame is shown and for how long, in container seconds."""

    pts: Seconds
    duration: Seconds
    key: bool


@dataclass(frozen=True)
class Stamps:
    """`first` and `end` are container seconds of what plays; `missing` is how much more is claimed.

    `frames` is how many frames were met, at most a few hundred. `key_frames` are container seconds.
    """

    first: Seconds
    end: Seconds
    rate: Fraction
    variable: bool
    key_frames: tuple[Seconds, ...]
    missing: Seconds
    frames: int


def read_stamps(container: av.container.InputContainer, stream: av.VideoStream, size: int) -> Stamps:
    """Read them. `size` is the file's length in bytes. Raises av.error.FFmpegError if nothing can be read."""
    base = _base(stream)
    head = _read(container, stream, base, WINDOW_PACKETS)
    if not head:
        return Stamps(Seconds(0), Seconds(0), Fraction(1), False, (), Seconds(0), 0)
    first = min(packet.pts for packet in head)
    claimed = _claimed_end(container, stream, base, first)
    every_frame = "mov" in container.format.name
    index = _indexed(stream.index_entries if every_frame else (), size)
    cut = index.last is not None and index.cut
    look_to = max(first, index.last * base) if cut and index.last is not None else claimed

    groups = [head]
    if len(head) >= WINDOW_PACKETS:
        for part in range(1, WINDOWS - 1):
            groups.append(_at(container, stream, base, first + (look_to - first) * part / (WINDOWS - 1)))
        groups.append(_tail(container, stream, base, first, look_to))
    last = max((packet for group in groups for packet in group), key=lambda packet: packet.pts)

    intervals = [b - a for group in groups for a, b in pairwise(sorted(p.pts for p in group)) if b > a]
    usual = median(intervals) if intervals else Fraction(1, 25)
    # 8 and 9 ms are one and the same rate in a container of whole milliseconds; but where a tick is no small
    # part of a frame, a step of one more is a longer frame
    leeway = max(usual * OFF_MEDIAN, base if base <= usual * MOST_TICK else 0)
    off = sum(abs(step - usual) > leeway for step in intervals)
    variable = bool(intervals) and off > VARIABLE_SHARE * len(intervals)

    end = last.pts + (last.duration or usual)
    if "matroska" in container.format.name:
        # key frames only, and only after a seek to the end
        index = replace(index, keys=_indexed(stream.index_entries, size).keys)
    shift = _first_key_shift(groups[0], index.keys, base)
    return Stamps(
        first=first,
        end=end,
        rate=_rate(stream, index, base, variable, usual),
        variable=variable,
        key_frames=tuple(sorted({at * base + shift for at, _ in index.keys})),
        missing=max(Seconds(0), claimed - end) if claimed - end > CUT_OFF else Seconds(0),
        frames=sum(len(group) for group in groups),
    )


def _base(stream: av.VideoStream) -> Fraction:
    return stream.time_base or Fraction(1, 90_000)


def _packets(
    container: av.container.InputContainer, stream: av.VideoStream
) -> Iterator[av.Packet[av.VideoStream]]:
    return container.demux(stream)


def _read(
    container: av.container.InputContainer, stream: av.VideoStream, base: Fraction, limit: int | None
) -> list[Packet]:
    """The next packets that are shown, in file order; fewer if the file ends or cannot be read further."""
    found: list[Packet] = []
    # At the end of a damaged transport stream PyAV looks up a stream that the beginning did not announce.
    with suppress(av.error.FFmpegError, IndexError):
        for packet in _packets(container, stream):
            if packet.pts is not None and not packet.is_discard:
                found.append(Packet(packet.pts * base, (packet.duration or 0) * base, packet.is_keyframe))
            if limit is not None and len(found) >= limit:
                break
    return found


def _at(
    container: av.container.InputContainer, stream: av.VideoStream, base: Fraction, when: Seconds
) -> list[Packet]:
    try:
        container.seek(nearest(when / base), stream=stream, backward=True)
    except av.error.FFmpegError:
        return []
    return _read(container, stream, base, WINDOW_PACKETS)


def _tail(
    container: av.container.InputContainer,
    stream: av.VideoStream,
    base: Fraction,
    first: Seconds,
    end: Seconds,
) -> list[Packet]:
    """The last packets that can be read: further and further back until there are some."""
    back = _TAIL
    while True:
        start = max(first, end - back)
        try:
            container.seek(nearest(start / base), stream=stream, backward=True)
            found = _read(container, stream, base, None)
        except av.error.FFmpegError:
            found = []
        if found or start == first:
            return found
        back *= 4


def _claimed_end(
    container: av.container.InputContainer, stream: av.VideoStream, base: Fraction, first: Seconds
) -> Seconds:
    if stream.duration:
        return first + stream.duration * base
    if container.duration:
        return Fraction((container.start_time or 0) + container.duration, 1_000_000)
    return first


@dataclass(frozen=True)
class _Index:
    """What a container's index tells, all stamps being decoding times in ticks.

    `cut` says whether some frames lie beyond the end of the file, `last` is the last one that does not, `played`
    how many of those are shown, from `begin` to `end`. `keys` are all key frames, and whether each is shown.
    """

    cut: bool
    last: int | None
    played: int
    begin: int
    end: int
    keys: tuple[tuple[int, bool], ...]


def _indexed(entries: Iterable[IndexEntry], size: int) -> _Index:
    """Read it entry by entry: three hours of footage have some 300,000 of them, too many to hold at once."""
    cut, last, played, begin, end = False, None, 0, 0, 0
    keys = []
    for entry in entries:
        at = entry.timestamp
        if entry.is_keyframe:
            keys.append((at, not entry.is_discard))
        if entry.size > 0 and entry.pos >= 0 and entry.pos + entry.size > size:
            cut = True
            continue
        last = at
        if not entry.is_discard:
            begin, end = (begin if played else at), at
            played += 1
    return _Index(cut, last, played, begin, end, tuple(keys))


def _first_key_shift(head: Iterable[Packet], keys: Iterable[tuple[int, bool]], base: Fraction) -> Seconds:
    """An index holds decoding times; a key frame's presentation time is later by the first one's delay."""
    indexed = next((at * base for at, plays in keys if plays), None)
    shown = next((packet.pts for packet in head if packet.key), None)
    if indexed is None or shown is None:
        return Seconds(0)
    return max(Seconds(0), shown - indexed)


def _rate(
    stream: av.VideoStream,
    index: _Index,
    base: Fraction,
    variable: bool,
    usual: Fraction,
) -> Fraction:
    """The exact average rate; a constant one that is within 0.02 % of a standard rate is that rate.

    The whole index counts better than the header, which divides the indexed frames by the edited length.
    """
    average = Fraction(stream.average_rate or stream.guessed_rate or 1 / usual)
    if variable:
        return _sane(average)
    tolerance = Fraction(2, 10_000)
    if index.played > 1 and index.end > index.begin:
        span = (index.end - index.begin) * base
        if index.played > 8:
            average = (index.played - 1) / span
        tolerance = max(tolerance, 2 * base / span)
    near = min(_STANDARD, key=lambda standard: abs(average - standard))
    if abs(average - near) <= near * min(tolerance, Fraction(4, 10_000)):
        return near
    return _sane(average)


def _sane(rate: Fraction) -> Fraction:
    """From a frame in an hour, as cameras that watch glue cure write, to 1000 a second."""
    return min(max(rate, Fraction(1, 3600)), Fraction(1000))
