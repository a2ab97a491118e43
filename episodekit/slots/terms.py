"""From a plan's deals to the search's problem: terms in frames, and what each boundary is worth in points."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from fractions import Fraction
from itertools import accumulate, pairwise

from episodekit.base.time import Frames, Ms, Rate, frames_to_ms, ms_to_frames_down, ms_to_frames_up
from episodekit.job.contract import AdBreaks, KeepClear, Read
from episodekit.job.model import Plan, Step
from episodekit.job.units import Window
from episodekit.slots.model import BreakTerms, Problem, ReadTerms, Span

NEAR = Ms(60_000)
"""Goods that are used later than this after a read are no longer near it. Common practice, no source."""


@dataclass(frozen=True)
class Unit:
    """A stretch of the story that is not interrupted: a step, or a part of one between two beats.

    `start` and `end` are frames from the step's own start, half-open.
    """

    step: Step
    start: Frames
    end: Frames
    first: bool = True

    @property
    def frames(self) -> Frames:
        """How long it plays."""
        return Frames(self.end - self.start)


@dataclass(frozen=True)
class Text:
    """A read's text and how long it plays, in frames of the draft and in ms."""

    step: Step
    frames: Frames
    length: Ms

    @property
    def name(self) -> str:
        """The read's name."""
        return self.step.read or ""


def problem_of(plan: Plan, units: Sequence[Unit], texts: Sequence[Text], rate: Rate) -> Problem:
    """All terms of the plan over the fitted story. Nothing may stand before the first picture."""
    total = Frames(sum(unit.frames for unit in units) + sum(text.frames for text in texts))
    count = len(units) + 1
    story = worth(plan, units)
    reads = tuple(
        _read(plan, text, total, rate, read_points(plan, units, text.step, story, rate)) for text in texts
    )
    breaks = plan.front.ad_breaks
    points = tuple(sum(one.values()) for one in story)
    return Problem(
        frames=tuple(unit.frames for unit in units),
        classes=tuple(classes_of(unit.step) for unit in units),
        open=tuple(n > 0 or not units for n in range(count)),
        reads=reads,
        breaks=None
        if breaks is None
        else _breaks(breaks, plan.front.preferences.more_breaks, total, rate, points),
    )


def classes_of(step: Step) -> frozenset[str]:
    """What a read or an ad break may have to keep clear of in a step, as `keep clear of` names it."""
    found = set(step.hazards) | ({"heat"} if step.heat else set())
    found |= {"hazard"} if found else set()
    found |= {"caution"} if step.cautions else set()
    return frozenset(found | ({"failure"} if step.failure else set()))


def worth(plan: Plan, units: Sequence[Unit]) -> tuple[Mapping[str, int], ...]:
    """What each boundary is worth to any read or ad break, in points, by the names of the preferences."""
    likes = plan.front.preferences
    asked: set[str] = set()
    answered: set[str] = set()
    found: list[Mapping[str, int]] = []
    for before, follows in pairwise((None, *units, None)):
        points: dict[str, int] = {}
        if before is not None:
            asked |= {question.id for question in before.step.asks}
            answered |= {answer.id for answer in before.step.answers}
        if before is None or follows is None or follows.step.section != before.step.section:
            points["section end"] = likes.section_end
        if follows is None or follows.first:
            points["step end"] = likes.step_end
        if asked - answered:
            points["open question"] = likes.open_question
        if follows is None or not (follows.first and follows.step.answers):
            points["not before payoff"] = likes.not_before_payoff
        found.append({name: value for name, value in points.items() if value})
    return tuple(found)


def read_points(
    plan: Plan, units: Sequence[Unit], text: Step, story: Sequence[Mapping[str, int]], rate: Rate
) -> tuple[int, ...]:
    """What each boundary is worth to a read, in points."""
    near = near_goods(plan, units, text.read or "", rate)
    written = written_at(plan, units, text)
    as_written = plan.front.preferences.as_written
    return tuple(
        sum(points.values()) + near[n] + (as_written if n == written else 0) for n, points in enumerate(story)
    )


def near_goods(plan: Plan, units: Sequence[Unit], name: str, rate: Rate) -> tuple[int, ...]:
    """What each boundary is worth for lying before a step that uses the sponsor's goods: less, the farther."""
    starts = list(accumulate((unit.frames for unit in units), initial=0))
    using = [
        start for start, unit in zip(starts, units, strict=False) if unit.first and name in unit.step.uses
    ]
    found: list[int] = []
    for start in starts:
        gaps = [frames_to_ms(Frames(use - start), rate) for use in using if use >= start]
        left = max((Fraction(NEAR - gap, NEAR) for gap in gaps), default=Fraction(0))
        found.append(max(0, int(left * plan.front.preferences.near_goods)))
    return tuple(found)


def written_at(plan: Plan, units: Sequence[Unit], text: Step) -> int | None:
    """The boundary at which the creator wrote the read; None if it stands before or after all of the story."""
    after = False
    for step in plan.all_steps():
        after = after or step.id == text.id
        if after and step.read is None:
            at = next((n for n, unit in enumerate(units) if unit.step.id == step.id), 0)
            return at or None
    return None


def _read(plan: Plan, text: Text, total: Frames, rate: Rate, points: tuple[int, ...]) -> ReadTerms:
    read: Read = plan.front.reads[text.name]
    clear = _clear(read.keep_clear_of, rate)
    return ReadTerms(
        name=text.name,
        frames=text.frames,
        starts=None if read.starts is None else span_of(read.starts, total, rate),
        clear={name: frames for name, frames in clear.items() if name not in {"read", "ad break"}},
        reads=clear.get("read", 0),
        ad_breaks=clear.get("ad break", 0),
        points=points,
    )


def _breaks(asked: AdBreaks, more: int, total: Frames, rate: Rate, points: tuple[int, ...]) -> BreakTerms:
    clear = _clear(asked.keep_clear_of, rate)
    apart = Span(max(1, ms_to_frames_up(asked.apart.low, rate)), ms_to_frames_down(asked.apart.high, rate))
    most = min(asked.count.high, total // apart.low + 1)
    return BreakTerms(
        count=Span(asked.count.low, max(asked.count.low, most)),
        apart=apart,
        starts=span_of(asked.starts, total, rate),
        clear={name: frames for name, frames in clear.items() if name not in {"read", "ad break"}},
        reads=clear.get("read", 0),
        points=points,
        more=more,
        run_time=ms_to_frames_up(asked.run_time, rate),
    )


def span_of(window: Window, total: Frames, rate: Rate) -> Span:
    """A window in whole frames inside it; its percents are of `total`. It may be empty (`low` above `high`)."""
    runtime = frames_to_ms(total, rate)
    return Span(
        ms_to_frames_up(window.low.at(runtime), rate), ms_to_frames_down(window.high.at(runtime), rate)
    )


def _clear(asked: KeepClear, rate: Rate) -> dict[str, int]:
    return {name: ms_to_frames_up(ms, rate) for name, ms in asked.distances().items()}
