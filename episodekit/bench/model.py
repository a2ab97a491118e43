"""Marks and spans. A mark is one entry of the bench log; a span is what lies between two of them."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import datetime
from enum import StrEnum
from fractions import Fraction

from episodekit.base.box import Box
from episodekit.base.place import Place
from episodekit.base.time import Seconds

WALL = "wall"


class Kind(StrEnum):
    """What a mark says. keep, wait and b-roll last until the next mark; note, problem and reading last no time.

    private hides a box of one camera's picture until public; both are apart from the steps. chirp says that a
    sound began to play, by which cameras are told when they ran. undo withdraws another mark.
    """

    START = "start"
    DONE = "done"
    RETAKE = "retake"
    KEEP = "keep"
    WAIT = "wait"
    B_ROLL = "b-roll"
    NOTE = "note"
    PROBLEM = "problem"
    READING = "reading"
    CHIRP = "chirp"
    UNDO = "undo"
    PRIVATE = "private"
    PUBLIC = "public"


MOVES = frozenset({Kind.START, Kind.DONE, Kind.RETAKE, Kind.KEEP, Kind.WAIT, Kind.B_ROLL})
"""The kinds that open, part or close a step; all others leave the steps as they are."""


@dataclass(frozen=True)
class InClip:
    """A place in a clip as written: the clip's name, and a timecode or a time since its first frame."""

    clip: str
    label: str


@dataclass(frozen=True)
class Mark:
    """One entry of the log, as written.

    `when` is an instant, or a place in a clip. An instant without an offset from UTC is one only with the
    plan's `utc offset`. `camera` and `box` are a private or public mark's. `id` is given by the device that
    logged it, `of` is an undo's: the id of the mark it withdraws.
    """

    when: datetime | InClip
    kind: Kind
    step: str
    text: str
    at: Place
    camera: str = ""
    box: Box | None = None
    id: str = ""
    of: str = ""

    @property
    def device(self) -> str:
        """Which device logged it, by its id "phone1-17"; "" for a mark typed by hand.

        >>> Mark(datetime(2026, 11, 7), Kind.DONE, "", "", Place("bench.jsonl"), id="phone1-17").device
        'phone1'
        """
        return self.id.rpartition("-")[0] or self.id


@dataclass(frozen=True)
class Moment:
    """A point on a clock. `clock` is "wall" (seconds since 1970 UTC) or a clip's path (seconds since its
    first frame); `clip` is the clip in which the place was given, if it was.
    """

    clock: str
    seconds: Seconds
    clip: str | None = None


@dataclass(frozen=True)
class PlacedMark:
    """A mark with its moment."""

    mark: Mark
    moment: Moment


class SpanKind(StrEnum):
    """work may be sped up, keep plays at normal speed, wait is dropped first; b-roll is no work, but a cutaway."""

    WORK = "work"
    KEEP = "keep"
    WAIT = "wait"
    B_ROLL = "b-roll"


@dataclass(frozen=True)
class Span:
    """A stretch of a step, half-open. `end` is None if the log ends first. `text` is the opening mark's.

    `order` ranks all spans of the log: by time on each clock, by the lines of the log between clocks.
    """

    step: str
    kind: SpanKind
    start: Moment
    end: Moment | None
    text: str
    at: Place
    order: int = 0

    @property
    def length(self) -> Seconds | None:
        """Seconds, if it ended."""
        return None if self.end is None else Fraction(self.end.seconds - self.start.seconds)
