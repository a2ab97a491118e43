"""The straight line that windows of two sounds agree on, and how far off it may be."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from math import sqrt

AGREE = 0.010
"""Seconds that a window may lie off the line."""

LEAST = 4
_DISJOINT = 3
"""Windows that overlap tell the same twice: so many must have nothing in common."""

STEEPEST = 500e-6
CRYSTAL = 50e-6
"""How far cameras' clocks differ, one standard deviation. Common practice, no source."""

CHANCE = 0.01
"""As rarely may clips of one room be taken for strangers because they agree by chance in one stretch only."""

_ROOM = 0.006
"""Seconds that the nearer microphone hears earlier, in a room of two metres."""

_FINEST = 0.0005


@dataclass(frozen=True)
class Window:
    """A place in the second sound, and how much later that is in the first, in seconds; None: nothing stands out there.

    `loud` is how loud the two are there, each in a measure of its own.
    """

    at: float
    later: float | None
    loud: tuple[float, float] = (0.0, 0.0)


@dataclass(frozen=True)
class Drawn:
    """`offset` + `drift` * at is how much later; `windows` agree from `first` to `last`.

    Between these it is `near` off at most, beyond them by `steep` more for each second.
    """

    offset: float
    drift: float
    windows: int
    first: float
    last: float
    near: float
    steep: float

    def later(self, at: float) -> float:
        """How much later a place in the second sound is in the first."""
        return self.offset + self.drift * at


def drawn(windows: Sequence[Window], long: float) -> Drawn | None:
    """The line that most windows, each `long` seconds, lie on; None unless enough of them agree."""
    points = [(w.at, w.later) for w in windows if w.later is not None]
    best = _largest(points)
    if len(best) < LEAST or best[-1][0] - best[0][0] < (_DISJOINT - 1) * long:
        return None
    if _played_twice(windows, [w for w in windows if (w.at, w.later) in best]):
        return None
    middle = sum(at for at, _ in best) / len(best)
    mean = sum(later for _, later in best) / len(best)
    spread = sum((at - middle) ** 2 for at, _ in best)
    steep = sum((at - middle) * (later - mean) for at, later in best) / spread
    free = len(best) - 2
    rest = sqrt(sum((later - mean - steep * (at - middle)) ** 2 for at, later in best) / free)
    # A short stretch measures drift badly: what is known of crystals weighs as much as what was measured.
    doubt = max(rest, _FINEST) ** 2 / spread
    share = CRYSTAL**2 / (CRYSTAL**2 + doubt)
    drift, off = steep * share, sqrt(doubt * share)
    first, last = best[0][0], best[-1][0]
    near = _ROOM + 2 * rest + 2 * off * (last - first) / 2
    return Drawn(mean - drift * middle, drift, len(best), first, last, near, 2 * off)


def _largest(points: Sequence[tuple[float, float]]) -> list[tuple[float, float]]:
    """The most points that lie on one line through two of them, in order."""
    best: list[tuple[float, float]] = []
    for n, (at, later) in enumerate(points):
        for other, then in points[n:]:
            slope = (then - later) / (other - at) if other != at else 0.0
            if abs(slope) <= STEEPEST:
                near = [p for p in points if abs(p[1] - later - slope * (p[0] - at)) <= AGREE]
                best = max(best, near, key=len)
    return sorted(best)


def _played_twice(windows: Sequence[Window], agreeing: Sequence[Window]) -> bool:
    """Whether a tune was played in two hours: it agrees from end to end, and nothing before and after it does.

    Two clips of one room agree here and there, all along. Silence before and after tells nothing: only what is as
    loud in both as where they agree counts.
    """
    first, last = agreeing[0].at, agreeing[-1].at
    quiet = [min(w.loud[side] for w in agreeing) for side in (0, 1)]
    within = sum(first <= w.at <= last for w in windows)
    beyond = sum(
        not first <= w.at <= last and w.loud[0] >= quiet[0] and w.loud[1] >= quiet[1] for w in windows
    )
    return (1 - len(agreeing) / (within + 1)) ** beyond < CHANCE
