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

from bisect import bisect_left
from collections.abc import Iterator, Mapping
from dataclasses import replace
from heapq import heappop, heappush
from typing import NamedTuple

from episodekit.slots.ground import FRAME, NEVER, POINT, Ground, prepare
from episodekit.slots.model import BreakTerms, Event, Placement, Problem

_NONE, _FREE, _CLOSED = -1, -2, -3  # of the last ad break: none yet; far enough back; none may follow


class _Way(NamedTuple):
    """What matters of a way walked so far. `recent` are (who, boundary) of events that may yet be too near."""

    reads: int
    breaks: int
    last: int
    recent: tuple[tuple[int, int], ...]


_Chain = tuple[int, int, int, "_Chain"] | None
_Step = tuple[int, _Way, int, "_Chain"]


def search(problem: Problem) -> Placement | None:
    """The best placement; the nearest miss if no placement keeps all terms.

    None if more ad breaks are asked than boundaries can hold.
    """
    found = _walk(prepare(problem, strict=True)) or _walk(prepare(problem, strict=False))
    return None if found is None else _placement(*found)


def possible(problem: Problem) -> bool:
    """Whether some placement keeps all terms."""
    return keeping(problem) is not None


def keeping(problem: Problem) -> Placement | None:
    """Some placement that keeps all terms, whatever it is worth; None if there is none. Quicker than the best."""
    worthless = (0,) * len(problem.open)
    reads = tuple(replace(read, points=worthless) for read in problem.reads)
    breaks = None if problem.breaks is None else replace(problem.breaks, points=worthless, more=0)
    found = _walk(prepare(replace(problem, reads=reads, breaks=breaks), strict=True))
    return None if found is None else _placement(*found)


def _walk(ground: Ground) -> tuple[int, _Chain] | None:
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
        if known.get((n, way), NEVER) < cost:
            continue
        if n > last:
            return cost, chain
        for further, made, paid, after in _onward(ground, n, way, cost, chain):
            if further > last and (made.reads != everyone or made.breaks < fewest):
                continue
            least = paid + _rest(ground, made, further)
            if least >= (FRAME // 2 if strict else NEVER) or known.get((further, made), NEVER) <= paid:
                continue
            known[further, made] = paid
            number += 1
            heappush(queue, (least, -paid, number, further, made, after))
    return None


def _onward(ground: Ground, n: int, way: _Way, cost: int, chain: _Chain) -> Iterator[_Step]:
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
        yield n + 1, _aged(ground, way, n + 1), cost + miss * FRAME, chain


def _rest(ground: Ground, way: _Way, n: int) -> int:
    """The least that is still to come."""
    if n >= len(ground.time):
        return 0
    least = ground.read_floor[way.reads][n]
    if ground.problem.breaks is not None:
        if way.last >= 0 and ground.strict:
            soonest = way.last + ground.problem.breaks.apart.low - ground.played[-1]
            n = max(n, bisect_left(ground.time, soonest)) if soonest > ground.time[n] else n
        if way.last == _CLOSED or n >= len(ground.time):
            return least if way.breaks >= ground.problem.breaks.count.low else NEVER
        least += ground.break_floor[way.reads][way.breaks][n]
    return least


def _aged(ground: Ground, way: _Way, n: int) -> _Way:
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


def _matters(ground: Ground, way: _Way, event: tuple[int, int], n: int) -> bool:
    """Whether an event may yet be too near to what follows boundary n, or parts others that may be."""
    who, boundary = event
    gap = ground.time[n] - ground.time[boundary]
    if who >= 0:
        return gap < ground.far
    return n < ground.ad_break_until[boundary] or gap < ground.to_ad_break[way.reads]


def _read(ground: Ground, way: _Way, n: int, who: int, cost: int, chain: _Chain) -> tuple[_Way, int, _Chain]:
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
    return made, cost + miss * FRAME - read.points[n] * POINT + n, (who, n, at, chain)


def _break(
    ground: Ground, breaks: BreakTerms, way: _Way, n: int, cost: int, chain: _Chain
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
    return made, cost + miss * FRAME - points * POINT + n, (-1, n, at, chain)


def _behind(ground: Ground, way: _Way, n: int, clear: Mapping[str, int]) -> int:
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


def _too_near_before(ground: Ground, way: _Way, n: int) -> int:
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
    miss = -(-(cost - early - FRAME // 2) // FRAME)
    points = -(cost - early - miss * FRAME) // POINT
    return Placement(tuple(events), miss, points)
