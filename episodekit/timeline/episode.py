"""Everything that is known of an episode once it is compiled."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass

from episodekit.base.findings import Finding
from episodekit.base.time import Ms, frames_to_ms
from episodekit.bench.model import Span
from episodekit.bench.remarks import Remark
from episodekit.chapters.mark import Chapter
from episodekit.fit.trims import Trim
from episodekit.footage.model import Clip, PlacedClip
from episodekit.job.model import Plan
from episodekit.shots.filming import SetUp
from episodekit.shots.model import Shot
from episodekit.slots.place import PlacedBreak, PlacedRead
from episodekit.timeline.lay import LaidStep
from episodekit.timeline.model import Timeline
from episodekit.timeline.narration import Line
from episodekit.timeline.pace import Pace


@dataclass(frozen=True)
class Drift:
    """How the run time moved, in ms: planned from words and bench times, as filmed, as recorded."""

    planned: Ms
    filmed: Ms | None = None
    recorded: Ms | None = None


@dataclass(frozen=True)
class Episode:
    """Everything that is known of an episode. `steps` are in screen order, reads included; one may come in two."""

    plan: Plan
    steps: tuple[LaidStep, ...]
    shots: tuple[Shot, ...]
    set_ups: tuple[SetUp, ...]
    reads: tuple[PlacedRead, ...]
    ad_breaks: tuple[PlacedBreak, ...]
    chapters: tuple[Chapter, ...]
    clips: tuple[PlacedClip, ...]
    spans: tuple[Span, ...]
    timeline: Timeline
    trims: tuple[Trim, ...]
    drift: Drift
    pace: Pace
    findings: tuple[Finding, ...]
    narration: tuple[Line, ...] = ()
    remarks: tuple[Remark, ...] = ()

    @property
    def runtime(self) -> Ms:
        """Length of the draft, to the nearest ms."""
        return frames_to_ms(self.timeline.frames, self.timeline.rate)

    @property
    def clips_by_path(self) -> Mapping[str, Clip]:
        """The clips that the timeline may name."""
        return {placed.clip.path: placed.clip for placed in self.clips}
