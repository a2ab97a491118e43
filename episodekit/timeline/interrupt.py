"""The steps in screen order, with a step in two where a read plays between its beats."""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import replace
from itertools import groupby

from episodekit.base.time import Frames, Rate, frames_to_ms
from episodekit.fit.split import split_fit, split_step, split_time
from episodekit.slots.terms import Text, Unit
from episodekit.timeline.lay import LaidStep


def in_screen_order(
    order: Sequence[Unit | Text], whole: Mapping[str, LaidStep], rate: Rate
) -> Iterator[LaidStep]:
    """Each step, and each read, as it plays. Units of a step that follow each other are one again."""
    rest = dict(whole)
    for name, group in groupby(order, key=lambda part: part.step.id):
        parts = list(group)
        laid = rest[name]
        frames = sum(part.frames for part in parts)
        if frames < laid.fitted.frames:
            laid, rest[name] = split(laid, Frames(frames), rate)
        yield laid


def split(laid: LaidStep, at: Frames, rate: Rate) -> tuple[LaidStep, LaidStep]:
    """The step until frame `at` and from there on. The second is `continued`; shots keep their numbers."""
    first_time, second_time = split_time(laid.time, frames_to_ms(at, rate))
    first_step, second_step = split_step(laid.step, len(first_time.beats))
    first_fit, second_fit = split_fit(laid.fitted, at, rate)
    first_shows = laid.shows[: len(first_fit.parts)]
    second_shows = laid.shows[len(laid.shows) - len(second_fit.parts) :]
    first = replace(laid, step=first_step, time=first_time, fitted=first_fit, shows=first_shows)
    second = replace(
        laid,
        step=second_step,
        time=second_time,
        fitted=second_fit,
        shows=second_shows,
        answer="",
        continued=True,
    )
    return first, second
