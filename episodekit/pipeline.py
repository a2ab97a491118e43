"""The whole road on one screen: a plan, a log and clips become an episode. Pure: no disk, no clock.

Read the plan, time the beats, list the shots, match the footage, fit picture to voice, place the reads,
mark the chapters, lay the draft timeline. The fit comes before the reads and chapters, because what is
kept at normal speed can make a step longer than its words, and a slot is only as true as the times
around it.
"""

from __future__ import annotations

from collections.abc import Sequence

from episodekit.base.findings import Finding, finding, in_order
from episodekit.base.place import Place
from episodekit.base.time import Frames, Ms, clock, frames_to_ms, ms_to_frames
from episodekit.bench import rules as log_rules
from episodekit.bench.model import Mark, Span
from episodekit.bench.spans import spans_of
from episodekit.chapters.mark import SectionStart, mark_chapters
from episodekit.fit import rules as fit_rules
from episodekit.fit.match import match_step
from episodekit.fit.step import fit_step
from episodekit.footage.clocks import place_clips, place_marks
from episodekit.footage.model import Clip
from episodekit.job.model import Plan, Step
from episodekit.shots.filming import filming_order
from episodekit.shots.screen import numbered, shots_of
from episodekit.slots.place import Stretch, check_read, place_reads
from episodekit.timeline.episode import Episode
from episodekit.timeline.lay import LaidStep, lay
from episodekit.timing.steps import NO_WORDS, StepTime, time_step
from episodekit.timing.words import Dictionary


def compile_episode(
    plan: Plan,
    marks: Sequence[Mark] = (),
    clips: Sequence[Clip] = (),
    *,
    font: str | None = None,
    dictionary: Dictionary = NO_WORDS,
) -> Episode:
    """Compile whatever exists so far: the plan alone, or with its log and footage."""
    rate = plan.front.frame_rate
    to_film = [step for step in plan.all_steps() if step.read is None or step.read in plan.front.reads]
    times = {step.id: time_step(step, plan.front.voice, plan.front.limits, dictionary) for step in to_film}
    shots = {step.id: shots_of(step, times[step.id], plan) for step in to_film}

    placed_clips, found = place_clips(clips, plan)
    placed_marks, log_found = place_marks(marks, placed_clips)
    spans, span_found = spans_of(placed_marks, times)
    findings = [*found, *log_found, *span_found]

    fitted = {}
    for step in to_film:
        filmed, match_found = match_step(step, shots[step.id], spans, placed_clips, plan)
        planned = ms_to_frames(times[step.id].length, rate)
        fitted[step.id], fit_found = fit_step(step, shots[step.id], planned, filmed, rate, plan.front.limits)
        findings += [*match_found, *fit_found]
    if marks:
        findings += _unlogged(to_film, spans)

    lengths = {name: frames_to_ms(fit.frames, rate) for name, fit in fitted.items()}
    texts = [Stretch(step, lengths[step.id]) for step in plan.read_texts.values() if step.id in times]
    order, reads, slot_found = place_reads(
        plan, [Stretch(step, lengths[step.id]) for step in plan.steps], texts
    )
    findings += slot_found
    for text in texts:
        time = times[text.step.id]
        findings += check_read(plan, text, time.spoken, time.words)

    in_screen_order = numbered(shot for stretch in order for shot in shots[stretch.step.id])
    laid = tuple(
        LaidStep(
            stretch.step,
            times[stretch.step.id],
            tuple(shot for shot in in_screen_order if shot.step == stretch.step.id),
            fitted[stretch.step.id],
        )
        for stretch in order
    )
    runtime = frames_to_ms(Frames(sum(step.fitted.frames for step in laid)), rate)
    chapters, chapter_found = mark_chapters(
        _section_starts(plan, laid),
        runtime,
        plan.front.limits.chapter_length,
        plan.front.limits.chapters,
        plan.where("limits"),
    )
    findings += [*chapter_found, *_runtime(plan, runtime, list(times.values()))]
    return Episode(
        plan=plan,
        steps=laid,
        shots=in_screen_order,
        set_ups=filming_order(in_screen_order, {step.id: step for step in to_film}),
        reads=reads,
        chapters=chapters,
        clips=placed_clips,
        spans=spans,
        timeline=lay(plan, laid, chapters, font),
        findings=in_order(findings),
    )


def _section_starts(plan: Plan, laid: Sequence[LaidStep]) -> list[SectionStart]:
    """Where each section's first step begins; a read counts to the section before it."""
    rate = plan.front.frame_rate
    sections = {section.id: section for section in plan.sections}
    starts: list[SectionStart] = []
    seen: set[str] = set()
    at = 0
    for step in laid:
        name = step.step.section
        if step.step.read is None and name not in seen:
            seen.add(name)
            section = sections[name]
            starts.append(SectionStart(section.title, frames_to_ms(Frames(at), rate), section.at))
        at += step.fitted.frames
    return starts


def _unlogged(steps: Sequence[Step], spans: Sequence[Span]) -> list[Finding]:
    logged = {span.step for span in spans}
    return [
        finding(log_rules.UNLOGGED, step.at, f"'{step.title}' is not logged.", f"Mark it as `{step.id}`.")
        for step in steps
        if step.id not in logged and step.read is None
    ]


def _runtime(plan: Plan, runtime: Ms, times: Sequence[StepTime]) -> list[Finding]:
    target = plan.front.runtime
    if target is None or runtime in target:
        return []
    spoken = sum(time.spoken for time in times)
    words = sum(time.words for time in times)
    each = spoken / words if words else 400.0
    at: Place = plan.where("runtime")
    if runtime > target.high:
        count = max(1, round((runtime - target.high) / each))
        said = f"The episode runs {clock(runtime)}; its target ends at {clock(target.high)}."
        return [finding(fit_rules.RUNTIME, at, said, f"Trim about {count} words, or raise the target.")]
    count = max(1, round((target.low - runtime) / each))
    said = f"The episode runs {clock(runtime)}; its target starts at {clock(target.low)}."
    return [finding(fit_rules.RUNTIME, at, said, f"Add about {count} words, or lower the target.")]
