"""Whether the episode meets its run time; and if not, what it is made of and where to say less or more."""

from __future__ import annotations

from collections.abc import Sequence

from episodekit.base.findings import Finding, finding
from episodekit.base.text import counted
from episodekit.base.time import Frames, Ms, clock, frames_to_ms
from episodekit.fit import rules
from episodekit.fit.model import Plays
from episodekit.fit.trims import Trim, trims
from episodekit.job.model import Plan
from episodekit.timeline.lay import LaidStep

_NAMED = 4


def judge_runtime(
    plan: Plan, runtime: Ms, laid: Sequence[LaidStep]
) -> tuple[tuple[Trim, ...], list[Finding]]:
    """Trims and a finding, if the run time misses its target; nothing if it meets it or there is none."""
    target = plan.front.runtime
    if target is None or runtime in target:
        return (), []
    at = plan.where("runtime")
    if runtime > target.high:
        less = trims([(step.step, step.time, step.fitted) for step in laid], Ms(runtime - target.high))
        said = f"The episode runs {clock(runtime)}; its target ends at {clock(target.high)}. {_made_of(laid, plan)}"
        named = ", ".join(f"{trim.words} in {trim.beat}" for trim in less[:_NAMED])
        named += ", ..." if len(less) > _NAMED else ""
        total = counted(sum(trim.words for trim in less), "word")
        remedy = (
            f"Trim about {total}: {named}." if less else "Raise the target, or drop must-shows and keeps."
        )
        return less, [finding(rules.RUNTIME, at, said, remedy)]
    spoken, words = sum(step.time.spoken for step in laid), sum(step.time.words for step in laid)
    each = spoken / words if words else 400.0
    more = counted(max(1, round((target.low - runtime) / each)), "word")
    said = (
        f"The episode runs {clock(runtime)}; its target starts at {clock(target.low)}. {_made_of(laid, plan)}"
    )
    return (), [finding(rules.RUNTIME, at, said, f"Add about {more}, or lower the target.")]


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
    parts = [f"{clock(Ms(spoken))} of words"]
    if reads:
        parts.append(f"{clock(frames_to_ms(Frames(reads), rate))} of reads")
    if shown:
        parts.append(f"{clock(Ms(shown))} of must-shows")
    if kept:
        parts.append(f"{clock(frames_to_ms(Frames(kept), rate))} at normal speed")
    return f"It holds {', '.join(parts)}."
