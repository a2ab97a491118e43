"""Evidence of when a clip rolled, and what was made of it."""

from __future__ import annotations

from dataclasses import dataclass
from enum import StrEnum
from fractions import Fraction

from episodekit.base.time import Seconds

AS_FILED = "by its file and `clock:` alone"
"""Why a clip lies where it does if nothing was measured: then what job.md says now decides, not what it said once."""

LOOSEST = Seconds(5)
"""A clip that is known no better is not placed. Common practice, no source."""


class Rung(StrEnum):
    """What a place rests on, the surest first."""

    FILMED_CLOCK = "filmed clock"
    CHIRP = "chirp"
    SOUND = "sound"
    TIMECODE = "timecode"
    CREATION = "creation time"
    BY_HAND = "by hand"


MEASURED = (Rung.FILMED_CLOCK, Rung.CHIRP, Rung.SOUND)
"""What is found in the clip itself."""


@dataclass(frozen=True)
class Clue:
    """A place in a clip, in seconds since its first frame, that is an instant of the log's clock.

    `wall` is seconds since 1970 UTC, `within` how far off it may be, plus or minus. `other` is the path of the clip
    that it was matched with, if it was; `shared` is how far off that one may be there besides, and `steep` how far off
    its pace: these move all clues from that clip alike, and leave the two as near each other as `within` says.
    """

    clip: str
    rung: Rung
    at: Seconds
    wall: Seconds
    within: Seconds
    other: str = ""
    text: str = ""
    shared: Seconds = Seconds(0)
    steep: Fraction = Fraction(0)

    @property
    def in_all(self) -> Seconds:
        """How far off it may be from the log's clock."""
        return self.within + self.shared


@dataclass(frozen=True)
class Residual:
    """How far a clue lies from where its clip was placed, in seconds; positive: the clue is later."""

    clue: Clue
    off: Seconds


@dataclass(frozen=True)
class Synced:
    """A clip where the ladder put it. `rung` and `start` are None if it was not placed; `why` says it in words.

    `steep` is how far off `pace` may be.
    """

    clip: str
    identity: str
    camera: str | None
    start: Seconds | None
    pace: Fraction
    within: Seconds | None
    rung: Rung | None
    residuals: tuple[Residual, ...] = ()
    why: str = ""
    steep: Fraction = Fraction(0)

    @property
    def unchecked(self) -> bool:
        """Whether it lies where its file says, and nothing else says so."""
        return self.rung is Rung.CREATION and self.why == AS_FILED

    def within_at(self, at: Seconds) -> Seconds | None:
        """How far off a place in it may be, so many seconds from its first frame; None if it was not placed.

        The further from what was measured in it, the more.
        """
        if self.within is None:
            return None
        near = [
            one.clue.in_all + abs(at - one.clue.at) * self.steep
            for one in self.residuals
            if one.clue.rung is self.rung and abs(one.off) <= one.clue.in_all
        ]
        return min([self.within + abs(at) * self.steep, *near])
