"""The fields of plan.json, documented and stable. The pages and the CSV are made from it too.

All times ending in `_ms` are integer milliseconds; all counts of `frames` are at `rate`, an exact
fraction such as "30000/1001". Footage seconds are exact fractions as text. `version` changes when a field
is renamed, removed or changes its meaning; fields may be added.
"""

from __future__ import annotations

from pydantic import BaseModel, ConfigDict, Field

VERSION = 2


class Doc(BaseModel):
    """A part of the document."""

    model_config = ConfigDict(frozen=True, extra="forbid")


class FindingDoc(Doc):
    """A finding: `line` and `column` count from 1, 0 means the whole file."""

    code: str
    severity: str
    file: str
    line: int
    column: int
    message: str
    remedy: str


class BeatDoc(Doc):
    """A spoken beat. `start_ms` counts from the start of the episode.

    Nine times in ten it is from `low_ms` to `high_ms` long; a recorded one is as long as its `take`.
    """

    id: str
    text: str
    paragraphs: tuple[str, ...]
    start_ms: int
    length_ms: int
    low_ms: int
    high_ms: int
    words: int
    take: str | None = Field(description="The recording that is heard in the draft; null if there is none")


class RemarkDoc(Doc):
    """What was remarked at the bench. `kind` is note, problem or reading."""

    kind: str
    text: str


class StepDoc(Doc):
    """A step in screen order. A sponsor's read has its name in `read`.

    A step that a read interrupts comes in two: the second, with the beats that follow, is `continued`.
    """

    id: str
    title: str
    section: str
    read: str | None
    continued: bool
    start_ms: int
    screen_ms: int
    planned_ms: int = Field(description="From words and must-shows alone")
    spoken_ms: int
    words: int
    bench_ms: int | None
    camera: str
    cautions: tuple[str, ...]
    no_return: bool
    takes_off: tuple[str, ...]
    beats: tuple[BeatDoc, ...]
    shots: tuple[int, ...]
    notes: tuple[str, ...]
    remarks: tuple[RemarkDoc, ...] = Field(description="From the bench log")
    state: str = Field(description="filmed, part filmed, or to film")
    answer: str = Field(
        description="What the fit does with it: keep, ramp, cut, drop, b-roll, hold, pickup needed, film"
    )
    fastest_speed: float = Field(description="Highest playback speed of its footage; 0 without footage")


class ShotDoc(Doc):
    """A shot. `start_ms` counts from the start of its step; both times are as laid: as planned before there is
    footage, as fitted to it after. `kind` is work, must show, b-roll or read.
    """

    number: int
    step: str
    kind: str
    what: str
    camera: str
    view: str
    start_ms: int
    screen_ms: int = Field(description="0 for b-roll that is not needed")
    asked_ms: int | None = Field(description="How long a must-show or b-roll is to be filmed, at least")
    bench_ms: int | None
    beats: tuple[str, ...]
    cautions: tuple[str, ...]
    no_return: bool
    filmed: bool = Field(description="Whether no slate stands for any of it")


class SetUpDoc(Doc):
    """Shots to film with one camera in place, in filming order. `once` names a step of no return."""

    camera: str
    view: str
    shots: tuple[int, ...]
    once: str


class SectionDoc(Doc):
    """A section; `start_ms` is where its first step plays, null for a section that holds a read's text."""

    id: str
    title: str
    start_ms: int | None


class TermDoc(Doc):
    """One term of a read's deal as the plan writes it: `key` and `value`, such as "link stays" and "30 days"."""

    key: str
    value: str


class DeadlineDoc(Doc):
    """A day on which something is due: `date` as in ISO 8601, `day` as it is read. `read` may be empty."""

    date: str
    day: str
    what: str
    read: str
    why: str


class ReadDoc(Doc):
    """A sponsor's read at its place. `disclosure` holds "heard", "seen" or both, `must_say` its phrases."""

    name: str
    sponsor: str
    disclosure: tuple[str, ...]
    must_say: tuple[str, ...]
    start_ms: int
    length_ms: int
    before_step: str
    inside_step: bool = Field(description="Whether it interrupts that step, between two beats")
    why: str
    terms: tuple[TermDoc, ...] = Field(description="What the deal asks, apart from disclosure and must_say")


class AdBreakDoc(Doc):
    """A place where the host may insert an advertisement; it takes no time of the episode."""

    start_ms: int
    stamp: str
    before_step: str
    inside_step: bool = Field(description="Whether it stands between two beats of that step")
    why: str


class ChapterDoc(Doc):
    """A chapter mark. `stamp` is its start in whole seconds, rounded down."""

    start_ms: int
    stamp: str
    title: str


class SegmentDoc(Doc):
    """A stretch of the draft. Footage has `clip`, in and out; a slate has none.

    `first_frame` and `last_frame` count the clip's own frames from 0; null for a variable frame rate.
    """

    start_frame: int
    frames: int
    step: str
    shot: int
    clip: str | None
    start_seconds: str | None
    end_seconds: str | None
    speed: str | None
    hold_frames: int
    first_frame: int | None
    last_frame: int | None


class ClipDoc(Doc):
    """A camera file. `starts_at` is its first frame on the wall clock, in seconds since 1970 UTC."""

    path: str
    camera: str | None
    rate: str
    variable: bool
    seconds: str
    width: int
    height: int
    rotation: int
    start_timecode: str | None
    starts_at: str | None


class StretchDoc(Doc):
    """A part of the run time."""

    start_ms: int
    length_ms: int


class PaceDoc(Doc):
    """Open stretches of 2 s or more, and the longest stretch of each kind (of no length where there is none)."""

    words_a_minute: float = Field(description="The narrator's pace, as set in the plan")
    silences: tuple[StretchDoc, ...]
    longest_silence: StretchDoc
    longest_picture: StretchDoc = Field(description="Without a change of picture")
    longest_without_question: StretchDoc


class TrimDoc(Doc):
    """So many words fewer in a beat, to meet the run time."""

    beat: str
    words: int


class DriftDoc(Doc):
    """The run time as planned from words and bench times, as filmed, and as recorded; null where unknown."""

    planned_ms: int
    filmed_ms: int | None
    recorded_ms: int | None


class PlanDocument(Doc):
    """A compiled episode."""

    version: int
    title: str
    device: str
    rate: str
    width: int
    height: int
    frames: int
    runtime_ms: int
    runtime_low_ms: int = Field(description="Nine times in ten, as far as the words decide")
    runtime_high_ms: int
    target_low_ms: int | None
    target_high_ms: int | None
    words: int
    spoken_ms: int
    spoken_low_ms: int
    spoken_high_ms: int
    sections: tuple[SectionDoc, ...]
    steps: tuple[StepDoc, ...]
    shots: tuple[ShotDoc, ...]
    set_ups: tuple[SetUpDoc, ...]
    reads: tuple[ReadDoc, ...]
    ad_breaks: tuple[AdBreakDoc, ...]
    deadlines: tuple[DeadlineDoc, ...]
    chapters: tuple[ChapterDoc, ...]
    clips: tuple[ClipDoc, ...]
    segments: tuple[SegmentDoc, ...]
    pace: PaceDoc
    trims: tuple[TrimDoc, ...]
    drift: DriftDoc
    findings: tuple[FindingDoc, ...]
