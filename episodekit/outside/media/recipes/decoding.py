"""What of a clip is decoded for a stretch of it, and which of its frames is shown when. Arguments only."""

from __future__ import annotations

from bisect import bisect_right
from fractions import Fraction
from itertools import pairwise
from math import ceil, gcd

from episodekit.base.time import Rate, Seconds, nearest
from episodekit.outside.media.ffmpeg_door import decimal
from episodekit.outside.media.recipes.pieces import Stretch
from episodekit.timeline.reading import look_ahead

LEAST_TICKS = 600_000
"""Ticks a second inside the filter graph, at least; see `ticks_at`."""

NEAR_ITS_PLACE = "0.2"
"""A frame stamped within this share of a frame's length of its place in a steady count stands there: room
for stamps in whole milliseconds at 240 frames a second. One further off keeps its own stamp."""

PRE_ROLL = Seconds(1, 2)
"""How far before a stretch its clip is entered where key frames stand close, or none stands before it."""

REORDERING = Seconds(7, 50)
"""ffmpeg enters clips with B-frames 3/23 s earlier than asked, since an index lists decoding times. Asked so
much behind a key frame, it enters at just that one, with B-frames or without."""

LEANING_FRAMES = 8
"""More frames than lean on the group of pictures before in cameras' files. Common practice, no source."""

PRE_ROLL_NO_INDEX = Seconds(10)
"""Without an index (transport streams) a seek lands on any packet, and nothing can be decoded until the
next key frame; ten seconds cover every camera's distance between key frames. Common practice, no source."""


def ticks_at(rate: Rate) -> int:
    """Ticks a second inside the filter graph: a whole number of them to a frame of the draft."""
    return rate.exact.numerator * ceil(LEAST_TICKS / rate.exact.numerator)


def stamped(stretch: Stretch, rate: Rate) -> str:
    """For a source frame, in ffmpeg's words: the ticks of the first draft frame that shows it.

    Frame n of the draft looks at `start + n * step + look_ahead`, so a source frame that begins at t is
    first shown by frame `ceil((t - start - look_ahead) / step)`. A clip of constant rate counts t in its
    own frames, which undoes the rounding of the container's stamps; so the sum is one of whole numbers,
    and the draft shows just the frames that `source_frame` names. The last digits of ffmpeg's floating
    point are taken off before rounding up.
    """
    clip, ticks = stretch.clip, ticks_at(rate)
    unit = Fraction(ticks) if clip.variable else clip.rate.exact  # what t is counted in, a second
    step = stretch.speed / rate.exact * unit
    start = (stretch.start + look_ahead(stretch.speed, clip, rate)) * unit
    at = f"PTS-({nearest(clip.first * ticks)})"
    if not clip.variable:
        count = f"st(0,({at})*{unit.numerator}/{unit.denominator * ticks})"
        at = f"{count};st(1,round(ld(0)));if(lt(abs(ld(0)-ld(1)),{NEAR_ITS_PLACE}),ld(1),ld(0))"
    times, less = start.denominator * step.denominator, start.numerator * step.denominator
    over = start.denominator * step.numerator
    whole = gcd(times, less, over)
    frame = f"ceil((({at})*{times // whole}-({less // whole}))/{over // whole}-1e-7)"
    return f"{frame}*{ticks / rate.exact}"


def input_options(stretch: Stretch, rate: Rate) -> dict[str, str | int | None]:
    """How the clip is opened: on its own time stamps, from a key frame before the first frame needed."""
    clip = stretch.clip
    options: dict[str, str | int | None] = {
        "an": None,
        "sn": None,
        "dn": None,
        "noautorotate": None,
        "copyts": None,
        "noaccurate_seek": None,
        "threads": 1,
        "max_error_rate": 1,
    }
    if key_frames_suffice(stretch, rate):
        options["skip_frame"] = "nokey"
    at = entry(stretch)
    if at > 0:
        options |= {"seek_timestamp": 1, "ss": decimal(clip.first + at)}
    return options


def entry(stretch: Stretch) -> Seconds:
    """The place of the clip to ask for: nothing before the last key frame that serves is decoded.

    A key frame just before the stretch does not serve: where groups of pictures lean on the one before, the
    index names a key frame a few frames early. Where key frames stand close, half a second before the
    stretch is asked for. Zero or less: from the clip's beginning.
    """
    clip = stretch.clip
    if not clip.key_frames:
        return Seconds(stretch.start - PRE_ROLL_NO_INDEX)
    after = bisect_right(clip.key_frames, stretch.start - min(PRE_ROLL, LEANING_FRAMES / clip.rate.exact))
    following = clip.key_frames[after : after + 1] or (clip.duration,)
    if after == 0 or following[0] - clip.key_frames[after - 1] < PRE_ROLL:
        return Seconds(stretch.start - PRE_ROLL)
    key = clip.key_frames[after - 1]
    return Seconds(key + REORDERING) if key > 0 else key


def frames_decoded(stretch: Stretch, rate: Rate) -> int:
    """About how many frames of the clip the stretch takes, to tell long work from short."""
    length = stretch.played * stretch.speed / rate.exact
    if key_frames_suffice(stretch, rate):
        inside = (bisect_right(stretch.clip.key_frames, stretch.start + at) for at in (length, Seconds(0)))
        end, begin = inside
        return end - begin + 1
    return ceil(length * stretch.clip.rate.exact)


def key_frames_suffice(stretch: Stretch, rate: Rate) -> bool:
    """Whether a time-lapse may be made of key frames alone, which is several times faster.

    So when no two of them are further apart in the stretch than the source time between two frames of
    the draft: what is shown is then never older than one frame of the draft. A clip with a key frame in
    every frame (intra-only) gains nothing and loses nothing.
    """
    if stretch.speed <= 1:
        return False
    step = stretch.speed / rate.exact
    end = min(stretch.clip.duration, stretch.start + stretch.played * step)
    before = [key for key in stretch.clip.key_frames if key <= stretch.start]
    inside = [key for key in stretch.clip.key_frames if stretch.start < key < end]
    if not before:
        return False
    marks = [before[-1], *inside, end]
    return all(b - a <= step for a, b in pairwise(marks))
