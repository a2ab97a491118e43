"""Reads, ad breaks and the story as the search sees them. All lengths, times and distances are in frames.

A *boundary* lies between two units of the story: boundary n before unit n, the last one at the end. Reads
take time and move all that follows; ad breaks take none. At one boundary several may stand, in an order.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field

Term = tuple[str, str]
"""Whose term, and which, as a creator wrote them: ("larkspur", "starts"), ("ad breaks", "apart")."""

BREAKS = "ad breaks"


@dataclass(frozen=True)
class Span:
    """From `low` to `high` frames, both allowed."""

    low: int
    high: int


@dataclass(frozen=True)
class ReadTerms:
    """A read: its length, where it may start, and how far it keeps from each class of units.

    `clear` maps a class ("hazard", "cell", "failure") to frames; `reads` and `ad_breaks` are the distances
    from those. `points` is what each boundary is worth.
    """

    name: str
    frames: int
    starts: Span | None
    clear: Mapping[str, int]
    reads: int
    ad_breaks: int
    points: tuple[int, ...]


@dataclass(frozen=True)
class BreakTerms:
    """Ad breaks: how many, how far apart, where, and how far from each class of units and from reads.

    `more` is what each one above the fewest is worth.
    """

    count: Span
    apart: Span
    starts: Span
    clear: Mapping[str, int]
    reads: int
    points: tuple[int, ...]
    more: int
    run_time: int


@dataclass(frozen=True)
class Problem:
    """The story's units by their lengths and classes, the boundaries that may be used, and all terms."""

    frames: tuple[int, ...]
    classes: tuple[frozenset[str], ...]
    open: tuple[bool, ...]
    reads: tuple[ReadTerms, ...]
    breaks: BreakTerms | None = None

    @property
    def total(self) -> int:
        """The final run time, reads included."""
        return sum(self.frames) + sum(read.frames for read in self.reads)


@dataclass(frozen=True)
class Event:
    """A read by its index, or an ad break (-1), at a boundary, starting at `at` frames of the final time."""

    who: int
    boundary: int
    at: int


@dataclass(frozen=True)
class Placement:
    """All events in order of time; `miss` is by how many frames terms are broken, `points` what it is worth."""

    events: tuple[Event, ...]
    miss: int
    points: int


@dataclass(frozen=True)
class Miss:
    """A term that a placement breaks by `frames`; `beside` is the read or ad break too near, `unit` the unit."""

    term: Term
    event: Event
    frames: int
    beside: Event | None = None
    unit: int = field(default=-1)
