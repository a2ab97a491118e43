"""The best placement of all reads and ad breaks together, found exactly.

The story is walked from boundary to boundary; at each, a read or an ad break may be placed, or the next unit
is played. Of a way walked so far matters which reads have played, how many ad breaks, when the last of them
was, and which events are recent enough to stand too near to something that follows. Of two ways that agree
in all that, only the better one is followed (dynamic programming).

Ways are followed in the order of what they cost plus the least that is still to come (A*: Hart, Nilsson and
Raphael, 1968). That least never overstates, so the first way that reaches the end is the best. A
placement is better if it breaks its terms by fewer frames, then if it is worth more points, then if its
events stand at earlier boundaries.
"""

from __future__ import annotations

from bisect import bisect_left, bisect_right
from collections import deque
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass, replace
from heapq import heappop, heappush
from itertools import accumulate
from typing import NamedTuple

from episodekit.slots.model import BreakTerms, Event, Placement, Problem

_POINT = 10**6  # points outweigh earliness ...
_FRAME = 10**12  # ... and a broken term outweighs any points
_NEVER = 10**30
_NONE, _FREE, _CLOSED = -1, -2, -3  # of the last ad break: none yet; far enough back; none may follow


class _Way(NamedTuple):
    """What matters of a way walked so far. `recent` are (who, boundary) of events that may yet be too near."""

    reads: int
    breaks: int
    last: int
    recent: tuple[tuple[int, int], ...]


_Chain = tuple[int, int, int, "_Chain"] | None
_Step = tuple[int, _Way, int, "_Chain"]


@dataclass(frozen=True)
class _Ground:
    """The problem, prepared: story time at each boundary, and the nearest unit of each class on both sides.

    `back[c][n]` is the boundary at which the last unit of class c before boundary n ends, `ahead[c][n]` the
    next unit of class c from boundary n on; -1 if there is none. An ad break at boundary n is far enough from
    all units from boundary `ad_break_until[n]` on. `to_ad_break[s]` is the farthest that the reads outside set
    s keep from ad breaks, or those from them; `far` the farthest of all distances. `played[s]` are the frames of
    a set of reads. `read_floor[s][n]` is the least that the reads outside of set s can cost from boundary n on,
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


def search(problem: Problem) -> Placement | None:
    """The best placement; the nearest miss if no placement keeps all terms.

    None if more ad breaks are asked than boundaries can hold.
    """
    found = _walk(_prepare(problem, strict=True)) or _walk(_prepare(problem, strict=False))
    return None if found is None else _placement(*found)


def possible(problem: Problem) -> bool:
    """Whether some placement keeps all terms."""
    return keeping(problem) is not None


def keeping(problem: Problem) -> Placement | None:
    """Some placement that keeps all terms, whatever it is worth; None if there is none. Quicker than the best."""
    worthless = (0,) * len(problem.open)
    reads = tuple(replace(read, points=worthless) for read in problem.reads)
    breaks = None if problem.breaks is None else replace(problem.breaks, points=worthless, more=0)
    found = _walk(_prepare(replace(problem, reads=reads, breaks=breaks), strict=True))
    return None if found is None else _placement(*found)


def _walk(ground: _Ground) -> tuple[int, _Chain] | None:
    """The cheapest way to the end; if the ground is strict, only among those that keep all terms."""
    problem, strict = ground.problem, ground.strict
    everyone = (1 << len(problem.reads)) - 1
    last = len(problem.frames)
    fewest = problem.breaks.count.low if problem.breaks else 0
    start = _Way(0, 0, _NONE, ())
    known: dict[tuple[int, _Way], int] = {(0, start): 0}
    queue: list[tuple[int, int, int, int, _Way, _Chain]] = [(0, 0, 0, 0, start, None)]
    number = 0
    while queue:
        _, _, _, n, way, chain = entry = heappop(queue)
        cost = -entry[1]
        if known.get((n, way), _NEVER) < cost:
            continue
        if n > last:
            return cost, chain
        for further, made, paid, after in _onward(ground, n, way, cost, chain):
            if further > last and (made.reads != everyone or made.breaks < fewest):
                continue
            least = paid + _rest(ground, made, further)
            if least >= (_FRAME // 2 if strict else _NEVER) or known.get((further, made), _NEVER) <= paid:
                continue
            known[further, made] = paid
            number += 1
            heappush(queue, (least, -paid, number, further, made, after))
    return None


def _onward(ground: _Ground, n: int, way: _Way, cost: int, chain: _Chain) -> Iterator[_Step]:
    """All that may come next: a read, an ad break, the next unit of the story. The end lies after the last."""
    problem = ground.problem
    last = len(problem.frames)
    if problem.open[n]:
        for who in range(len(problem.reads)):
            if not way.reads & 1 << who:
                yield (n, *_read(ground, way, n, who, cost, chain))
        if problem.breaks is not None and 0 < n < last:
            made = _break(ground, problem.breaks, way, n, cost, chain)
            if made is not None:
                yield (n, *made)
    if n == last:
        yield n + 1, way, cost, chain
        return
    miss = _too_near_before(ground, way, n)
    if not (miss and ground.strict):
        yield n + 1, _aged(ground, way, n + 1), cost + miss * _FRAME, chain


def _rest(ground: _Ground, way: _Way, n: int) -> int:
    """The least that is still to come."""
    if n >= len(ground.time):
        return 0
    least = ground.read_floor[way.reads][n]
    if ground.problem.breaks is not None:
        if way.last >= 0 and ground.strict:
            soonest = way.last + ground.problem.breaks.apart.low - ground.played[-1]
            n = max(n, bisect_left(ground.time, soonest)) if soonest > ground.time[n] else n
        if way.last == _CLOSED or n >= len(ground.time):
            return least if way.breaks >= ground.problem.breaks.count.low else _NEVER
        least += ground.break_floor[way.reads][way.breaks][n]
    return least


def _aged(ground: _Ground, way: _Way, n: int) -> _Way:
    """The way without what no longer matters at this boundary."""
    now = ground.time[n]
    recent = way.recent
    if not all(_matters(ground, way, event, n) for event in recent):
        recent = tuple(event for event in recent if _matters(ground, way, event, n))
    last = way.last
    breaks = ground.problem.breaks
    if last >= 0 and breaks is not None:
        gap = now + ground.played[way.reads] - last
        if way.breaks >= breaks.count.high or (gap > breaks.apart.high and ground.strict):
            last = _CLOSED
        elif gap >= breaks.apart.low and breaks.apart.high >= ground.problem.total:
            last = _FREE
    if recent is way.recent and last == way.last:
        return way
    return _Way(way.reads, way.breaks, last, recent)


def _matters(ground: _Ground, way: _Way, event: tuple[int, int], n: int) -> bool:
    """Whether an event may yet be too near to what follows boundary n, or parts others that may be."""
    who, boundary = event
    gap = ground.time[n] - ground.time[boundary]
    if who >= 0:
        return gap < ground.far
    return n < ground.ad_break_until[boundary] or gap < ground.to_ad_break[way.reads]


def _read(ground: _Ground, way: _Way, n: int, who: int, cost: int, chain: _Chain) -> tuple[_Way, int, _Chain]:
    read = ground.problem.reads[who]
    at = ground.time[n] + ground.played[way.reads]
    miss = 0
    if read.starts is not None:
        miss += max(0, read.starts.low - at) + max(0, at - read.starts.high)
    miss += _behind(ground, way, n, read.clear)
    since = 0
    for other, boundary in reversed(way.recent):
        gap = ground.time[n] - ground.time[boundary] + since
        if other >= 0:
            before = ground.problem.reads[other]
            miss += max(0, max(read.reads, before.reads) - gap)
            since += before.frames
        elif ground.problem.breaks is not None:
            miss += max(0, max(read.ad_breaks, ground.problem.breaks.reads) - gap)
    made = _Way(way.reads | 1 << who, way.breaks, way.last, (*way.recent, (who, n)))
    return made, cost + miss * _FRAME - read.points[n] * _POINT + n, (who, n, at, chain)


def _break(
    ground: _Ground, breaks: BreakTerms, way: _Way, n: int, cost: int, chain: _Chain
) -> tuple[_Way, int, _Chain] | None:
    if way.breaks >= breaks.count.high or way.last == _CLOSED:
        return None
    at = ground.time[n] + ground.played[way.reads]
    if way.last == at:
        return None
    miss = max(0, breaks.starts.low - at) + max(0, at - breaks.starts.high)
    miss += max(0, breaks.run_time - ground.problem.total)
    if way.last >= 0:
        gap = at - way.last
        miss += max(0, breaks.apart.low - gap) + max(0, gap - breaks.apart.high)
    miss += _behind(ground, way, n, breaks.clear)
    since = 0
    for other, boundary in reversed(way.recent):
        if other >= 0:
            before = ground.problem.reads[other]
            gap = ground.time[n] - ground.time[boundary] + since
            miss += max(0, max(before.ad_breaks, breaks.reads) - gap)
            since += before.frames
    points = breaks.points[n] + (breaks.more if way.breaks >= breaks.count.low else 0)
    made = _Way(way.reads, way.breaks + 1, at, (*way.recent, (-1, n)))
    return made, cost + miss * _FRAME - points * _POINT + n, (-1, n, at, chain)


def _behind(ground: _Ground, way: _Way, n: int, clear: Mapping[str, int]) -> int:
    """By how much an event here stands too near to units behind it."""
    miss = 0
    for name, distance in clear.items():
        end = ground.back[name][n]
        if end < 0 or ground.time[n] - ground.time[end] >= distance:
            continue
        gap = ground.time[n] - ground.time[end]
        gap += sum(
            ground.problem.reads[who].frames for who, boundary in way.recent if who >= 0 and boundary >= end
        )
        miss += max(0, distance - gap)
    return miss


def _too_near_before(ground: _Ground, way: _Way, n: int) -> int:
    """By how much recent events stand too near before unit n."""
    miss = since = 0
    for who, boundary in reversed(way.recent):
        gap = ground.time[n] - ground.time[boundary] + since
        if gap >= ground.far:
            break
        if who >= 0:
            clear = ground.problem.reads[who].clear
            since += ground.problem.reads[who].frames
        else:
            assert ground.problem.breaks is not None
            clear = ground.problem.breaks.clear
        for name in ground.problem.classes[n]:
            if name in clear and ground.ahead[name][boundary] == n:
                miss += max(0, clear[name] - gap)
    return miss


def _placement(cost: int, chain: _Chain) -> Placement:
    events: list[Event] = []
    while chain is not None:
        who, boundary, at, chain = chain
        events.append(Event(who, boundary, at))
    events.reverse()
    early = sum(event.boundary for event in events)
    miss = -(-(cost - early - _FRAME // 2) // _FRAME)
    points = -(cost - early - miss * _FRAME) // _POINT
    return Placement(tuple(events), miss, points)


def _prepare(problem: Problem, *, strict: bool) -> _Ground:
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
    ground = _Ground(
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


def _sure_miss(ground: _Ground, clear: Mapping[str, int], n: int, between: int) -> int:
    """By how much an event at a boundary is too near to units, even if `between` frames of reads part them."""
    miss = 0
    for name, distance in clear.items():
        end, start = ground.back[name][n], ground.ahead[name][n]
        if end >= 0:
            miss += max(0, distance - between - ground.time[n] + ground.time[end])
        if start >= 0:
            miss += max(0, distance - between - ground.time[start] + ground.time[n])
    return miss


def _read_floor(ground: _Ground, subset: int) -> tuple[int, ...]:
    """The least that the reads outside `subset` can cost from each boundary on, each taken by itself."""
    problem, time = ground.problem, ground.time
    rest = [r for r in range(len(problem.reads)) if not subset & 1 << r]
    everything = ground.played[-1] - ground.played[subset]
    each = dict.fromkeys(rest, _NEVER)
    floor = [0] * len(time)
    for n in range(len(time) - 1, -1, -1):
        for r in rest if problem.open[n] else ():
            read = problem.reads[r]
            miss = _sure_miss(ground, read.clear, n, ground.played[-1] - read.frames)
            if read.starts is not None:
                early = time[n] + ground.played[subset]
                late = early + everything - read.frames
                miss += max(0, read.starts.low - late) + max(0, early - read.starts.high)
            each[r] = min(each[r], miss * _FRAME - read.points[n] * _POINT + n)
        floor[n] = sum(each.values())
    return tuple(floor)


def _break_floor(ground: _Ground, subset: int, strict: bool) -> tuple[tuple[int, ...], ...]:
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
    placed = [_NEVER] * (
        last + 1
    )  # what it costs to place the next one at each boundary, and all that follow
    for number in range(breaks.count.high, -1, -1):
        stop = 0 if number >= breaks.count.low else _NEVER
        floors.append(tuple(min(stop, lowest) for lowest in _lowest_from(placed)))
        if number:
            more = breaks.more * _POINT if number > breaks.count.low else 0
            after = _lowest_within(placed, first, until)
            placed = [cost - more + min(stop, rest) for cost, rest in zip(alone, after, strict=True)]
    return tuple(reversed(floors))


def _break_alone(ground: _Ground, breaks: BreakTerms, subset: int, n: int) -> int:
    """The least that one ad break can cost at a boundary, others ignored."""
    if not (ground.problem.open[n] and 0 < n < len(ground.time) - 1):
        return _NEVER
    early, late = ground.time[n] + ground.played[subset], ground.time[n] + ground.played[-1]
    miss = max(0, breaks.run_time - ground.problem.total)
    miss += _sure_miss(ground, breaks.clear, n, ground.played[-1])
    miss += max(0, breaks.starts.low - late) + max(0, early - breaks.starts.high)
    return miss * _FRAME - breaks.points[n] * _POINT + n


def _lowest_from(values: Sequence[int]) -> list[int]:
    """The lowest of each value and all after it, and one more for the end."""
    return list(reversed(list(accumulate(reversed(values), min, initial=_NEVER))))


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
        lowest.append(values[waiting[0]] if waiting else _NEVER)
    return lowest
