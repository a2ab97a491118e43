"""What plays in a step, part by part, to the frame."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass
from fractions import Fraction

from episodekit.base.time import Frames, Seconds
from episodekit.bench.model import SpanKind


@dataclass(frozen=True)
class Heard:
    """The clip whose sound is heard instead of the picture's own, from `start` on; no clip is silence."""

    clip: str | None
    start: Seconds


@dataclass(frozen=True)
class Plays:
    """Footage: a stretch of a clip at a speed, then `hold` frames of its last picture.

    `kind` is what it is of the bench. `shot` is the index of the must-show or b-roll it answers within its
    step, if it does; `what` is what a cutaway shows. `heard` is another clip's sound, if that is better.
    """

    frames: Frames
    clip: str
    start: Seconds
    end: Seconds
    speed: Fraction
    hold: Frames = Frames(0)
    shot: int | None = None
    kind: SpanKind = SpanKind.WORK
    what: str = ""
    heard: Heard | None = None


@dataclass(frozen=True)
class Slate:
    """A card for the shot with this index within its step. `pickup` marks footage that ran out."""

    frames: Frames
    shot: int
    pickup: bool = False


@dataclass(frozen=True)
class FittedStep:
    """A step's parts, end to end. `planned` is its length from words and must-shows alone.

    `more` of its frames are there to bring the episode to its run time; `left` are the frames that it could
    show besides, if it may run on without words.
    """

    step: str
    planned: Frames
    parts: tuple[Plays | Slate, ...]
    more: Frames = Frames(0)
    left: Frames = Frames(0)

    @property
    def frames(self) -> Frames:
        """Screen time of the step."""
        return Frames(sum(part.frames for part in self.parts))


def can_grow(fitted: FittedStep, longest: Frames) -> Frames:
    """How many frames longer a step could be, if it may run on for `longest` without words."""
    beyond = max(0, fitted.frames - fitted.planned)
    return Frames(max(0, min(fitted.left, longest - beyond)))


def footage_of(kind: SpanKind, parts: Iterable[Plays | Slate]) -> Fraction:
    """Seconds of footage of a kind that are shown."""
    plays = [part for part in parts if isinstance(part, Plays) and part.kind is kind]
    return sum((part.end - part.start for part in plays), Fraction(0))


def same_stretch(before: Plays | Slate, after: Plays | Slate) -> bool:
    """Whether one part goes on in the other, in the next file of its camera."""
    if not isinstance(before, Plays) or not isinstance(after, Plays) or before.clip == after.clip:
        return False
    return before.kind is after.kind and before.speed == after.speed
