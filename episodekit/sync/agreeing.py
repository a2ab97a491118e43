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

_ROOM = 0.006
"""Seconds that the nearer microphone hears earlier, in a room of two metres."""

_FINEST = 0.0005


@dataclass(frozen=True)
class Window:
    """A place in the second sound, and how much later that is in the first, both in seconds."""

    at: float
    later: float


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
    best = _largest(windows)
    if len(best) < LEAST or best[-1].at - best[0].at < (_DISJOINT - 1) * long:
        return None
    middle = sum(w.at for w in best) / len(best)
    mean = sum(w.later for w in best) / len(best)
    spread = sum((w.at - middle) ** 2 for w in best)
    steep = sum((w.at - middle) * (w.later - mean) for w in best) / spread
    free = len(best) - 2
    rest = sqrt(sum((w.later - mean - steep * (w.at - middle)) ** 2 for w in best) / free)
    # A short stretch measures drift badly: what is known of crystals weighs as much as what was measured.
    doubt = max(rest, _FINEST) ** 2 / spread
    share = CRYSTAL**2 / (CRYSTAL**2 + doubt)
    drift, off = steep * share, sqrt(doubt * share)
    near = _ROOM + 2 * rest + 2 * off * (best[-1].at - best[0].at) / 2
    return Drawn(mean - drift * middle, drift, len(best), best[0].at, best[-1].at, near, 2 * off)


def _largest(windows: Sequence[Window]) -> list[Window]:
    """The most windows that lie on one line through two of them, in order."""
    best: list[Window] = []
    for n, one in enumerate(windows):
        for two in windows[n:]:
            apart = two.at - one.at
            slope = (two.later - one.later) / apart if apart else 0.0
            if abs(slope) <= STEEPEST:
                near = [w for w in windows if abs(w.later - one.later - slope * (w.at - one.at)) <= AGREE]
                best = max(best, near, key=len)
    return sorted(best, key=lambda w: w.at)
