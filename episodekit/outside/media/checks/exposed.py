"""Look again, in the finished draft, at each place where something private would be seen.

It shares nothing with `erase.py`: that fills boxes in the camera's stored frames by the container's stamps, this
reads the draft's own frames where the plan says that private footage plays, upright and to scale.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass
from fractions import Fraction
from math import ceil, floor
from pathlib import Path

import av
import numpy as np
from numpy.typing import NDArray

from episodekit.base.findings import Finding, finding
from episodekit.base.place import Place
from episodekit.base.time import Frames, clock, frames_to_ms
from episodekit.footage.model import Clip
from episodekit.footage.private import Private
from episodekit.outside.media.drawing.burn import burnt_rows
from episodekit.outside.media.recipes.picture import Look
from episodekit.outside.media.recipes.pieces import Piece, Stretch
from episodekit.outside.media.rendering.art import Art
from episodekit.timeline.reading import look_ahead
from episodekit.timeline.rules import PRIVATE

LEVELS = 8
"""How far a pixel of a plain box may lie from the middle one, of 255: more than coding noise, less than letters."""

STRAY = Fraction(1, 200)
"""Share of a box's pixels that may lie further off. Both figures: own choice, no source."""

_RIM = 8
"""Pixels at a box's rim that the scaler and the encoder mix with what lies outside."""

Plane = NDArray[np.uint8]
Rectangle = tuple[int, int, int, int]
"""Left, top, right, bottom in pixels of the draft, half-open."""


@dataclass(frozen=True)
class _Glance:
    """One box in one frame of the draft, and what the draft's own boards cover of the picture meanwhile."""

    frame: int
    box: Rectangle
    boards: tuple[Rectangle, ...]
    private: Private


def exposed(
    draft: Path, pieces: Iterable[Piece], private: Sequence[Private], art: Art, look: Look
) -> tuple[Finding, ...]:
    """A finding for each private span whose box is not plain somewhere in the draft.

    Looked at are the first two and last two frames of each stretch, its middle, and one each second. What lies under
    a board is left out: a board hides it today, and does not tell whether it was filled.
    """
    glances = [glance for piece in pieces for glance in _glances(piece, private, art, look)]
    worst: dict[Private, int] = {}
    wanted: dict[int, list[_Glance]] = {}
    for glance in glances:
        wanted.setdefault(glance.frame, []).append(glance)
    for frame, planes in _frames(draft, sorted(wanted), look):
        for glance in wanted[frame]:
            if glance.private not in worst and not _plain(planes, glance):
                worst[glance.private] = frame
    return tuple(_told(one, frame, look) for one, frame in worst.items())


def _told(private: Private, frame: int, look: Look) -> Finding:
    at = clock(frames_to_ms(Frames(frame), look.rate))
    said = f"'{private.what or 'Something private'}' can still be seen at {at}, so the draft was thrown away."
    remedy = "Mark a larger box, or the whole picture, or take this clip's marks out of the log."
    return finding(PRIVATE, Place(private.clip), said, remedy)


def _glances(piece: Piece, private: Sequence[Private], art: Art, look: Look) -> Iterator[_Glance]:
    show = piece.show
    if not isinstance(show, Stretch):
        return
    step = show.speed / look.rate.exact
    begins = show.start + look_ahead(show.speed, show.clip, look.rate)
    for one in private:
        if one.clip != show.clip.path:
            continue
        first = max(0, ceil((one.start - begins) / step))
        last = min(show.played - 1, ceil((one.end - begins) / step) - 1)
        if last < first:
            continue
        if last == show.played - 1:  # and held from there on
            last = piece.frames - 1
        if first >= piece.frames:
            continue
        box = _inside(one, show.clip, look)
        picked = {
            first,
            first + 1,
            (first + last) // 2,
            last - 1,
            last,
            *range(first, last, look.rate.nominal),
        }
        for n in sorted(n for n in picked if first <= n <= last):
            boards = tuple(
                art.covers(part) for part in piece.slices if part.begins <= n < part.begins + part.length
            )
            if look.timecode:
                boards += ((0, 0, look.width, burnt_rows(look.height)),)
            yield _Glance(piece.start + n, box, boards, one)


def _inside(private: Private, clip: Clip, look: Look) -> Rectangle:
    """Where the box lies in the draft, its rim left out."""
    shape = Fraction(clip.width, clip.height) * clip.pixel_aspect
    shape = 1 / shape if clip.rotation % 180 else shape
    width = min(Fraction(look.width), look.height * shape)
    height = min(Fraction(look.height), look.width / shape)
    x, y, box = (look.width - width) / 2, (look.height - height) / 2, private.box
    left, top = floor(x + width * box.left), floor(y + height * box.top)
    right, bottom = ceil(x + width * box.right), ceil(y + height * box.bottom)
    across, down = min(_RIM, (right - left) // 4), min(_RIM, (bottom - top) // 4)
    return left + across, top + down, right - across, bottom - down


def _frames(draft: Path, wanted: Sequence[int], look: Look) -> Iterator[tuple[int, Mapping[str, Plane]]]:
    """The frames with these numbers, in rising order, as brightness and two colours at full size."""
    if not wanted:
        return
    with av.open(str(draft)) as container:
        stream = container.streams.video[0]
        base = stream.time_base
        assert base is not None
        at = -1
        decoded = container.decode(stream)
        for number in wanted:
            if number > at + look.rate.nominal or at < 0:
                container.seek(int(number / look.rate.exact / base), stream=stream, backward=True)
                decoded = container.decode(stream)
            for frame in decoded:
                at = round((frame.pts or 0) * base * look.rate.exact)
                if at >= number:
                    break
            whole = frame.reformat(format="yuv444p").to_ndarray()
            yield number, dict(zip("yuv", whole, strict=True))


def _plain(planes: Mapping[str, Plane], glance: _Glance) -> bool:
    """Whether nothing can be made out in the box; so too where no pixel of it is free of boards."""
    left, top, right, bottom = glance.box
    free = np.ones((bottom - top, right - left), bool)
    for x, y, end, foot in glance.boards:
        rows = slice(max(0, y - _RIM - top), max(0, foot + _RIM - top))
        free[rows, max(0, x - _RIM - left) : max(0, end + _RIM - left)] = False
    if not free.any():
        return True
    for plane in planes.values():
        part = plane[top:bottom, left:right][free].astype(np.int16)
        off = np.abs(part - np.int16(np.median(part))) > LEVELS
        if np.count_nonzero(off) > STRAY * off.size:
            return False
    return True
