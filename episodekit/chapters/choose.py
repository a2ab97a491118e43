"""The best choice of chapters, exact: of all that keep the host's rules, the one that is spread best.

Every chapter is weighed by itself and by the one that follows it, so the best choice from a start to the end,
with so many chapters, needs only the best choices from later starts with one chapter fewer. Over a distance a
chapter's price is a straight line in three pieces (too short, as wished, too long), so the cheapest follower is
the least of three sliding windows: starts times chapters steps in all, and nothing is tried in vain.
"""

from __future__ import annotations

from collections import deque
from collections.abc import Sequence
from dataclasses import dataclass, field
from itertools import accumulate

from episodekit.base.time import Ms
from episodekit.chapters.starts import Kind, Start

# Prices are in ms of bad spacing: how far chapters lie outside the spacing that is aimed at, added up.
# Common practice put into numbers, no source.
SECTION_LEFT_OUT = Ms(90_000)
"""And as much again as the section plays, so the shorter of two goes. It is more than the usual shortest spacing of
1:00, so that no section is left out for the spacing's sake alone."""
STEP_CHOSEN = Ms(30_000)
"""A step begins a chapter only where that mends the spacing by more than this, or where the host needs one more."""
MARKER_LOST = Ms(10**12)
"""A read's own marker, which was promised: thirty years of bad spacing, so never for the spacing's sake."""

_CHOSEN = {Kind.STEP: STEP_CHOSEN, Kind.SECTION: 0, Kind.READ: 0, Kind.RESUMES: 0}


@dataclass(frozen=True)
class Terms:
    """What chapters must keep: the host's `shortest` (ms) and `fewest`, and `most` as the creator wishes.

    `low` to `high` is the spacing that is aimed at, in ms.
    """

    shortest: Ms
    fewest: int
    most: int
    low: Ms
    high: Ms

    def price(self, length: int) -> int:
        """By how many ms a chapter's length lies outside the spacing that is aimed at."""
        return max(self.low - length, 0, length - self.high)


def stamp(start: Ms) -> int:
    """A start as hosts see it, in ms: whole seconds, rounded down."""
    return start // 1000 * 1000


def resumes_at(starts: Sequence[Start], index: int) -> int | None:
    """The start where the story goes on after a read: the next one that is no read; None if none follows."""
    return next((n for n in range(index + 1, len(starts)) if starts[n].kind is not Kind.READ), None)


def choose(starts: Sequence[Start], runtime: Ms, terms: Terms) -> tuple[int, ...]:
    """The indices of the chosen starts, ascending; the first start is always chosen, and is at 0.

    `starts` ascend; if the first is a read that cannot have its marker, the one after it is the first. Each
    chapter is `shortest` or longer by its whole-second stamps, none splits a payoff, and a chosen read is
    followed by the place where the story resumes or by another read before that. Of all choices of `fewest`
    to `most` chapters the cheapest is taken; of equal ones that with the earliest starts. If there is none,
    the one with the most chapters; if not even one chapter is long enough, the first start alone. `most` of
    0 means none at all.
    """
    if not starts or not terms.most:
        return ()
    table = _Table(starts, runtime, terms)
    layers = table.layers(min(terms.most, len(starts)))
    kept = [count for count, layer in enumerate(layers, 1) if layer.costs[0] is not None]
    enough = [count for count in kept if count >= terms.fewest] or kept[-1:]
    ways = [(layers[count - 1].costs[0] or 0, _walk(layers, count)) for count in enough]
    if not ways and starts[0].kind is Kind.READ and len(starts) > 1:
        return tuple(index + 1 for index in choose(starts[1:], runtime, terms))
    return min(ways)[1] if ways else (0,)


@dataclass(frozen=True)
class _Layer:
    """For each start: the least price from there to the end with so many chapters, and the start that follows."""

    costs: Sequence[int | None]
    follows: Sequence[int]


def _walk(layers: Sequence[_Layer], count: int) -> tuple[int, ...]:
    path = [0]
    for layer in reversed(layers[1:count]):
        path.append(layer.follows[path[-1]])
    return tuple(path)


class _Table:
    """The starts as numbers, and one layer after another, from the last chapter backwards."""

    def __init__(self, starts: Sequence[Start], runtime: Ms, terms: Terms) -> None:
        self.terms = terms
        self.kinds = [start.kind for start in starts]
        self.stamps = [0, *(stamp(start.start) for start in starts[1:])]
        self.barred = [index > 0 and start.splits_payoff for index, start in enumerate(starts)]
        self.runtime = runtime
        self.lost = list(accumulate((self._left_out(n) for n in range(len(starts))), initial=0))
        self.resumes = {n: resumes_at(starts, n) for n, kind in enumerate(self.kinds) if kind is Kind.READ}

    def layers(self, most: int) -> list[_Layer]:
        """The layers of 1 to `most` chapters."""
        made = [self._last_chapters()]
        while len(made) < most:
            made.append(self._one_more(made[-1].costs))
        return made

    def _last_chapters(self) -> _Layer:
        costs: list[int | None] = []
        for index, kind in enumerate(self.kinds):
            length = self.runtime - self.stamps[index]
            goes_on = kind is Kind.READ and self.resumes[index] is not None
            if self.barred[index] or goes_on or length < self.terms.shortest:
                costs.append(None)
            else:
                costs.append(self._own(index, length) + self.lost[-1] - self.lost[index + 1])
        return _Layer(costs, [0] * len(costs))

    def _one_more(self, after: Sequence[int | None]) -> _Layer:
        terms, stamps = self.terms, self.stamps
        wished, long = max(terms.shortest, terms.low), max(terms.shortest, terms.high + 1)
        windows = (
            _Window(terms.shortest, wished, 1, terms.low),
            _Window(wished, long, 0, 0),
            _Window(long, None, -1, -terms.high),
        )
        # The middle of a step is entered from its read alone.
        entered = [
            None if cost is None or kind is Kind.RESUMES else cost + lost
            for cost, kind, lost in zip(after, self.kinds, self.lost, strict=False)
        ]
        costs: list[int | None] = [None] * len(stamps)
        follows = [0] * len(stamps)
        for index in range(len(stamps) - 1, -1, -1):
            if self.barred[index]:
                continue
            if self.kinds[index] is Kind.READ:
                ways = self._after_read(index, after)
            else:
                seen = (window.least(index, stamps, entered) for window in windows)
                ways = [way for way in seen if way is not None]
            if ways:
                cost, follows[index] = min(ways)
                costs[index] = cost + _CHOSEN[self.kinds[index]] - self.lost[index + 1]
        return _Layer(costs, follows)

    def _after_read(self, index: int, after: Sequence[int | None]) -> list[tuple[int, int]]:
        """Where a read's chapter may end: where the story resumes, or at another read before that."""
        resumes = self.resumes[index]
        ends = range(index + 1, len(after) if resumes is None else resumes + 1)
        return [
            (cost + self.lost[end], end)
            for end in ends
            if (cost := after[end]) is not None
            and self.stamps[end] - self.stamps[index] >= self.terms.shortest
        ]

    def _left_out(self, index: int) -> int:
        """What a start costs that is not chosen. A section plays until another one or a marked read begins."""
        if self.kinds[index] is Kind.READ:
            return MARKER_LOST
        if self.kinds[index] is not Kind.SECTION:
            return 0
        ends = (n for n in range(index + 1, len(self.kinds)) if self.kinds[n] in {Kind.SECTION, Kind.READ})
        end = next(ends, None)
        return SECTION_LEFT_OUT + (self.runtime if end is None else self.stamps[end]) - self.stamps[index]

    def _own(self, index: int, length: int) -> int:
        """What a chapter costs by itself. A read is as long as its contract says, so its length costs nothing."""
        kind = self.kinds[index]
        return _CHOSEN[kind] + (0 if kind is Kind.READ else self.terms.price(length))


@dataclass
class _Window:
    """The cheapest start that lies `near` to `far` ms (half-open) after a start that moves backwards.

    A chapter of so many ms costs `plus - slope * ms` there.
    """

    near: int
    far: int | None
    slope: int
    plus: int
    held: deque[tuple[int, int]] = field(default_factory=deque)
    entering: int | None = None

    def least(
        self, index: int, stamps: Sequence[int], entered: Sequence[int | None]
    ) -> tuple[int, int] | None:
        """Its price and its index; of equal ones the earliest. `entered` is what each start costs from there on."""
        here = stamps[index]
        at = len(stamps) - 1 if self.entering is None else self.entering
        while at > index and stamps[at] - here >= self.near:
            cost = entered[at]
            if cost is not None:
                cost -= self.slope * stamps[at]
                while self.held and self.held[-1][0] >= cost:
                    self.held.pop()
                self.held.append((cost, at))
            at -= 1
        self.entering = at
        while self.held and self.far is not None and stamps[self.held[0][1]] - here >= self.far:
            self.held.popleft()
        return (self.held[0][0] + self.slope * here + self.plus, self.held[0][1]) if self.held else None
