"""plan.json: the whole compiled episode as data. Its fields are told in `plan_document.py`."""

from __future__ import annotations

from episodekit.base.findings import Finding
from episodekit.base.time import Frames, clock, frames_to_ms
from episodekit.fit.model import Plays, Slate
from episodekit.formats.plan_document import (
    VERSION,
    AdBreakDoc,
    BeatDoc,
    ChapterDoc,
    ClipDoc,
    DeadlineDoc,
    DriftDoc,
    FindingDoc,
    PaceDoc,
    PlanDocument,
    ReadDoc,
    RemarkDoc,
    SectionDoc,
    SegmentDoc,
    SetUpDoc,
    ShotDoc,
    StepDoc,
    StretchDoc,
    TermDoc,
    TrimDoc,
)
from episodekit.pack.dates import deadlines, written
from episodekit.pack.terms import terms_of
from episodekit.timeline.episode import Episode
from episodekit.timeline.lay import LaidStep
from episodekit.timeline.model import Picture
from episodekit.timeline.pace import Stretch
from episodekit.timeline.reading import first_and_last_source_frame
from episodekit.timeline.spread import runtime_range, spoken_range
from episodekit.timing.steps import BeatTime


def finding_doc(found: Finding) -> FindingDoc:
    """A finding as data."""
    return FindingDoc(
        code=found.code,
        severity=found.severity.value,
        file=found.at.file,
        line=found.at.line,
        column=found.at.column,
        message=found.message,
        remedy=found.remedy,
    )


def document(episode: Episode, findings: tuple[Finding, ...]) -> PlanDocument:
    """The document of an episode, with all findings of the run."""
    plan, rate = episode.plan, episode.timeline.rate
    steps = _steps(episode)
    target = plan.front.runtime
    low, high = runtime_range(episode.steps, plan, episode.runtime)
    words = spoken_range(episode.steps)
    starts: dict[str, int] = {}
    for step in steps:
        if step.read is None:
            starts.setdefault(step.section, step.start_ms)
    return PlanDocument(
        version=VERSION,
        title=plan.front.title,
        device=plan.front.device,
        rate=str(rate.exact),
        width=episode.timeline.width,
        height=episode.timeline.height,
        frames=episode.timeline.frames,
        runtime_ms=episode.runtime,
        runtime_low_ms=low,
        runtime_high_ms=high,
        target_low_ms=target.low if target else None,
        target_high_ms=target.high if target else None,
        words=sum(step.words for step in steps),
        spoken_ms=words.length,
        spoken_low_ms=words.low,
        spoken_high_ms=words.high,
        sections=tuple(
            SectionDoc(id=s.id, title=s.title, start_ms=starts.get(s.id)) for s in plan.sections if s.steps
        ),
        steps=steps,
        shots=tuple(
            ShotDoc(
                number=shot.number,
                step=shot.step,
                kind=shot.kind.value,
                what=shot.what,
                camera=shot.camera,
                view=shot.view,
                start_ms=shot.start,
                screen_ms=shot.length,
                bench_ms=shot.bench,
                beats=shot.beats,
                cautions=shot.cautions,
                no_return=shot.no_return,
                asked_ms=shot.asked,
                filmed=shot.filmed,
            )
            for shot in episode.shots
        ),
        set_ups=tuple(
            SetUpDoc(camera=s.camera, view=s.view, shots=s.shots, once=s.once) for s in episode.set_ups
        ),
        reads=tuple(
            ReadDoc(
                name=r.name,
                sponsor=r.sponsor,
                disclosure=tuple(sorted(plan.front.reads[r.name].disclosure)),
                must_say=plan.front.reads[r.name].must_say,
                start_ms=r.start,
                length_ms=r.length,
                before_step=r.before,
                inside_step=r.inside,
                why=r.why,
                terms=tuple(TermDoc(key=k, value=v) for k, v in terms_of(plan.front.reads[r.name])),
            )
            for r in episode.reads
        ),
        ad_breaks=tuple(
            AdBreakDoc(
                start_ms=b.start, stamp=clock(b.start), before_step=b.before, inside_step=b.inside, why=b.why
            )
            for b in episode.ad_breaks
        ),
        deadlines=tuple(
            DeadlineDoc(date=d.day.isoformat(), day=written(d.day), what=d.what, read=d.read, why=d.why)
            for d in deadlines(plan)
        ),
        chapters=tuple(ChapterDoc(start_ms=c.start, stamp=c.stamp, title=c.title) for c in episode.chapters),
        clips=tuple(
            ClipDoc(
                path=p.clip.path,
                camera=p.camera,
                rate=str(p.clip.rate.exact),
                variable=p.clip.variable,
                seconds=str(p.clip.duration),
                width=p.clip.width,
                height=p.clip.height,
                rotation=p.clip.rotation,
                start_timecode=p.clip.start_timecode,
                starts_at=None if p.start is None else str(p.start),
            )
            for p in episode.clips
        ),
        segments=_segments(episode),
        pace=PaceDoc(
            words_a_minute=round(float(plan.front.voice.pace), 1),
            silences=tuple(_stretch(gap) for gap in episode.pace.silences),
            longest_silence=_stretch(episode.pace.silence),
            longest_picture=_stretch(episode.pace.picture),
            longest_without_question=_stretch(episode.pace.no_question),
        ),
        trims=tuple(TrimDoc(beat=trim.beat, words=trim.words) for trim in episode.trims),
        drift=DriftDoc(
            planned_ms=episode.drift.planned,
            filmed_ms=episode.drift.filmed,
            recorded_ms=episode.drift.recorded,
        ),
        findings=tuple(finding_doc(found) for found in findings),
    )


def _steps(episode: Episode) -> tuple[StepDoc, ...]:
    rate = episode.timeline.rate
    takes = {line.beat: line.file for line in episode.narration}
    docs: list[StepDoc] = []
    at = 0
    halved = {laid.step.id for laid in episode.steps if laid.continued}
    seen: set[int] = set()
    for laid in episode.steps:
        step, time = laid.step, laid.time
        start = frames_to_ms(Frames(at), rate)
        at += laid.fitted.frames
        plays = [part for part in laid.fitted.parts if isinstance(part, Plays)]
        slates = [part for part in laid.fitted.parts if isinstance(part, Slate)]
        docs.append(
            StepDoc(
                id=step.id,
                title=step.title,
                section=step.section,
                read=step.read,
                continued=laid.continued,
                start_ms=start,
                screen_ms=frames_to_ms(Frames(at), rate) - start,
                planned_ms=time.length,
                spoken_ms=time.spoken,
                words=time.words,
                bench_ms=step.bench,
                camera=laid.shots[0].camera,
                cautions=laid.shots[0].cautions,
                no_return=step.no_return,
                takes_off=tuple(
                    f"{off.count} x {off.name}" if off.count > 1 else off.name for off in step.off
                ),
                beats=tuple(
                    _beat(text.text, text.paragraphs, beat, start, takes.get(beat.id))
                    for text, beat in zip(step.beats, time.beats, strict=True)
                ),
                shots=_shots_of(laid, seen)
                if step.id in halved
                else tuple(shot.number for shot in laid.shots),
                notes=tuple(note.text for note in step.notes),
                remarks=tuple(
                    RemarkDoc(kind=remark.kind, text=remark.text)
                    for remark in episode.remarks
                    if remark.step == step.id and not laid.continued
                ),
                state="to film" if not plays else "part filmed" if slates else "filmed",
                answer=laid.answer,
                fastest_speed=round(float(max((part.speed for part in plays), default=0)), 2),
            )
        )
    return tuple(docs)


def _shots_of(laid: LaidStep, seen: set[int]) -> tuple[int, ...]:
    """The shots that come on screen in this part of a step and did not in an earlier one; unneeded b-roll first."""
    here = {*laid.shows, *(shot.index for shot in laid.shots if not shot.length and not laid.continued)}
    new = tuple(shot.number for shot in laid.shots if shot.index in here and shot.number not in seen)
    seen.update(new)
    return new


def _stretch(stretch: Stretch) -> StretchDoc:
    return StretchDoc(start_ms=stretch.start, length_ms=stretch.length)


def _beat(text: str, paragraphs: tuple[str, ...], beat: BeatTime, start: int, take: str | None) -> BeatDoc:
    return BeatDoc(
        id=beat.id,
        text=text,
        paragraphs=paragraphs,
        start_ms=start + beat.start,
        length_ms=beat.length,
        low_ms=beat.low,
        high_ms=beat.high,
        words=beat.words,
        take=take,
    )


def _segments(episode: Episode) -> tuple[SegmentDoc, ...]:
    clips = {placed.clip.path: placed.clip for placed in episode.clips}
    docs: list[SegmentDoc] = []
    at = 0
    for segment in episode.timeline.segments:
        source = segment.source if isinstance(segment.source, Picture) else None
        first, last = (None, None)
        if source is not None:
            first, last = first_and_last_source_frame(segment, clips[source.clip], episode.timeline.rate)
        docs.append(
            SegmentDoc(
                start_frame=at,
                frames=segment.frames,
                step=segment.step,
                shot=segment.shot,
                clip=source.clip if source else None,
                start_seconds=str(source.start) if source else None,
                end_seconds=str(source.end) if source else None,
                speed=str(source.speed) if source else None,
                hold_frames=source.hold if source else 0,
                first_frame=first,
                last_frame=last,
            )
        )
        at += segment.frames
    return tuple(docs)


def write_plan_json(doc: PlanDocument) -> str:
    """The document as JSON with a newline at its end; the same plan, the same bytes."""
    return doc.model_dump_json(indent=2) + "\n"
