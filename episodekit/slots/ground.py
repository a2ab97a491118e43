"""The ground a search walks on: story time, the nearest units of each class, and floors under what is to come.

A floor is the least that what is still unplaced can cost from a boundary on. It never overstates, so that a
search led by it stays exact.
"""

from __future__ import annotations

from bisect import bisect_left, bisect_right
from collections import deque
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from itertools import accumulate

from episodekit.slots.model import BreakTerms, Problem

POINT = 10**6  # points outweigh earliness ...
FRAME = 10**12  # ... and a broken term outweighs any points
NEVER = 10**30


@dataclass(frozen=True)
class Ground:
    """The problem, prepared: story time at each boundary, and the nearest unit of each class on both sides.

    `back[c][n]` is the boundary at which the last unit of class c before boundary n ends, `ahead[c][n]` the
    next unit of class c from boundary n on; -1 if there is none. `far` is the farthest of all distances. An ad
    break at boundary n is far enough from all units from boundary `ad_break_until[n]` on; `to_ad_break[s]` is
    the farthest that the reads outside of set s and ad breaks keep from one another. `played[s]` are the frames
    of a set of reads. `read_floor[s][n]` is the least that the reads outside of set s can cost from n on,
    `break_floor[s][k][n]` the same of ad breaks after k of them. `strict` leaves out whatever breaks a term.
    """

    problem: Problem
    strict: bool
    time: tuple[int, ...]
    back: Mapping[str, tuple[int, ...]]
    ahead: Mapping[str, tuple[int, ...]]
    far: int
    ad_break_until: tuple[int, ...]
    to_ad_break: tuple[int, ...]
    played: tuple[int, ...]
    read_floor: tuple[tuple[int, ...], ...]
    break_floor: tuple[tuple[tuple[int, ...], ...], ...]


def prepare(problem: Problem, *, strict: bool) -> Ground:
    """The ground for a problem. It grows with two to the power of the number of reads."""
    time = tuple(accumulate(problem.frames, initial=0))
    asked = [read.clear for read in problem.reads] + ([problem.breaks.clear] if problem.breaks else [])
    classes = sorted({name for clear in asked for name in clear})
    back = {name: _back(problem, name) for name in classes}
    ahead = {name: _ahead(problem, name) for name in classes}
    distances = [d for clear in asked for d in clear.values()]
    distances += [d for read in problem.reads for d in (read.reads, read.ad_breaks)]
    distances += [problem.breaks.reads] if problem.breaks else []
    played = [0]
    for subset in range(1, 1 << len(problem.reads)):
        low = subset & -subset
        played.append(played[subset ^ low] + problem.reads[low.bit_length() - 1].frames)
    subsets = range(len(played))
    ground = Ground(
        problem,
        strict,
        time,
        back,
        ahead,
        max(distances, default=0),
        tuple(_ad_break_until(problem, time, ahead, n) for n in range(len(time))),
        tuple(_to_ad_break(problem, subset) for subset in subsets),
        tuple(played),
        (),
        (),
    )
    return replace(
        ground,
        read_floor=tuple(_read_floor(ground, subset) for subset in subsets),
        break_floor=tuple(_break_floor(ground, subset, strict) for subset in subsets),
    )


def _ad_break_until(problem: Problem, time: Sequence[int], ahead: Mapping[str, Sequence[int]], n: int) -> int:
    clear = problem.breaks.clear if problem.breaks else {}
    near = [
        ahead[name][n]
        for name, distance in clear.items()
        if ahead[name][n] >= 0 and time[ahead[name][n]] - time[n] < distance
    ]
    return max(near, default=-1) + 1


def _to_ad_break(problem: Problem, subset: int) -> int:
    left = [read.ad_breaks for r, read in enumerate(problem.reads) if not subset & 1 << r]
    return max(*left, problem.breaks.reads) if left and problem.breaks else 0


def _back(problem: Problem, name: str) -> tuple[int, ...]:
    found = [-1]
    for n, classes in enumerate(problem.classes):
        found.append(n + 1 if name in classes else found[-1])
    return tuple(found)


def _ahead(problem: Problem, name: str) -> tuple[int, ...]:
    found = [-1]
    for n in range(len(problem.classes) - 1, -1, -1):
        found.append(n if name in problem.classes[n] else found[-1])
    return tuple(reversed(found))


def _sure_miss(ground: Ground, clear: Mapping[str, int], n: int, between: int) -> int:
    """By how much an event at a boundary is too near to units, even if `between` frames of reads part them."""
    miss = 0
    for name, distance in clear.items():
        end, start = ground.back[name][n], ground.ahead[name][n]
        if end >= 0:
            miss += max(0, distance - between - ground.time[n] + ground.time[end])
        if start >= 0:
            miss += max(0, distance - between - ground.time[start] + ground.time[n])
    return miss


def _read_floor(ground: Ground, subset: int) -> tuple[int, ...]:
    """The least that the reads outside `subset` can cost from each boundary on, each taken by itself."""
    problem, time = ground.problem, ground.time
    rest = [r for r in range(len(problem.reads)) if not subset & 1 << r]
    everything = ground.played[-1] - ground.played[subset]
    each = dict.fromkeys(rest, NEVER)
    floor = [0] * len(time)
    for n in range(len(time) - 1, -1, -1):
        for r in rest if problem.open[n] else ():
            read = problem.reads[r]
            miss = _sure_miss(ground, read.clear, n, ground.played[-1] - read.frames)
            if read.starts is not None:
                early = time[n] + ground.played[subset]
                late = early + everything - read.frames
                miss += max(0, read.starts.low - late) + max(0, early - read.starts.high)
            each[r] = min(each[r], miss * FRAME - read.points[n] * POINT + n)
        floor[n] = sum(each.values())
    return tuple(floor)


def _break_floor(ground: Ground, subset: int, strict: bool) -> tuple[tuple[int, ...], ...]:
    """The least that ad breaks can cost from each boundary on, after each number of them.

    If terms must be kept, they stand as far apart as they must at least in the story, whatever reads lie
    between, and no farther than they may.
    """
    breaks, time = ground.problem.breaks, ground.time
    if breaks is None:
        return ()
    last = len(time) - 1
    to_come = ground.played[-1] - ground.played[subset]
    least = 0 if to_come else 1
    nearest, farthest = (
        (breaks.apart.low - to_come, breaks.apart.high) if strict else (0, ground.problem.total)
    )
    alone = [_break_alone(ground, breaks, subset, n) for n in range(last + 1)]
    first = [max(n + least, bisect_left(time, time[n] + nearest)) for n in range(last + 1)]
    until = [bisect_right(time, time[n] + farthest) for n in range(last + 1)]
    floors: list[tuple[int, ...]] = []
    placed = [NEVER] * (last + 1)  # what it costs to place the next one at each boundary, and all that follow
    for number in range(breaks.count.high, -1, -1):
        stop = 0 if number >= breaks.count.low else NEVER
        floors.append(tuple(min(stop, lowest) for lowest in _lowest_from(placed)))
        if number:
            more = breaks.more * POINT if number > breaks.count.low else 0
            after = _lowest_within(placed, first, until)
            placed = [cost - more + min(stop, rest) for cost, rest in zip(alone, after, strict=True)]
    return tuple(reversed(floors))


def _break_alone(ground: Ground, breaks: BreakTerms, subset: int, n: int) -> int:
    """The least that one ad break can cost at a boundary, others ignored."""
    if not (ground.problem.open[n] and 0 < n < len(ground.time) - 1):
        return NEVER
    early, late = ground.time[n] + ground.played[subset], ground.time[n] + ground.played[-1]
    miss = max(0, breaks.run_time - ground.problem.total)
    miss += _sure_miss(ground, breaks.clear, n, ground.played[-1])
    miss += max(0, breaks.starts.low - late) + max(0, early - breaks.starts.high)
    return miss * FRAME - breaks.points[n] * POINT + n


def _lowest_from(values: Sequence[int]) -> list[int]:
    """The lowest of each value and all after it, and one more for the end."""
    return list(reversed(list(accumulate(reversed(values), min, initial=NEVER))))


def _lowest_within(values: Sequence[int], first: Sequence[int], until: Sequence[int]) -> list[int]:
    """The lowest value of each window `first[n]` to `until[n]`, half-open; both ends only ever move on."""
    lowest: list[int] = []
    waiting: deque[int] = deque()
    at = 0
    for low, high in zip(first, until, strict=True):
        while at < min(high, len(values)):
            while waiting and values[waiting[-1]] >= values[at]:
                waiting.pop()
            waiting.append(at)
            at += 1
        while waiting and waiting[0] < low:
            waiting.popleft()
        lowest.append(values[waiting[0]] if waiting else NEVER)
    return lowest
