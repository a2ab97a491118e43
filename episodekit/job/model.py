"""The plan as values: front matter, sections, steps, beats and facts. All frozen, all with a position."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from enum import StrEnum
from fractions import Fraction
from typing import Annotated

from pydantic import Field, model_validator

from episodekit.base.box import Box
from episodekit.base.place import Place
from episodekit.base.time import Ms, Rate
from episodekit.job import units
from episodekit.job.contract import AdBreaks, Chapters, FreeGoods, Preferences, Read
from episodekit.job.values import (
    ClockOffset,
    Currency,
    Date,
    Duration,
    DurationRange,
    Few,
    FirstLines,
    FrameRate,
    Frozen,
    Lead,
    LongestText,
    MainsFrequency,
    Pace,
    Pause,
    PictureBox,
    Shutter,
    Size,
    SpeedRange,
    Spread,
    Text,
    UtcOffset,
    YesNo,
    at_least,
)


class Microphone(StrEnum):
    """How well a camera hears: `good` is taken wherever it was running, `none` is never heard."""

    GOOD = "good"
    PLAIN = "plain"
    NONE = "none"


class Camera(Frozen):
    """A camera of the bench. Its files lie in `footage/NAME/` or are called `NAME...`, or match `files`."""

    view: Text = Field("", validate_default=False, description="What it sees: overhead, side, macro")
    shutter: Shutter | None = Field(None, description="Exposure time, to check against the mains")
    clock: ClockOffset = Field(
        Fraction(0), description="How far its clock is off true time: 3.2 s behind, 1 h ahead"
    )
    microphone: Microphone = Field(
        Microphone.PLAIN,
        description="good: its sound is used wherever it was running; plain; none: never heard",
    )
    files: Text | None = Field(
        None, description="Pattern of its file names, if they do not start with its name"
    )


class PrivatePlace(Frozen):
    """A rectangle that nobody may see, in all footage of a camera or in one clip from end to end."""

    box: PictureBox = Field(
        description="The rectangle in percents of the picture as seen: 60% 5% to 95% 15%, or whole picture"
    )
    camera: Text | None = Field(None, description="Hidden in all that this camera films")
    clip: Text | None = Field(None, description="Hidden in this file of footage/")

    @model_validator(mode="after")
    def _one_of_two(self) -> PrivatePlace:
        if (self.camera is None) == (self.clip is None):
            raise ValueError("it needs a camera or a clip; write {camera: screen, box: 60% 5% to 95% 15%}")
        return self


class Voice(Frozen):
    """How the narrator speaks. Defaults are common practice, no source, except the pace.

    Pauses that are left out grow and shrink with the pace (see `timing/speech.py`).
    """

    profile: Text | None = Field(None, description="A voice of your voices.yaml; keys beside it come first")
    pace: Pace = Field(Fraction(150), description="Words a minute over ordinary prose, pauses included")
    stop: Pause | None = Field(None, description="Pause at a full stop inside a beat")
    comma: Pause | None = Field(None, description="Pause at a comma, colon or dash")
    paragraph: Pause | None = Field(None, description="Pause between two paragraphs of a beat")
    breath: Lead = Field(Ms(500), description="Pause between two beats")
    lead: Lead = Field(Ms(400), description="Picture before the first word of a step")
    new_section: Lead = Field(
        Ms(1500), alias="new section", description="Picture before the first word of a new section"
    )
    tail: Lead = Field(Ms(600), description="Picture after the last word of a step")
    spread: Spread = Field(
        Fraction(18, 100), description="A beat's length is within so much of the estimate nine times in ten"
    )

    def over(self, profile: Voice) -> Voice:
        """This voice, with what it leaves out taken from a profile."""
        own = {name: getattr(self, name) for name in self.model_fields_set}
        return profile.model_copy(update=own)


class Limits(Frozen):
    """Thresholds a job may change. Where no source is named it is common practice, no source."""

    handwork: SpeedRange = Field(
        units.Speeds(Fraction(2), Fraction(4)), description="Speeds of work that the eye follows"
    )
    repetition: SpeedRange = Field(
        units.Speeds(Fraction(8), Fraction(16)), description="Speeds of the same move again and again"
    )
    curing: SpeedRange = Field(
        units.Speeds(Fraction(20), Fraction(60)), description="Speeds of waiting: curing, charging, printing"
    )
    ramp: Duration = Field(
        Ms(3000),
        description="Screen time that sped-up work gets at least; with less it plays at normal speed",
    )
    open_stretch: Duration = Field(
        Ms(5000),
        alias="open stretch",
        description="Time without words that a step may gain to reach the run time",
    )
    longest_hold: Duration = Field(
        Ms(3000), alias="longest hold", description="Longest freeze before a pickup is advised"
    )
    shortest_shot: Annotated[Duration, at_least("0.5 s")] = Field(
        Ms(2000), alias="shortest shot", description="Screen time a step gets at least"
    )
    lower_third: Duration = Field(Ms(3500), alias="lower third", description="How long a step's title shows")
    caution: Annotated[Duration, at_least("2 s")] = Field(
        Ms(6000), description="How long a caution shows in full before its short form; 2 s at least"
    )
    chapter_length: Annotated[Duration, at_least("1 s")] = Field(
        Ms(10_000), alias="chapter length", description="Shortest chapter; the host's rule is 10 s"
    )
    chapters: Few = Field(3, description="Fewest chapters; the host's rule is three")
    private_extra: Duration = Field(
        Ms(200),
        alias="private extra",
        description="Time that stays hidden before and after a private span, beside two frames of clip and draft",
    )
    private_margin: Spread = Field(
        Fraction(2, 100),
        alias="private margin",
        description="Margin hidden on each side of a private rectangle, as a share of the picture",
    )
    first_lines: FirstLines = Field(
        157, alias="first lines", description="Characters of a description that hosts show before 'more'"
    )
    description: LongestText = Field(5000, description="Longest description that hosts take, in characters")


class FrontMatter(Frozen):
    """The block between the two `---` lines at the top of job.md."""

    title: Text = Field(description="The episode's title")
    device: Text = Field("", validate_default=False, description="What is on the bench")
    runtime: DurationRange | None = Field(None, description="Target length of the episode, as a range")
    frame_rate: FrameRate = Field(
        Rate(Fraction(30)), alias="frame rate", description="Frames a second of the draft"
    )
    size: Size = Field((1280, 720), description="Picture size of the draft")
    utc_offset: UtcOffset | None = Field(
        None, alias="utc offset", description="For log times without one: -05:00, +01:00"
    )
    mains: MainsFrequency | None = Field(None, description="Mains frequency where you film, 50 Hz or 60 Hz")
    currency: Currency | None = Field(None, description="ISO 4217 code of the job's money")
    badge: YesNo = Field(True, description="Whether sped-up footage tells its speed in a badge: yes or no")
    font: Text | None = Field(
        None, description="A .ttf, .otf or .ttc file in the job folder for cards and titles"
    )
    voice: Voice = Voice(pace=150)
    cameras: Mapping[str, Camera] = Field(default_factory=dict, description="Each camera by a short name")
    reads: Mapping[str, Read] = Field(default_factory=dict, description="Each sponsor's read by a short name")
    ad_breaks: AdBreaks | None = Field(
        None, alias="ad breaks", description="Where the host may insert its own advertisements"
    )
    free_goods: Mapping[str, FreeGoods] = Field(
        default_factory=dict, alias="free goods", description="Goods received free, by a short name"
    )
    private: Mapping[str, PrivatePlace] = Field(
        default_factory=dict, description="Rectangles that nobody may see, by a short name"
    )
    publish: Date | None = Field(None, description="The day the episode goes out")
    holidays: tuple[Date, ...] = Field((), description="Days that are not working days, beside weekends")
    chapters: Chapters = Chapters()
    preferences: Preferences = Preferences()
    limits: Limits = Limits()


class WorkKind(StrEnum):
    """How a step's work bears being sped up.

    handwork is followed with the eye, repetition is the same move again, curing is waiting to be done.
    """

    HANDWORK = "handwork"
    REPETITION = "repetition"
    CURING = "curing"


class Beat(Frozen):
    """One narrated idea: a block quote. `paragraphs` are plain text as it is spoken, marks of emphasis gone."""

    id: str
    paragraphs: tuple[str, ...]
    at: Place

    @property
    def text(self) -> str:
        """All of it on one line."""
        return " ".join(self.paragraphs)


class View(Frozen):
    """A view to film: what, on which camera, for at least how long."""

    what: str
    camera: str | None
    length: Ms
    at: Place


class MustShow(View):
    """A view that must be on screen.

    `beat` is the index of the beat it was written before (the last beat, if it was written after all).
    """

    beat: int


class BRoll(View):
    """A cutaway that would be welcome over the narration. It plays only where the words outrun the work."""


class PrivateView(Frozen):
    """What nobody may see in a step, on one camera: a rectangle that is hidden wherever the step shows it."""

    what: str
    camera: str | None
    box: Box
    at: Place


class Off(Frozen):
    """Something that comes off in this step: "4 x M1.6x4 tri-wing" is four of them."""

    count: int
    name: str
    at: Place


class Heat(Frozen):
    """Warming: a temperature in degrees Celsius and for how long, as the adhesive's maker says."""

    celsius: Fraction
    length: Ms
    at: Place


class Question(Frozen):
    """A question the story opens, or the answer that pays it off."""

    id: str
    text: str
    at: Place


class Note(Frozen):
    """A note to self: kept, never spoken."""

    text: str
    at: Place


class Step(Frozen):
    """One step of the job. `implicit` means it is made of what stands directly under a section heading."""

    id: str
    title: str
    section: str
    at: Place
    implicit: bool = False
    read: str | None = None
    bench: Ms | None = None
    camera: str | None = None
    angles: tuple[str, ...] = ()
    needs: tuple[str, ...] = ()
    hazards: tuple[str, ...] = ()
    cautions: tuple[str, ...] = ()
    heat: Heat | None = None
    off: tuple[Off, ...] = ()
    no_return: bool = False
    any_time: bool = False
    work: WorkKind = WorkKind.HANDWORK
    must_show: tuple[MustShow, ...] = ()
    b_roll: tuple[BRoll, ...] = ()
    private: tuple[PrivateView, ...] = ()
    asks: tuple[Question, ...] = ()
    answers: tuple[Question, ...] = ()
    uses: tuple[str, ...] = ()
    failure: str = ""
    beats: tuple[Beat, ...] = ()
    notes: tuple[Note, ...] = ()
    places: Mapping[str, Place] = Field(default_factory=dict)

    def where(self, fact: str) -> Place:
        """Where a fact's value was written; the heading if it was not."""
        return self.places.get(fact, self.at)

    @property
    def risky(self) -> bool:
        """Whether the step carries a hazard, heat or a caution."""
        return bool(self.hazards or self.cautions or self.heat)


class Section(Frozen):
    """A first-level heading and its steps in order."""

    id: str
    title: str
    at: Place
    steps: tuple[Step, ...] = ()


class Plan(Frozen):
    """The whole job plan. `places` tells where each front-matter value stands, by its keys."""

    file: str
    front: FrontMatter
    sections: tuple[Section, ...]
    places: Mapping[tuple[str, ...], Place] = Field(default_factory=dict)

    def where(self, *keys: str) -> Place:
        """Where a front-matter value was written; its nearest enclosing key, or the file, if it was not.

        Keys are the ones a creator writes: `where("reads", "larkspur", "must say")`.
        """
        while keys:
            if keys in self.places:
                return self.places[keys]
            keys = keys[:-1]
        return Place(self.file, 1, 1)

    @property
    def steps(self) -> tuple[Step, ...]:
        """The story's steps in screen order, without the reads' texts."""
        return tuple(step for section in self.sections for step in section.steps if step.read is None)

    @property
    def read_texts(self) -> Mapping[str, Step]:
        """The section that holds each read's text, by the read's name; the first one, if there are two."""
        texts: dict[str, Step] = {}
        for step in self.all_steps():
            if step.read is not None:
                texts.setdefault(step.read, step)
        return texts

    def all_steps(self) -> Iterator[Step]:
        """Every step, the reads' texts included, in the order of the file."""
        for section in self.sections:
            yield from section.steps
