"""The door to the page templates: an episode's document becomes HTML that stands alone."""

from __future__ import annotations

import re
from bisect import bisect_right
from collections.abc import Callable, Iterable, Mapping
from dataclasses import dataclass
from functools import lru_cache
from itertools import groupby

from jinja2 import Environment, FileSystemLoader, StrictUndefined
from markupsafe import Markup, escape

from episodekit.base.text import closed, counted
from episodekit.base.time import Ms, clock
from episodekit.formats.plan_document import (
    FindingDoc,
    PlanDocument,
    SectionDoc,
    SetUpDoc,
    ShotDoc,
    StepDoc,
    StretchDoc,
)
from episodekit.outside.pace_picture import lanes
from episodekit.outside.page_words import (
    about,
    between,
    beyond,
    clocks,
    duration,
    in_short,
    off,
    pace,
    parted,
    screen_time,
    share,
    tied,
)
from episodekit.outside.resources import templates_dir
from episodekit.pack.sheet import Sheet
from episodekit.pack.term import stamp

_TICKS = tuple(1000 * s for s in (5, 10, 15, 30, 60, 120, 300, 600, 900, 1800, 3600, 7200, 14_400))


@dataclass(frozen=True)
class Stretch:
    """Steps of one section that follow each other on screen; a read in a section's middle parts it in two.

    `label` is the section's number in screen order, or "Ad" for a read. `words` and `spoken_ms` count its
    own beats, the `so_far` fields all beats up to its end.
    """

    section: SectionDoc
    label: str
    continued: bool
    steps: tuple[StepDoc, ...]
    words: int
    spoken_ms: int
    words_so_far: int
    spoken_so_far_ms: int


@dataclass(frozen=True)
class Round:
    """Set-ups that are filmed together, with the number of the first. `once`: all cameras roll."""

    once: StepDoc | None
    first: int
    set_ups: tuple[SetUpDoc, ...]


@dataclass(frozen=True)
class Longest:
    """A longest stretch in words. `first` and `last` are the numbers, from 1, of the steps it lies in.

    `span` is "some", "none" where there is no such stretch, or "all" where it lasts the whole run time.
    """

    letter: str
    what: str
    stretch: StretchDoc
    span: str
    first: int
    last: int


def stretches(doc: PlanDocument) -> tuple[Stretch, ...]:
    """The steps in screen order, by section."""
    sections = {section.id: section for section in doc.sections}
    found: list[Stretch] = []
    labels: dict[str, str] = {}
    words = spoken = 0
    for name, group in groupby(doc.steps, key=lambda step: step.section):
        steps = tuple(group)
        own_words = sum(step.words for step in steps)
        own_spoken = sum(step.spoken_ms for step in steps)
        words, spoken = words + own_words, spoken + own_spoken
        continued = name in labels
        numbers = sum(label != "Ad" for label in labels.values())
        label = labels.setdefault(name, "Ad" if steps[0].read else str(numbers + 1))
        found.append(Stretch(sections[name], label, continued, steps, own_words, own_spoken, words, spoken))
    return tuple(found)


def rounds(doc: PlanDocument) -> tuple[Round, ...]:
    """The set-ups in filming order; those of one point of no return in one round, each other one alone."""
    steps = {step.id: step for step in reversed(doc.steps)}
    found: list[Round] = []
    for number, set_up in enumerate(doc.set_ups, start=1):
        once = steps[set_up.once] if set_up.once else None
        if once is not None and found and found[-1].once == once:
            found[-1] = Round(once, found[-1].first, (*found[-1].set_ups, set_up))
        else:
            found.append(Round(once, number, (set_up,)))
    return tuple(found)


def longest(doc: PlanDocument) -> tuple[Longest, ...]:
    """The three longest stretches, A to C."""
    pace = doc.pace
    told = (
        ("A", "Without narration", pace.longest_silence),
        ("B", "Without a change of picture", pace.longest_picture),
        ("C", "Without an open question", pace.longest_without_question),
    )
    return tuple(_longest(doc, *one) for one in told)


def _longest(doc: PlanDocument, letter: str, what: str, stretch: StretchDoc) -> Longest:
    starts = [step.start_ms for step in doc.steps]
    first = bisect_right(starts, stretch.start_ms)
    last = max(first, bisect_right(starts, stretch.start_ms + stretch.length_ms - 1))
    span = "none" if not stretch.length_ms else "all" if stretch.length_ms >= doc.runtime_ms else "some"
    return Longest(letter, what, stretch, span, first, last)


def ticks(runtime_ms: int) -> tuple[Ms, ...]:
    """Stamps for a time axis: even steps that a clock face knows, four at most, none near the end."""
    every = next((tick for tick in _TICKS if runtime_ms < 5 * tick), _TICKS[-1])
    return tuple(Ms(at) for at in range(0, runtime_ms - every // 2, every))


def coded(text: str) -> Markup:
    """Text in which `backticks` mark what is typed; everything else is escaped."""
    return Markup(re.sub(r"`([^`]+)`", r"<code>\1</code>", str(escape(text))))


def css_string(text: str) -> Markup:
    """Text for a CSS string in a <style> element: all but letters and digits as escapes."""
    safe = "".join(c if c.isascii() and c.isalnum() else f"\\{ord(c):x} " for c in text)
    return Markup(f'"{safe}"')


def by_severity(findings: Iterable[FindingDoc]) -> tuple[tuple[str, tuple[FindingDoc, ...]], ...]:
    """Findings as the run told them, errors first, then warnings and notes; only those there are."""
    told = tuple(findings)
    kinds = ((kind, tuple(f for f in told if f.severity == kind)) for kind in ("error", "warning", "note"))
    return tuple((kind, some) for kind, some in kinds if some)


def in_steps(numbers: Iterable[int], shots: Mapping[int, ShotDoc]) -> tuple[tuple[str, tuple[int, ...]], ...]:
    """Shot numbers in runs of one step, each with the step's id, so that its cautions are said once a run."""
    return tuple((step, tuple(run)) for step, run in groupby(numbers, key=lambda number: shots[number].step))


def _finished(value: object) -> object:
    """What a page is filled with: words keep to themselves what turns their order."""
    return closed(value) if isinstance(value, str) and not isinstance(value, Markup) else value


@lru_cache(maxsize=1)
def _environment() -> Environment:
    environment = Environment(
        loader=FileSystemLoader(templates_dir(), encoding="utf-8"),
        autoescape=True,
        undefined=StrictUndefined,
        trim_blocks=True,
        lstrip_blocks=True,
        keep_trailing_newline=True,
        finalize=_finished,
    )
    filters: tuple[Callable[..., object], ...] = (
        clock,
        counted,
        duration,
        screen_time,
        share,
        pace,
        coded,
        css_string,
        by_severity,
        in_short,
        in_steps,
        off,
        parted,
        stamp,
        tied,
        about,
        between,
        beyond,
        clocks,
    )
    for function in filters:
        environment.filters[function.__name__] = function
    return environment


def bench_page(title: str, job: str) -> str:
    """The page of the bench log; it asks the server for all but the job's title.

    `job` tells this job from others: what a browser keeps for an address outlasts the job that was served there.
    """
    return _environment().get_template("bench/bench.html").render(title=title, job=job)


def proof_page(sheet: Sheet, frames: Mapping[Ms, str]) -> str:
    """The proof sheet of a read as a page that needs no other file; `frames` are pictures by their time."""
    return _environment().get_template("pages/proof.html").render(sheet=sheet, frames=frames)


def filled_page(template: str, **told: object) -> str:
    """A page that is no view of the plan, filled with what it tells."""
    return _environment().get_template(f"pages/{template}").render(**told)


def page(template: str, document: PlanDocument) -> str:
    """Render `templates/pages/TEMPLATE` with the document as `doc`. The page needs no other file.

    Beside it the template finds `shots` by number, `steps` and `beats` by id (of a step in two, its first
    part), the number of the step that starts at a time (`number_at`), the `stretches` in screen
    order, the filming `rounds`, the `ticks` of a time axis, the `lanes` and the `longest` stretches of the
    pace, and by a beat's id the number of the first shot it is `shown_in` and the words to `trim`.
    """
    return (
        _environment()
        .get_template(f"pages/{template}")
        .render(
            doc=document,
            shots={shot.number: shot for shot in document.shots},
            steps={step.id: step for step in reversed(document.steps)},
            number_at={step.start_ms: number for number, step in enumerate(document.steps, start=1)},
            beats={beat.id: beat for step in document.steps for beat in step.beats},
            stretches=stretches(document),
            rounds=rounds(document),
            ticks=ticks(document.runtime_ms),
            lanes=lanes(document),
            longest=longest(document),
            shown_in={beat: shot.number for shot in reversed(document.shots) for beat in shot.beats},
            trim={trim.beat: trim.words for trim in document.trims},
        )
    )
