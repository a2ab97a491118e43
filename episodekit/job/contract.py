"""What a deal asks: each sponsor's read, ad breaks, goods received free, chapters, and what is preferred.

Defaults are the law's and the trade's usual terms; where no source is named it is common practice. Local law
decides what must be disclosed, and the signed contract what is owed.
"""

from __future__ import annotations

from collections.abc import Mapping

from pydantic import Field, model_validator

from episodekit.base.time import Ms
from episodekit.job import units
from episodekit.job.values import (
    Count,
    Days,
    Disclosure,
    Duration,
    DurationRange,
    Frozen,
    Link,
    Points,
    StartWindow,
    Text,
    WorkingDays,
    YesNo,
)


class KeepClear(Frozen):
    """Screen time between a read or an ad break and what it must not stand beside, from the nearer end.

    Beside `hazard`, which is any of them, a hazard may be named by its kind: `cell: 30 s`.
    """

    hazard: Duration = Field(Ms(5000), description="From steps with a hazard or heat; 5 s if left out")
    caution: Duration = Field(Ms(5000), description="From steps with a `caution`; 5 s if left out")
    failure: Duration = Field(Ms(0), description="From steps with a `failure`")
    read: Duration = Field(Ms(0), description="From other reads")
    ad_break: Duration = Field(Ms(0), alias="ad break", description="From ad breaks")
    blade: Duration = Field(Ms(0), description="From steps with this hazard")
    capacitor: Duration = Field(Ms(0), description="From steps with this hazard")
    cell: Duration = Field(Ms(0), description="From steps with this hazard")
    fume: Duration = Field(Ms(0), description="From steps with this hazard")
    heat: Duration = Field(Ms(0), description="From steps with this hazard, or that warm something")
    live: Duration = Field(Ms(0), description="From steps with this hazard")
    mains: Duration = Field(Ms(0), description="From steps with this hazard")
    rotating: Duration = Field(Ms(0), description="From steps with this hazard")
    solvent: Duration = Field(Ms(0), description="From steps with this hazard")
    static: Duration = Field(Ms(0), description="From steps with this hazard")
    swarf: Duration = Field(Ms(0), description="From steps with this hazard")

    def distances(self) -> Mapping[str, Ms]:
        """What is asked, by what to keep clear of, as a creator writes it; zeros left out."""
        asked = {info.alias or name: getattr(self, name) for name, info in type(self).model_fields.items()}
        return {name: ms for name, ms in asked.items() if ms > 0}


class BreakKeepClear(KeepClear):
    """The same for ad breaks: by default they stand a minute from any read, so that two advertisements never meet."""

    read: Duration = Field(Ms(60_000), description="From reads; 60 s if left out")


class Read(Frozen):
    """A sponsor's read as its contract asks."""

    sponsor: Text = Field(description="As it is named on screen")
    length: DurationRange | None = Field(None, description="How long the spoken read may run")
    starts: StartWindow | None = Field(
        None, description="Where it may start; percents are of the final run time"
    )
    disclosure: Disclosure = Field(
        frozenset({"heard", "seen"}), description="How it is disclosed: heard, seen, or heard and seen"
    )
    must_say: tuple[Text, ...] = Field(
        (), alias="must say", description="Talking points the read must contain; `this | or that`"
    )
    never_say: tuple[Text, ...] = Field(
        (), alias="never say", description="Phrases that neither the read nor the episode may contain"
    )
    code: Text | None = Field(None, description="The buyer's code, spoken in the read and shown on screen")
    code_shown: Duration | None = Field(
        None, alias="code shown", description="How long the code is on screen at least"
    )
    link: Link | None = Field(None, description="The sponsor's address for the description")
    link_pays: YesNo = Field(
        False, alias="link pays", description="Whether you earn by the link; then it is disclosed too"
    )
    link_stays: Days | None = Field(
        None, alias="link stays", description="How long the link stays after publishing"
    )
    goods: Text | None = Field(None, description="What the sponsor gave free; disclosed as well")
    keep_clear_of: KeepClear = Field(KeepClear(), alias="keep clear of")
    marker: YesNo = Field(False, description="Whether the read has a chapter marker of its own")
    approval: WorkingDays | None = Field(
        None, description="Working days the sponsor has to approve the draft before `publish`"
    )
    revisions: Count | None = Field(None, description="Rounds of changes the sponsor may ask for")

    @model_validator(mode="after")
    def _code_before_its_time(self) -> Read:
        if self.code_shown is not None and self.code is None:
            raise ValueError("'code shown' needs the code; add `code: ...`")
        return self


class AdBreaks(Frozen):
    """Places where the host may insert advertisements of its own. They take no time of the episode."""

    count: Count = Field(units.Counts(0, 100), description="How many: 2, or 2-4; as many as fit if left out")
    apart: DurationRange = Field(
        units.Range(Ms(240_000), Ms(360_000)), description="Screen time between two; 4 to 6 min if left out"
    )
    starts: StartWindow = Field(
        units.Window(units.Edge(ms=Ms(60_000)), units.Edge(share=units.WHOLE)),
        description="Where they may stand; after 1:00 if left out",
    )
    run_time: Duration = Field(
        Ms(480_000), alias="run time", description="The host allows them from this run time on; 8 min"
    )
    keep_clear_of: BreakKeepClear = Field(BreakKeepClear(), alias="keep clear of")


class FreeGoods(Frozen):
    """Something received free from somebody who does not sponsor a read. Steps name it with `uses`."""

    giver: Text = Field(alias="from", description="Who gave it, as named on screen")
    what: Text = Field(description="What it is")


class Chapters(Frozen):
    """How chapters are spread. The host's own rules stand in `limits`."""

    apart: DurationRange = Field(
        units.Range(Ms(60_000), Ms(240_000)), description="The spacing that is aimed at; 1 to 4 min"
    )
    most: Count = Field(units.Counts(20, 20), description="At most so many, 0 for none; 20 if left out")


class Preferences(Frozen):
    """What makes one allowed place better than another, in points. Common practice put into numbers."""

    as_written: Points = Field(
        200, alias="as written", description="A read plays where its text stands in the plan"
    )
    near_goods: Points = Field(
        60, alias="near goods", description="A read plays just before the step that uses the sponsor's goods"
    )
    section_end: Points = Field(40, alias="section end", description="It plays where a section ends")
    step_end: Points = Field(30, alias="step end", description="It does not interrupt a step")
    open_question: Points = Field(
        20, alias="open question", description="A question of the story is open, so viewers come back"
    )
    not_before_payoff: Points = Field(
        30, alias="not before payoff", description="It does not stand just before an answer"
    )
    more_breaks: Points = Field(100, alias="more breaks", description="Each ad break above the fewest")
