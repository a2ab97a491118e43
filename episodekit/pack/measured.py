"""What is looked for in a finished video, and what was measured there. Plain values; measuring is done outside."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from enum import StrEnum

from episodekit.base.time import Frames, Ms
from episodekit.timeline.episode import Episode
from episodekit.timeline.model import Overlay, OverlayKind


class Role(StrEnum):
    """What a board stands for: a read's disclosure, its code, its sponsor's goods, or a step's cautions."""

    AD = "ad"
    CODE = "code"
    GOODS = "goods"
    CAUTION = "caution"


@dataclass(frozen=True)
class LookedFor:
    """A board of the draft that has to be found. `owner` is a read's name; of a caution the step's id.

    `start` and `end` are frames of the draft.
    """

    role: Role
    owner: str
    overlay: Overlay
    start: Frames
    end: Frames


@dataclass(frozen=True)
class Span:
    """A stretch of the video in ms from its first frame, half-open, each end to the nearest ms."""

    start: Ms
    end: Ms

    @property
    def length(self) -> Ms:
        """How long it lasts."""
        return Ms(self.end - self.start)


@dataclass(frozen=True)
class Seen:
    """Where a board is on screen; none if it was not found.

    `arc_minutes` and `contrast` were measured on its pixels, the worst of several frames; None where they
    could not be.
    """

    runs: tuple[Span, ...] = ()
    arc_minutes: float | None = None
    contrast: float | None = None

    @property
    def span(self) -> Span | None:
        """From its first frame to its last, gaps included."""
        return Span(self.runs[0].start, self.runs[-1].end) if self.runs else None


@dataclass(frozen=True)
class ReadSeen:
    """What was measured of a read. `level` is how loud its sound is, in dB below full scale; None without sound.

    `goods` are the boards of its sponsor's goods outside the read, each with its length as drafted.
    """

    ad: Seen
    code: Seen = Seen()
    goods: tuple[tuple[Ms, Seen], ...] = ()
    level: float | None = None


@dataclass(frozen=True)
class HeardTake:
    """A recorded take that is heard in the video: the file, where it begins, how alike it is from 0 to 1."""

    file: str
    start: Ms
    alike: float


@dataclass(frozen=True)
class Measured:
    """A finished video. `draft`: it is this job's own draft, in which only the recorded takes are heard.

    `frame` is the length of one of its frames, rounded up. `steps` are the stretches in which each step's cautions
    are on screen, by the step's id; a step whose boards were not all found is left out. `takes` are by beat;
    None for one that is recorded and not heard.
    """

    video: str
    draft: bool
    runtime: Ms
    frame: Ms
    size: tuple[int, int]
    sound: bool
    reads: Mapping[str, ReadSeen]
    steps: Mapping[str, tuple[Span, ...]]
    takes: Mapping[str, HeardTake | None]
    chapters: tuple[tuple[Ms, str], ...] = ()


def looked_for(episode: Episode) -> tuple[LookedFor, ...]:
    """The boards of the deal and of cautions over footage, step by step."""
    found: list[LookedFor] = []
    at = 0
    for laid in episode.steps:
        end = at + laid.fitted.frames
        step = laid.step
        for overlay in episode.timeline.overlays:
            if at <= overlay.start < end:
                for role, owner in _roles(overlay, step.id, step.read, step.uses, episode):
                    found.append(LookedFor(role, owner, overlay, overlay.start, overlay.end))
        at = end
    return tuple(found)


def _roles(
    overlay: Overlay, step: str, read: str | None, uses: tuple[str, ...], episode: Episode
) -> list[tuple[Role, str]]:
    match overlay.kind:
        case OverlayKind.CAUTION:
            return [(Role.CAUTION, step)]
        case OverlayKind.CODE if read is not None:
            return [(Role.CODE, read)]
        case OverlayKind.DISCLOSURE if read is not None:
            return [(Role.AD, read)]
        case OverlayKind.DISCLOSURE:
            return [(Role.GOODS, name) for name in uses if name in episode.plan.front.reads]
    return []
