"""The whole road on one screen: a plan, a log and clips become an episode. Pure: no disk, no clock.

Read the plan, time the beats, list the shots, match the footage, fit picture to voice, place the reads,
mark the chapters, lay the draft timeline. The fit comes before the reads and chapters, because what is
kept at normal speed can make a step longer than its words, and a slot is only as true as the times
around it.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import replace
from itertools import accumulate, groupby, pairwise

from episodekit.base.findings import Finding, finding, in_order
from episodekit.base.time import Frames, Ms, Rate, frames_to_ms, ms_to_frames
from episodekit.bench import rules as log_rules
from episodekit.bench.model import MOVES, Mark, Span, SpanKind
from episodekit.bench.remarks import remarks_of
from episodekit.bench.spans import spans_of
from episodekit.chapters.mark import mark_chapters
from episodekit.chapters.starts import starts_of
from episodekit.fit.angles import with_angles
from episodekit.fit.answer import answer_of
from episodekit.fit.case import case_of
from episodekit.fit.episode import fit
from episodekit.fit.match import match_step
from episodekit.fit.model import FittedStep
from episodekit.fit.shown import shots_shown
from episodekit.fit.split import cuts_of
from episodekit.footage.clocks import place_clips, place_marks
from episodekit.footage.model import Clip, Known
from episodekit.footage.private import private_in
from episodekit.job.model import Plan, Step
from episodekit.pack.dates import check_deadlines
from episodekit.pack.description import check_description, describe
from episodekit.pack.edit_list import check_edit_list
from episodekit.shots.filming import filming_order
from episodekit.shots.screen import numbered, shots_of
from episodekit.slots.contract import check_read, check_words
from episodekit.slots.place import place
from episodekit.slots.terms import Text, Unit
from episodekit.timeline.deal import check_code_shown
from episodekit.timeline.episode import Drift, Episode
from episodekit.timeline.interrupt import in_screen_order
from episodekit.timeline.lay import LaidStep, lay
from episodekit.timeline.pace import pace
from episodekit.timeline.private import hidden_by_steps
from episodekit.timeline.runtime import judge_runtime
from episodekit.timing.steps import NO_WORDS, StepTime, time_step
from episodekit.timing.words import Dictionary


def compile_episode(
    plan: Plan,
    marks: Sequence[Mark] = (),
    clips: Sequence[Clip] = (),
    takes: Mapping[str, Ms] | None = None,
    *,
    font: str | None = None,
    dictionary: Dictionary = NO_WORDS,
    known: Mapping[str, Known] | None = None,
) -> Episode:
    """Compile whatever exists so far: the plan alone, with its log and footage, with its recorded takes.

    `takes` are the lengths of recorded beats by their ids, in ms. `known` are
    the places of clips that sync found. Each stage that exists is compiled by
    itself as well, so that the drift of the run time from one to the next can be told.
    """
    made = _compile(plan, marks, clips, takes or {}, font, dictionary, known)
    planned = _compile(plan, (), (), {}, None, dictionary).runtime if marks or takes else made.runtime
    filmed = None
    if marks:
        filmed = _compile(plan, marks, clips, {}, None, dictionary, known).runtime if takes else made.runtime
    return replace(made, drift=Drift(planned, filmed, made.runtime if takes else None))


def _compile(
    plan: Plan,
    marks: Sequence[Mark],
    clips: Sequence[Clip],
    takes: Mapping[str, Ms],
    font: str | None,
    dictionary: Dictionary,
    known: Mapping[str, Known] | None = None,
) -> Episode:
    """The road itself."""
    rate = plan.front.frame_rate
    texts_of_reads = {step.id for name, step in plan.read_texts.items() if name in plan.front.reads}
    to_film = [step for step in plan.all_steps() if step.read is None or step.id in texts_of_reads]
    openers = {s.steps[0].id for s in plan.sections[1:] if s.steps and s.steps[0].read is None}
    steps = {step.id: step for step in to_film}
    times = {
        step.id: time_step(
            step, plan.front.voice, plan.front.limits, takes, opens=step.id in openers, dictionary=dictionary
        )
        for step in to_film
    }
    shots = {step.id: shots_of(step, times[step.id], plan) for step in to_film}

    placed_clips, found = place_clips(clips, plan, known)
    placed_marks, log_found = place_marks(marks, placed_clips, plan.front.utc_offset)
    spans, span_found = spans_of(placed_marks, times)
    spans_by_step: dict[str, list[Span]] = {}
    for span in spans:
        spans_by_step.setdefault(span.step, []).append(span)
    private, private_found = private_in(placed_marks, placed_clips, plan)
    findings = [*found, *log_found, *span_found, *private_found]

    cases = []
    for step in to_film:
        filmed, near, match_found = match_step(
            step, shots[step.id], spans_by_step.get(step.id, ()), placed_clips, plan
        )
        planned = ms_to_frames(times[step.id].length, rate)
        cases.append(case_of(step, shots[step.id], planned, filmed, rate, plan.front.limits, near))
        findings += match_found
    fitting = fit(cases, plan.front.runtime, rate, plan.front.limits)
    findings += fitting.findings
    fitted = {
        step.id: with_angles(done, step, times[step.id], placed_clips, plan)
        for step, done in zip(to_film, fitting.steps, strict=True)
    }
    answers = {
        step.step: answer_of(step, case, rate, plan.front.limits)
        for step, case in zip(fitting.steps, cases, strict=True)
    }
    shown = {
        case.step.id: shots_shown(case, fitted[case.step.id], times[case.step.id], plan) for case in cases
    }
    if marks:
        findings += _unlogged(to_film, spans, marks)

    texts = [
        Text(step, fitted[step.id].frames, frames_to_ms(fitted[step.id].frames, rate))
        for step in plan.read_texts.values()
        if step.id in times
    ]
    units = [unit for step in plan.steps for unit in _units(step, times[step.id], fitted[step.id], plan)]
    placed = place(plan, units, texts, rate)
    findings += placed.findings
    for text in texts:
        time = times[text.step.id]
        findings += check_read(plan, text, time.spoken, time.words)
        findings += check_code_shown(plan, text.step, time, fitted[text.step.id].frames)
    findings += check_words(plan)

    numbered_shots = numbered(
        shot for name in dict.fromkeys(part.step.id for part in placed.order) for shot in shown[name][0]
    )
    shots_by_step = {
        name: tuple(group) for name, group in groupby(numbered_shots, key=lambda shot: shot.step)
    }
    whole = {
        name: LaidStep(
            steps[name], times[name], shots_by_step[name], fitted[name], shown[name][1], answers[name]
        )
        for name in shots_by_step
    }
    laid = tuple(in_screen_order(placed.order, whole, rate))
    runtime = frames_to_ms(Frames(sum(step.fitted.frames for step in laid)), rate)
    chapters, chapter_found = mark_chapters(plan, starts_of(plan, _rows(laid, rate)), runtime)
    less, runtime_found = judge_runtime(plan, runtime, laid)
    findings += [*chapter_found, *runtime_found, *check_deadlines(plan)]
    findings += check_description(plan, describe(plan, chapters, [read.name for read in placed.reads]))
    timeline = lay(plan, laid, chapters, font)
    in_steps = hidden_by_steps(plan, timeline.segments, placed_clips)
    timeline = replace(timeline, private=tuple(dict.fromkeys((*private, *in_steps))))
    findings += check_edit_list(plan, timeline)
    return Episode(
        plan=plan,
        steps=laid,
        shots=numbered_shots,
        set_ups=filming_order(numbered_shots, steps),
        reads=placed.reads,
        ad_breaks=placed.breaks,
        chapters=chapters,
        clips=placed_clips,
        spans=spans,
        timeline=timeline,
        trims=less,
        drift=Drift(runtime),
        pace=pace(laid, timeline),
        findings=in_order(findings),
        remarks=remarks_of(placed_marks, times),
    )


def _units(step: Step, time: StepTime, fitted: FittedStep, plan: Plan) -> list[Unit]:
    """The step whole, or in parts between which something may be placed."""
    cuts = cuts_of(step, time, fitted, plan.front.frame_rate, plan.front.limits)
    edges = (Frames(0), *cuts, fitted.frames)
    return [Unit(step, start, end, first=start == 0) for start, end in pairwise(edges)]


def _rows(laid: Sequence[LaidStep], rate: Rate) -> list[tuple[Step, Ms]]:
    """What plays in screen order, and when each begins."""
    begins = accumulate((step.fitted.frames for step in laid), initial=0)
    return [(step.step, frames_to_ms(Frames(at), rate)) for step, at in zip(laid, begins, strict=False)]


def _unlogged(steps: Sequence[Step], spans: Sequence[Span], marks: Sequence[Mark]) -> list[Finding]:
    logged = {span.step for span in spans if span.kind is not SpanKind.B_ROLL}
    marked = {mark.step for mark in marks if mark.kind in MOVES}
    found = []
    for step in steps:
        if step.id in logged or step.read is not None:
            continue
        said, remedy = f"'{step.title}' is not logged.", f"Mark it as `{step.id}`."
        if step.id in marked:
            said = f"No time passes between the marks of '{step.title}'."
            remedy = "Check their times, and that a `start` and a `done` are among them."
        found.append(finding(log_rules.UNLOGGED, step.at, said, remedy))
    return found
