"""How sure the run time is: nine times in ten it is from `low` to `high`, as far as the words decide.

A recorded beat is sure. Where the picture outlasts the words, longer words fill it up first and shorter ones
change nothing. Where steps are lengthened to reach the target, they are lengthened less if the words turn out
longer, and more, as far as they can be, if the words turn out shorter.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence

from episodekit.base.time import Frames, Ms, frames_to_ms, ms_to_frames
from episodekit.fit.model import can_grow
from episodekit.job.model import Plan
from episodekit.timeline.lay import LaidStep
from episodekit.timing.speech import Spoken, together


def spoken_range(steps: Sequence[LaidStep]) -> Spoken:
    """All words of the episode together: their errors even out, so the range is narrower than the sum of theirs."""
    return together(Spoken(beat.length, beat.low, beat.high) for laid in steps for beat in laid.time.beats)


def runtime_range(steps: Sequence[LaidStep], plan: Plan, runtime: Ms) -> tuple[Ms, Ms]:
    """The shortest and the longest run time to expect, in ms (down and up to whole ms)."""
    words, rate = spoken_range(steps), plan.front.frame_rate
    widest = sum(beat.high - beat.low for laid in steps for beat in laid.time.beats)
    if not widest:
        return runtime, runtime
    share = (words.high - words.low) / widest
    shorter = longer = 0.0
    for half, room in _beats(steps, plan):
        longer += max(0.0, half * share - room)
        shorter += 0.0 if room else half * share
    target = plan.front.runtime.low if plan.front.runtime is not None else Ms(0)
    # What was lengthened although the episode is above its target is wanted for its own sake, and stays.
    more = sum(frames_to_ms(laid.fitted.more, rate) for laid in steps) if runtime <= target + 40 else 0
    longest = ms_to_frames(plan.front.limits.open_stretch, rate)
    own = [laid for laid in steps if laid.step.read is None]
    can = more + sum(frames_to_ms(can_grow(laid.fitted, longest), rate) for laid in own)
    low, high = (
        max(need, min(target, need + can)) for need in (runtime - more - shorter, runtime - more + longer)
    )
    return Ms(int(min(low, runtime))), Ms(-int(-max(high, runtime)))


def _beats(steps: Sequence[LaidStep], plan: Plan) -> Iterator[tuple[float, float]]:
    """Of each beat half its range, and how long the picture outlasts it already; both in ms.

    What a step was lengthened by for the run time is not counted: it goes where it is needed.
    """
    voice, rate = plan.front.voice, plan.front.frame_rate
    for laid in steps:
        time = laid.time
        needed = Frames(laid.fitted.frames - laid.fitted.more)
        beyond = max(0, frames_to_ms(needed, rate) - time.length - 40)  # 40 ms: rounding to a frame
        # a step without words is one block without a beat
        for beat, block in zip(time.beats, time.blocks, strict=False):
            pause = voice.tail if beat is time.beats[-1] else voice.breath
            room = block.end - beat.start - beat.length - pause + beyond / len(time.beats)
            yield (beat.high - beat.low) / 2, max(0.0, room)
