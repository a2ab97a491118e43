"""Which stretches of a step's work play, for how many frames, and at which speed.

A *run* is footage of one kind in one continuous picture: a keep, a dropped wait, a gap in the footage or
another camera ends it. A *ramp* is a stretch of a run that plays faster than it was filmed; the eye needs a
few seconds of it (`limits: {ramp: ...}`) to see what is going on. So a run that would race by in less plays at
normal speed, whole or in part, or not at all. Common practice, no source.
"""

from __future__ import annotations

from bisect import bisect_left, bisect_right
from collections.abc import Sequence
from dataclasses import dataclass, replace
from fractions import Fraction
from itertools import accumulate, pairwise
from math import floor

from episodekit.base.time import Frames, Ms, Rate, Seconds, nearest
from episodekit.bench.model import WALL, SpanKind
from episodekit.footage.cover import Piece

NORMAL = Fraction(1)
ACTION = Fraction(1, 2)
"""Seconds on screen that an action needs at least to be seen. Common practice, no source."""
_SEAM = Fraction(1, 10)
"""Seconds that may be lost between two files of one camera before it shows."""


@dataclass(frozen=True)
class Item:
    """A piece on its way to the screen, in bench order. `shot` is the must-show or b-roll it answers, if any;
    `what` is what a cutaway shows, `clock` the clock that the piece's `since` is of.
    """

    piece: Piece
    kind: SpanKind
    shot: int | None = None
    clock: str = WALL
    what: str = ""


@dataclass(frozen=True)
class Run:
    """Pieces in one continuous picture, one a file. It is made of the step's items `at` to `until`, half-open."""

    at: int
    until: int
    pieces: tuple[Piece, ...]
    length: Seconds


@dataclass(frozen=True)
class Cut:
    """A stretch of a run for `frames` frames at `speed`; `start` and `end` are seconds into the run.

    Its end is the exact one for these frames at that speed, so that no rounding makes it any faster; only
    the run's own end may come up to a frame sooner.
    """

    run: Run
    start: Seconds
    end: Seconds
    frames: Frames
    speed: Fraction


@dataclass(frozen=True)
class Bounds:
    """What a stretch must keep to, in frames: `ramp` for a sped-up one, `least` for any; `high` is the cap."""

    high: Fraction
    ramp: int
    least: int


def bounds(high: Fraction, ramp: Ms, rate: Rate) -> Bounds:
    """The bounds at a rate; never less than is asked, so frames are rounded up."""
    least = least_frames(rate)
    return Bounds(high, max(least, -(-ramp * rate.fps.numerator // (1000 * rate.fps.denominator))), least)


def least_frames(rate: Rate) -> int:
    """An action's time, rounded up."""
    return -(-ACTION.numerator * rate.fps.numerator // (ACTION.denominator * rate.fps.denominator))


def runs_of(items: Sequence[Item], kind: SpanKind) -> list[Run]:
    """The runs of one kind, in bench order."""
    found: list[tuple[int, list[Item]]] = []
    for place, item in enumerate(items):
        if item.kind is not kind:
            continue
        if found and place and items[place - 1] is found[-1][1][-1] and _goes_on(items[place - 1], item):
            found[-1][1].append(item)
        else:
            found.append((place, [item]))
    return [_run(place, [item.piece for item in run]) for place, run in found]


def keeps_of(items: Sequence[Item]) -> list[Run]:
    """What is kept, in bench order; a keep that goes on in the next file of its camera is one."""
    found: list[tuple[int, list[Item]]] = []
    for place, item in enumerate(items):
        if item.kind is not SpanKind.KEEP:
            continue
        before = items[place - 1] if found and place else None
        if before is not None and before is found[-1][1][-1] and _next_file(before, item):
            found[-1][1].append(item)
        else:
            found.append((place, [item]))
    return [_run(place, [item.piece for item in run]) for place, run in found]


def _next_file(before: Item, after: Item) -> bool:
    return before.shot == after.shot and before.piece.clip != after.piece.clip and _goes_on(before, after)


def _run(at: int, pieces: Sequence[Piece]) -> Run:
    """Pieces that follow each other in one file are one."""
    joined: list[Piece] = []
    for piece in pieces:
        if joined and joined[-1].clip == piece.clip and joined[-1].end == piece.start:
            joined[-1] = replace(joined[-1], end=piece.end)
        else:
            joined.append(piece)
    return Run(at, at + len(pieces), tuple(joined), sum((piece.length for piece in joined), Fraction(0)))


def _goes_on(before: Item, after: Item) -> bool:
    """Whether the picture runs on from one item to the next: in one clip, or over two files of one camera."""
    one, other = before.piece, after.piece
    if one.clip == other.clip:
        return abs(other.start - one.end) <= _SEAM
    if one.camera is None or one.camera != other.camera or not before.clock == after.clock == WALL:
        return False
    return abs(other.since - one.until) <= _SEAM


def chosen(runs: Sequence[Run], frames: int, limits: Bounds, rate: Rate) -> tuple[Cut, ...]:
    """What plays of the runs in `frames` frames, in bench order; all of it at normal speed if that is less.

    As many runs as can be are shown: the last, which shows the result, the first, then the longest. They
    share one speed, up to the cap; what is too much is left out of the middle, for how it begins and how it
    ends tell the most. A run that would be shorter than a ramp plays whole at normal speed. If no ramp is
    possible at all, parts play at normal speed. Fewer frames than asked come back only if less than an
    action's time is left.
    """
    whole = [run.length * rate.exact for run in runs]  # frames at normal speed
    if nearest(sum(whole, Fraction(0))) <= frames:
        return _in_full(runs, whole, frames, rate)
    order = _by_worth(whole)
    need, most = Fraction(0), 0
    for n in order:
        need += min(Fraction(limits.ramp), whole[n])
        if need > frames:
            break
        most += 1
    for count in range(most, 0, -1):
        kept = sorted(order[:count])
        if sum((whole[n] for n in kept), Fraction(0)) <= frames:
            break
        cuts = _ramped(runs, whole, kept, frames, limits, rate)
        if cuts:
            return cuts
    return at_normal_speed([runs[n] for n in order], frames, limits.least, rate)


def at_normal_speed(
    runs: Sequence[Run], frames: int, least: int, rate: Rate, *, ends: bool = True
) -> tuple[Cut, ...]:
    """Up to `frames` frames at normal speed from the runs, the most wanted first: how each `ends`, or begins.

    No stretch is shorter than `least`.
    """
    cuts: list[Cut] = []
    left = frames
    for number, run in enumerate(runs):
        have = floor(run.length * rate.exact)
        take = min(have, left)
        if 0 < left - take < least and number + 1 < len(runs) and take - least >= least:
            take = left - least  # so that the next one gets its least
        if take >= least:
            cuts.append((_tail if ends else _head)(run, take, NORMAL, rate))
            left -= take
    return tuple(sorted(cuts, key=lambda cut: cut.run.at))


def _by_worth(whole: Sequence[Fraction]) -> list[int]:
    order = [len(whole) - 1, 0, *sorted(range(len(whole)), key=lambda n: (-whole[n], n))]
    return list(dict.fromkeys(order))


def _in_full(runs: Sequence[Run], whole: Sequence[Fraction], frames: int, rate: Rate) -> tuple[Cut, ...]:
    """All at normal speed; frames are cut from one running sum, so that no rounding adds up."""
    ends = [min(frames, nearest(at)) for at in accumulate(whole)]
    return tuple(
        _head(run, until - since, NORMAL, rate)
        for run, (since, until) in zip(runs, pairwise([0, *ends]), strict=True)
        if until > since
    )


def _ramped(
    runs: Sequence[Run], whole: Sequence[Fraction], kept: list[int], frames: int, limits: Bounds, rate: Rate
) -> tuple[Cut, ...]:
    """The kept runs in all of the frames, the short ones at normal speed; nothing if that cannot be."""
    fast, slow = kept, dict[int, int]()
    while True:
        room = frames - sum(slow.values())
        if not fast or room < limits.ramp:
            return ()
        speed = min(limits.high, sum((whole[n] for n in fast), Fraction(0)) / room)
        if speed <= NORMAL:
            return ()
        short = [n for n in fast if whole[n] < limits.ramp * speed]
        if not short:
            break
        slow |= {n: floor(whole[n]) for n in short}
        fast = [n for n in fast if n not in slow]
    cuts = [_tail(runs[n], count, NORMAL, rate) for n, count in slow.items()]
    # From here on in frames of screen time at that speed.
    ends = [at / speed for at in accumulate(whole[n] for n in fast)]
    gone = ends[-1] - room
    first = _middle(ends, gone, room, limits.ramp) if gone > 0 else Fraction(room)
    if first is None:
        return ()
    since, done = Fraction(0), 0
    for n, until in zip(fast, ends, strict=True):
        head, tail = min(until, first) - since, until - max(since, first + gone)
        shown = Fraction(done)
        if head > 0:
            shown = min(until, first)
            cuts.append(_head(runs[n], nearest(shown) - done, speed, rate))
            done = nearest(shown)
        if tail > 0 and gone > 0:
            count = nearest(until - gone) - done
            after = cuts[-1].end if head > 0 else Fraction(0)
            cuts.append(_tail(runs[n], count, speed, rate, after))
            done += count
        since = until
    return tuple(sorted(cuts, key=lambda cut: (cut.run.at, cut.start)))


def _middle(ends: Sequence[Fraction], gone: Fraction, room: int, ramp: int) -> Fraction | None:
    """Where to begin to leave out `gone` frames of screen time so that what is left of each run is nothing or
    a ramp: as near to the middle as can be, or None.
    """
    starts = [Fraction(0), *ends[:-1]]
    edges = [*starts, ends[-1]]
    wanted = [Fraction(room // 2), Fraction(0), Fraction(room)]
    wanted += [at for edge in edges for at in (edge, edge + ramp, edge - gone, edge - gone - ramp)]
    fits = []
    for at in wanted:
        if not 0 <= at <= room:
            continue
        left = at - starts[bisect_right(starts, at) - 1] if at < ends[-1] else Fraction(0)
        right = ends[min(bisect_left(ends, at + gone), len(ends) - 1)] - at - gone
        if all(part == 0 or part >= ramp for part in (left, right)):
            fits.append(at)
    return min(fits, key=lambda at: abs(at - Fraction(room, 2)), default=None)


def _head(run: Run, frames: int, speed: Fraction, rate: Rate) -> Cut:
    return Cut(run, Fraction(0), min(run.length, frames * speed / rate.exact), Frames(frames), speed)


def _tail(run: Run, frames: int, speed: Fraction, rate: Rate, after: Seconds = Fraction(0)) -> Cut:
    start = max(after, run.length - frames * speed / rate.exact)
    return Cut(run, start, run.length, Frames(frames), speed)
