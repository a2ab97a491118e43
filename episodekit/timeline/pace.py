"""The pace along the run time: where nobody speaks, where the picture stands, where no question is open."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from itertools import accumulate, pairwise

from episodekit.base.time import Frames, Ms, frames_to_ms
from episodekit.timeline.lay import LaidStep
from episodekit.timeline.model import Timeline

SILENCE_MS = Ms(2000)
"""Shorter gaps between beats are breaths, not open stretches. Common practice, no source."""


@dataclass(frozen=True, order=True)
class Stretch:
    """A part of the run time, in ms; half-open."""

    start: Ms
    end: Ms

    @property
    def length(self) -> Ms:
        """How long it lasts."""
        return Ms(self.end - self.start)


@dataclass(frozen=True)
class Pace:
    """Open stretches of `SILENCE_MS` or more, and the longest stretch without words, without a change of
    picture, and without an open question. A longest one is empty where there is none.
    """

    silences: tuple[Stretch, ...]
    silence: Stretch
    picture: Stretch
    no_question: Stretch


def pace(steps: Sequence[LaidStep], timeline: Timeline) -> Pace:
    """The pace of steps in screen order."""
    rate = timeline.rate
    starts = [
        frames_to_ms(Frames(at), rate) for at in accumulate((s.fitted.frames for s in steps), initial=0)
    ]
    end = starts[-1]
    spoken = [
        Stretch(Ms(start + beat.start), Ms(start + beat.start + beat.length))
        for laid, start in zip(steps, starts, strict=False)
        for beat in laid.time.beats
    ]
    cuts = [
        frames_to_ms(Frames(at), rate) for at in accumulate((s.frames for s in timeline.segments), initial=0)
    ]
    asked: dict[str, Ms] = {}
    questions: list[Stretch] = []
    for laid, start, after in zip(steps, starts, starts[1:], strict=False):
        for question in laid.step.asks:
            asked.setdefault(question.id, start)
        for answer in laid.step.answers:
            if answer.id in asked:
                questions.append(Stretch(asked.pop(answer.id), after))
    questions += [Stretch(since, end) for since in asked.values()]
    silences = _between(spoken, end)
    return Pace(
        silences=tuple(gap for gap in silences if gap.length >= SILENCE_MS),
        silence=_longest(silences),
        picture=_longest(Stretch(a, b) for a, b in pairwise(cuts)),
        no_question=_longest(_between(questions, end)),
    )


def _between(covered: Iterable[Stretch], end: Ms) -> list[Stretch]:
    """What the stretches leave uncovered from 0 to `end`."""
    gaps: list[Stretch] = []
    at = Ms(0)
    for stretch in sorted(covered):
        if stretch.start > at:
            gaps.append(Stretch(at, stretch.start))
        at = max(at, stretch.end)
    return [*gaps, Stretch(at, end)] if end > at else gaps


def _longest(stretches: Iterable[Stretch]) -> Stretch:
    return max(stretches, key=lambda s: (s.length, -s.start), default=Stretch(Ms(0), Ms(0)))
