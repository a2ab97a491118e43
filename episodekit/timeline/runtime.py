"""Whether the episode meets its run time; and if not, what it is made of and where to say less or more."""

from __future__ import annotations

from collections.abc import Sequence
from math import log10

from episodekit.base.findings import Finding, finding
from episodekit.base.text import counted
from episodekit.base.time import Frames, Ms, clock, frames_to_ms, ms_to_frames
from episodekit.fit import rules
from episodekit.fit.model import Plays, can_grow
from episodekit.fit.trims import Trim, trims
from episodekit.job.model import Plan
from episodekit.timeline.lay import LaidStep

_NAMED = 4
_LINES = 100
"""So many words at the voice's pace are put to those of the plan. Common practice, no source."""
_LONGEST_OPEN = 30
"""Seconds without a word that may be advised. Common practice, no source."""


def judge_runtime(
    plan: Plan, runtime: Ms, laid: Sequence[LaidStep]
) -> tuple[tuple[Trim, ...], list[Finding]]:
    """Trims and a finding, if the run time misses its target; nothing if it meets it or there is none."""
    target = plan.front.runtime
    if target is None or runtime in target:
        return (), []
    at = plan.where("runtime")
    if runtime > target.high:
        over = Ms(runtime - target.high)
        # Half a second inside the target, so that the rounding of words does not miss it again.
        less = trims([(step.step, step.time, step.fitted) for step in laid], Ms(over + 500))
        said = (
            f"The episode runs {_runs(runtime, target.high)}; its target ends at {clock(target.high)}. "
            f"{_made_of(laid, plan)}"
        )
        return less, [finding(rules.RUNTIME, at, said, _shorten(less, over, laid, plan))]
    spoken, words = sum(step.time.spoken for step in laid), sum(step.time.words for step in laid)
    # A few short lines say little about how long the lines to come will be: the voice's pace counts, too.
    pace = 60_000 / plan.front.voice.pace
    each = (spoken + _LINES * pace) / (words + _LINES)
    more = counted(_roughly(max(1, round((target.low - runtime) / each))), "word")
    said = (
        f"The episode runs {_runs(runtime, target.low)}; its target starts at {clock(target.low)}. "
        f"{_made_of(laid, plan)}"
    )
    remedy = f"Add about {more}{_run_on(Ms(target.low - runtime), laid, plan)} or lower the target."
    return (), [finding(rules.RUNTIME, at, said, remedy)]


def _roughly(words: int) -> int:
    """Two figures of a large number: nobody writes 1,685 words to the word."""
    return words if words < 100 else round(words, 1 - int(log10(words)))


def _run_on(missing: Ms, laid: Sequence[LaidStep], plan: Plan) -> str:
    """The advice to let steps run on without words, if they have so much to show that the target is reached."""
    rate = plan.front.frame_rate
    own = [step.fitted for step in laid if step.step.read is None]
    now = plan.front.limits.open_stretch // 1000
    for longer in range(now + 1, _LONGEST_OPEN + 1):
        longest = ms_to_frames(Ms(longer * 1000), rate)
        if frames_to_ms(Frames(sum(can_grow(fitted, longest) for fitted in own)), rate) >= missing:
            break
    else:
        return ""
    return f", let steps run on without words (`limits: {{open stretch: {longer} s}}`),"


def _runs(runtime: Ms, target: Ms) -> str:
    """A run time as a clock shows it, with tenths where it shows the target's as well."""
    return clock(runtime) + (f".{runtime % 1000 // 100}" if clock(runtime) == clock(target) else "")


def _shorten(less: Sequence[Trim], over: Ms, laid: Sequence[LaidStep], plan: Plan) -> str:
    """What to trim, and if that is not enough, what else stands in the way."""
    named = ", ".join(f"{trim.words} in {trim.beat}" for trim in less[:_NAMED])
    named += " and others" if len(less) > _NAMED else ""
    advice = f"Trim about {counted(sum(trim.words for trim in less), 'word')}: {named}." if less else ""
    each = {beat.id: beat.length / max(1, beat.words) for step in laid for beat in step.time.beats}
    saved = Ms(round(sum(trim.words * each[trim.beat] for trim in less)))
    if saved >= over:
        return advice
    rest = f"That saves {clock(saved)} of {clock(over)}" if less else f"No beat can give {clock(over)}"
    what = _what_else(laid, plan)
    return f"{advice} {rest}; the largest parts are {what}. Cut there, or raise the target.".lstrip()


def _what_else(laid: Sequence[LaidStep], plan: Plan) -> str:
    """What else could give way, the longest first: steps that outlast their words, must-shows, reads, words."""
    rate = plan.front.frame_rate
    found: list[tuple[Ms, str]] = [(Ms(sum(step.time.spoken for step in laid)), "the words")]
    for step in laid:
        beyond = frames_to_ms(Frames(step.fitted.frames - step.fitted.planned), rate)
        found.append((beyond, f"'{step.step.title}' beyond its words"))
        found += [(must.length, f"'{must.what}'") for must in step.step.must_show]
        if step.step.read is not None:
            found.append((frames_to_ms(step.fitted.frames, rate), f"the read '{step.step.read}'"))
    worst = sorted((part for part in found if part[0] >= 1000), key=lambda part: -part[0])[:_NAMED]
    return ", ".join(f"{what} ({clock(ms)})" for ms, what in worst) or "its pauses"


def _made_of(laid: Sequence[LaidStep], plan: Plan) -> str:
    """What fills the run time and cannot be had for less: words, the reads among them, must-shows, keeps."""
    rate = plan.front.frame_rate
    spoken = sum(step.time.spoken for step in laid)
    reads = sum(step.fitted.frames for step in laid if step.step.read is not None)
    shown = sum(must.length for step in laid for must in step.step.must_show)
    kept = sum(
        part.frames - part.hold
        for step in laid
        for part in step.fitted.parts
        if isinstance(part, Plays) and part.speed == 1
    )
    parts = [f"{clock(Ms(spoken)) if spoken >= 1000 else 'less than 1 s'} of words" if spoken else "no words"]
    if reads:
        parts.append(f"{clock(frames_to_ms(Frames(reads), rate))} of reads")
    if shown:
        parts.append(f"{clock(Ms(shown))} of must-shows")
    if kept:
        parts.append(f"{clock(frames_to_ms(Frames(kept), rate))} at normal speed")
    return f"It holds {', '.join(parts)}."
