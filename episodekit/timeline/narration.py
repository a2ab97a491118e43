"""Where each recorded beat is heard: its last take, from a little before its first sound to a little after its last."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass

from episodekit.base.time import Frames, Ms, Rate, frames_to_ms
from episodekit.timeline.lay import LaidStep
from episodekit.timing.takes import Take

HEAD, TAIL = Ms(80), Ms(250)
"""Room kept around the words, where the takes and the breaths between beats leave it, so that no soft first sound
and no last echo is cut off. Common practice, no source."""


@dataclass(frozen=True)
class Line:
    """A beat that is heard: from `start` in its recording, `length` long, from `at` in the episode. All in ms."""

    beat: str
    file: str
    start: Ms
    length: Ms
    at: Ms


def narration(steps: Sequence[LaidStep], rate: Rate, takes: Mapping[str, Take]) -> tuple[Line, ...]:
    """The recorded beats of steps in screen order; no two are heard at once. A beat without a take stays silent."""
    heard: list[tuple[int, int, Take]] = []
    frames = 0
    for laid in steps:
        start = frames_to_ms(Frames(frames), rate)
        frames += laid.fitted.frames
        for beat in laid.time.beats:
            if beat.id in takes:
                heard.append((start + beat.start, start + beat.start + beat.length, takes[beat.id]))
    # one more if nothing is heard
    limits = [begin - HEAD for begin, _, _ in heard[1:]] + [frames_to_ms(Frames(frames), rate)]
    lines = []
    before = 0
    for (begin, stop, take), limit in zip(heard, limits, strict=False):
        head = max(0, min(HEAD, take.start, begin - before))
        tail = max(0, min(TAIL, limit - stop))
        lines.append(
            Line(
                take.beat, take.file, Ms(take.start - head), Ms(head + stop - begin + tail), Ms(begin - head)
            )
        )
        before = stop + tail
    return tuple(lines)
