"""One term of a deal and what it came to; the case it is judged in.

A term passes only by a measurement. What no machine measured stays open, with what to do.
"""

from __future__ import annotations

from dataclasses import dataclass, replace
from enum import StrEnum

from episodekit.base.time import Frames, Ms, frames_to_ms
from episodekit.job.contract import Read
from episodekit.job.model import Step
from episodekit.pack.measured import Measured, ReadSeen, Span
from episodekit.slots.place import PlacedRead
from episodekit.timeline.episode import Episode
from episodekit.timing.steps import StepTime


class Met(StrEnum):
    """Whether a term is met. Open: nobody measured it."""

    PASS = "pass"
    FAIL = "fail"
    OPEN = "open"


@dataclass(frozen=True)
class Term:
    """One term. `at` is where in the video it was measured, `frame` the frame that shows it, both in ms.

    `asks` is the term as agreed, `measured` what was found, `words` what is spoken there, `todo` what is left to do.
    """

    read: str
    name: str
    asks: str
    met: Met
    measured: str
    at: Ms | None = None
    words: str = ""
    todo: str = ""
    frame: Ms | None = None

    @property
    def where(self) -> str:
        """The place in the video, to the tenth of a second; "" if it has none."""
        return "" if self.at is None else stamp(self.at)


@dataclass(frozen=True)
class Case:
    """One read with everything its terms look at."""

    name: str
    read: Read
    step: Step
    time: StepTime
    placed: PlacedRead
    seen: ReadSeen
    measured: Measured
    episode: Episode

    @property
    def span(self) -> Span | None:
        """Where the read is in the video, by its disclosure."""
        return self.seen.ad.span

    @property
    def slack(self) -> int:
        """What another frame rate may take from a stretch: a frame of the draft and one of the video, in ms."""
        return frames_to_ms(Frames(1), self.episode.timeline.rate) + 1 + self.measured.frame

    def term(self, name: str, asks: str, met: Met, measured: str, **more: object) -> Term:
        """A term of this read."""
        return replace(Term(self.name, name, asks, met, measured), **more)  # type: ignore[arg-type]  # Term's fields

    def unseen(self, name: str, asks: str) -> Term:
        """A term that cannot be measured, since the read was not found."""
        return self.term(
            name, asks, Met.OPEN, "the read was not found", todo="Mend the disclosure, then measure again."
        )


def stamp(ms: Ms) -> str:
    """A place in a video, to the nearest tenth of a second.

    >>> stamp(Ms(64_960)), stamp(Ms(3_600_000))
    ('1:05.0', '1:00:00.0')
    """
    tenths = (ms + 50) // 100
    minutes, rest = divmod(tenths, 600)
    seconds = f"{rest // 10:02d}.{rest % 10}"
    return f"{minutes // 60}:{minutes % 60:02d}:{seconds}" if minutes >= 60 else f"{minutes}:{seconds}"


def met(good: bool) -> Met:
    """Pass or fail, of what was measured."""
    return Met.PASS if good else Met.FAIL


def apart(one: Span, other: Span) -> Ms:
    """Time between two stretches; none if they touch or overlap."""
    return Ms(max(0, other.start - one.end, one.start - other.end))


def off(value: int, low: int, high: int) -> Ms:
    """How far a value lies outside a range; none inside it."""
    return Ms(max(low - value, value - high))


def inside(span: Span, share: float) -> Ms:
    """A place within a stretch."""
    return Ms(span.start + int(span.length * share))


def seconds(ms: Ms) -> str:
    """A length to the hundredth of a second.

    >>> seconds(Ms(21_504))
    '21.50 s'
    """
    return f"{ms / 1000:.2f} s"
