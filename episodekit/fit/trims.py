"""Where to say less, or more, when the episode does not meet its run time."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from math import ceil

from episodekit.base.time import Ms
from episodekit.fit.model import FittedStep, Slate
from episodekit.job.model import Step
from episodekit.timing.steps import StepTime

MOST_OF_A_BEAT = 3
"""A beat is asked to lose a third of its words at most. Common practice, no source."""


@dataclass(frozen=True)
class Trim:
    """So many words fewer in a beat."""

    beat: str
    words: int


def trims(steps: Sequence[tuple[Step, StepTime, FittedStep]], over: Ms) -> tuple[Trim, ...]:
    """Beats to shorten, and by how many words, so that `over` ms go; fewer, if the words cannot give that much.

    First the beats of steps whose words outrun their picture, because there a word less also saves a
    pickup; then the longest. A sponsor's read keeps its words. A step that is as long as it is because of
    its must-shows or kept footage would not get shorter, so it is left alone.
    """
    left = float(over)
    wanted = []
    for step, time, fitted in steps:
        slack = fitted.frames - fitted.planned
        if step.read is not None or slack > 0:
            continue
        pickup = any(isinstance(part, Slate) and part.pickup for part in fitted.parts)
        for beat, block in zip(time.beats, time.blocks, strict=False):
            shown = sum(m.length for m in step.must_show if min(m.beat, len(time.blocks) - 1) == block.beat)
            can = min(
                beat.words // MOST_OF_A_BEAT,
                int((block.end - block.start - shown) * beat.words / beat.length),
            )
            if can > 0:
                wanted.append((not pickup, -beat.length, beat, can))
    found = []
    for _, _, beat, can in sorted(wanted, key=lambda w: w[:2]):
        if left <= 0:
            break
        each = beat.length / beat.words
        words = min(can, ceil(left / each))
        found.append(Trim(beat.id, words))
        left -= words * each
    return tuple(found)
