"""A step in two, so that a read may play between two of its beats."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import replace
from itertools import accumulate

from episodekit.base.time import Frames, Ms, Rate, ms_to_frames
from episodekit.fit.model import FittedStep, Plays, Slate, same_stretch
from episodekit.fit.runs import NORMAL, bounds
from episodekit.job.model import Limits, Step
from episodekit.timing.steps import BeatTime, Block, StepTime


def cuts_of(step: Step, time: StepTime, fitted: FittedStep, rate: Rate, limits: Limits) -> tuple[Frames, ...]:
    """Where a step may be interrupted, in frames from its start, ascending: in the pause before a beat.

    Never a hazard, a payoff or a point of no return, never a shot that was kept or held, and only where both
    sides play on for as long as a ramp, or a shot on a slate, needs.
    """
    if step.risky or step.answers or step.no_return or step.read is not None:
        return ()
    ends = list(accumulate(part.frames for part in fitted.parts))
    ramp = bounds(NORMAL, limits.ramp, rate).ramp
    shot = ms_to_frames(limits.shortest_shot, rate)
    found: list[Frames] = []
    for before, after in zip(time.beats, time.beats[1:], strict=False):
        at = ms_to_frames(Ms((before.start + before.length + after.start) // 2), rate)
        index = next((n for n, end in enumerate(ends) if at < end), None)
        if index is None:
            continue
        part, end = fitted.parts[index], ends[index]
        inside, left = at - (end - part.frames), end - at
        if isinstance(part, Plays):
            free = part.shot is None and not part.hold and part.speed > 1
            fits = min(inside, left, at - (found[-1] if found else 0)) >= ramp
        else:
            free, fits = not part.pickup, min(inside, left) >= shot
        seam = inside == 0 and at > 0 and not same_stretch(fitted.parts[index - 1], part)
        if seam or (inside > 0 and free and fits):
            found.append(at)
    return tuple(found)


def split_fit(fitted: FittedStep, at: Frames, rate: Rate) -> tuple[FittedStep, FittedStep]:
    """The parts before and from frame `at` on, which lies inside the step; together they play the same frames."""
    first: list[Plays | Slate] = []
    second: list[Plays | Slate] = []
    done = 0
    for part in fitted.parts:
        inside = at - done
        done += part.frames
        if inside >= part.frames:
            first.append(part)
        elif inside <= 0:
            second.append(part)
        else:
            one, two = _cut(part, inside, rate)
            first.append(one)
            second.append(two)
    planned = Frames(min(fitted.planned, at))
    rest = Frames(fitted.planned - planned)
    more = Frames(min(fitted.more, max(0, at - planned)))
    return (
        FittedStep(fitted.step, planned, tuple(first), more),
        FittedStep(fitted.step, rest, tuple(second), Frames(fitted.more - more), fitted.left),
    )


def _cut(part: Plays | Slate, inside: int, rate: Rate) -> tuple[Plays | Slate, Plays | Slate]:
    left = Frames(part.frames - inside)
    if isinstance(part, Slate):
        return replace(part, frames=Frames(inside)), replace(part, frames=left)
    seen = part.frames - part.hold
    if inside >= seen:  # in the held picture, of which the second half shows the same
        one = replace(part, frames=Frames(inside), hold=Frames(inside - seen))
        last = max(part.start, part.end - part.speed / rate.exact)
        return one, replace(part, frames=left, start=last, hold=Frames(left - 1))
    cut = part.start + inside / rate.exact * part.speed
    one = replace(part, frames=Frames(inside), end=cut, hold=Frames(0))
    return one, replace(part, frames=left, start=cut)


def split_time(time: StepTime, at: Ms) -> tuple[StepTime, StepTime]:
    """The times before and after a cut between two beats; the second counts from the cut."""
    spoken = sum(beat.start < at for beat in time.beats)
    first = StepTime(
        time.step,
        at,
        time.beats[:spoken],
        tuple(Block(b.beat, b.start, Ms(min(b.end, at))) for b in time.blocks[:spoken]),
    )
    blocks = tuple(_later_blocks(time.blocks[spoken:], at, spoken))
    return first, StepTime(time.step, Ms(time.length - at), tuple(_later(time.beats[spoken:], at)), blocks)


def _later(beats: Sequence[BeatTime], at: Ms) -> Iterator[BeatTime]:
    for beat in beats:
        yield BeatTime(beat.id, Ms(beat.start - at), beat.length, beat.words, beat.low, beat.high)


def _later_blocks(blocks: Sequence[Block], at: Ms, spoken: int) -> Iterator[Block]:
    for number, block in enumerate(blocks):
        start = Ms(block.start - at) if number else Ms(0)
        yield Block(block.beat - spoken, start, Ms(block.end - at))


def split_step(step: Step, spoken: int) -> tuple[Step, Step]:
    """The step with its first `spoken` beats, and with the rest; what it opens and takes off stays with the first."""
    here = tuple(must for must in step.must_show if must.beat < spoken)
    later = tuple(
        must.model_copy(update={"beat": must.beat - spoken}) for must in step.must_show if must.beat >= spoken
    )
    first = step.model_copy(update={"beats": step.beats[:spoken], "must_show": here})
    second = step.model_copy(
        update={
            "beats": step.beats[spoken:],
            "must_show": later,
            "b_roll": (),
            "asks": (),
            "off": (),
            "notes": (),
            "bench": None,
        }
    )
    return first, second
