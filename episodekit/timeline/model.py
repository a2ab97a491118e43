"""The draft timeline: segments end to end, overlays over them, chapters beside them."""

from __future__ import annotations

from dataclasses import dataclass, field
from enum import StrEnum
from fractions import Fraction

from episodekit.base.time import Frames, Ms, Rate, Seconds
from episodekit.footage.private import Private


@dataclass(frozen=True)
class Card:
    """A slate: the card that stands for a shot not yet filmed.

    `heading` is large, `lines` are the small print under it (what to film, camera, length), `words` is
    the narration spoken meanwhile, so that a creator can read it aloud to the draft. `cautions` stand in
    a block of their own that is never cut to make room for the rest. `accent` names a colour role:
    "shot", "read", "caution" or "title".
    """

    heading: str
    kicker: str = ""
    lines: tuple[str, ...] = ()
    words: str = ""
    accent: str = "shot"
    cautions: tuple[str, ...] = ()


@dataclass(frozen=True)
class Picture:
    """A stretch of a clip. `clip` is its path inside the job folder.

    `start` and `end` are seconds from the clip's first frame, half-open. `speed` is source seconds a
    second of screen: 1 is normal speed. `hold` frames of the last picture follow when the stretch is
    shorter than the segment.

    Output frame n shows the source frame on screen at `start + n / rate * speed`, and a quarter of the
    shorter frame later: of `speed / rate` of source time, or of a frame of the clip. A shot that begins
    with a source frame so shows it, and no rounding of that place tips the choice. Clips of constant rate
    are counted in whole frames, so nor does a container whose stamps are whole milliseconds.
    """

    clip: str
    start: Seconds
    end: Seconds
    speed: Fraction = Fraction(1)
    hold: Frames = Frames(0)


@dataclass(frozen=True)
class Sound:
    """Another clip's sound under a picture, from `start` seconds on, at the picture's speed; no clip is silence."""

    clip: str | None
    start: Seconds


@dataclass(frozen=True)
class Segment:
    """One picture or one card for `frames` frames. `step` and `shot` say what it shows.

    A picture's own sound is heard with it, unless `sound` names another.
    """

    frames: Frames
    source: Picture | Card
    step: str = ""
    shot: int = 0
    sound: Sound | None = None


class OverlayKind(StrEnum):
    """Where an overlay lies: low left, top left, top right, low right, or at the right above whatever lies low.

    A code and a lower third are never on at once. A badge lies over footage only, never over a card.
    """

    LOWER_THIRD = "lower third"
    CAUTION = "caution"
    DISCLOSURE = "disclosure"
    CODE = "code"
    BADGE = "badge"


@dataclass(frozen=True)
class Overlay:
    """A timed graphic over the picture, `start` to `end` in timeline frames, half-open.

    Each line of `text` is a paragraph of its own; `small` is the small print under them.
    """

    kind: OverlayKind
    text: str
    start: Frames
    end: Frames
    small: str = ""


@dataclass(frozen=True)
class ChapterMark:
    """A viewer-facing start time and title."""

    start: Ms
    title: str


@dataclass(frozen=True)
class Timeline:
    """All a draft needs. Segments play in order with no gap; the frame count is their sum.

    `private` is hidden wherever a segment shows it, at any speed.
    """

    title: str
    rate: Rate
    width: int
    height: int
    segments: tuple[Segment, ...]
    overlays: tuple[Overlay, ...] = ()
    chapters: tuple[ChapterMark, ...] = ()
    font: str | None = field(default=None)
    private: tuple[Private, ...] = ()

    @property
    def frames(self) -> Frames:
        """Length of the whole draft."""
        return Frames(sum(segment.frames for segment in self.segments))
