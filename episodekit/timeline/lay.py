"""Lay the draft timeline: fitted steps end to end, slates as cards, titles, cautions and disclosure on top."""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass, replace
from fractions import Fraction
from itertools import pairwise

from episodekit.base.time import Frames, Ms, Rate, ms_to_frames
from episodekit.chapters.mark import Chapter
from episodekit.fit.model import FittedStep, Plays, Slate
from episodekit.job.hazards import DEFER
from episodekit.job.model import Plan, Step
from episodekit.shots.model import Shot, ShotKind, cautions_of, hazards_of
from episodekit.timeline.badge import badges
from episodekit.timeline.deal import goods_overlays, read_overlays
from episodekit.timeline.model import (
    Card,
    ChapterMark,
    Overlay,
    OverlayKind,
    Picture,
    Segment,
    Sound,
    Timeline,
)
from episodekit.timeline.turns import ON_FOOTAGE, ON_SLATE, in_turns, shares
from episodekit.timing.steps import StepTime


@dataclass(frozen=True)
class LaidStep:
    """A step as it enters the timeline: its times, its numbered shots, its parts, and for each part the index
    of the shot that it `shows`.

    `answer` is what the fit does with it, in a creator's words. A step that a read interrupts enters twice;
    the second time it is `continued`.
    """

    step: Step
    time: StepTime
    shots: tuple[Shot, ...]
    fitted: FittedStep
    shows: tuple[int, ...]
    answer: str = ""
    continued: bool = False


def lay(plan: Plan, steps: Sequence[LaidStep], chapters: Sequence[Chapter], font: str | None) -> Timeline:
    """The timeline of steps that are already in screen order, reads included."""
    rate = plan.front.frame_rate
    segments: list[Segment] = []
    overlays: list[Overlay] = []
    first_uses: dict[str, str] = {}
    start = 0
    for laid in steps:
        for name in laid.step.uses:
            first_uses.setdefault(name, laid.step.id)
        segments += _segments(laid, plan, rate)
        overlays += _overlays(laid, plan, rate, start, first_uses)
        start += laid.fitted.frames
    if plan.front.badge:
        overlays += badges(segments)
    width, height = plan.front.size
    return Timeline(
        title=plan.front.title,
        rate=rate,
        width=width,
        height=height,
        segments=tuple(segments),
        overlays=tuple(sorted(overlays, key=lambda o: (o.start, o.kind))),
        chapters=tuple(ChapterMark(chapter.start, chapter.title) for chapter in chapters),
        font=font,
    )


def _segments(laid: LaidStep, plan: Plan, rate: Rate) -> Iterator[Segment]:
    at = 0
    for part, index in zip(laid.fitted.parts, laid.shows, strict=True):
        shot = laid.shots[index]
        if isinstance(part, Plays):
            picture = Picture(part.clip, part.start, part.end, part.speed, part.hold)
            sound = None if part.heard is None else Sound(part.heard.clip, part.heard.start)
            yield Segment(part.frames, picture, laid.step.id, shot.number, sound)
        else:
            yield from _cards(laid, part, shot, at, rate)
        at += part.frames


def _cards(laid: LaidStep, slate: Slate, shot: Shot, at: int, rate: Rate) -> Iterator[Segment]:
    """The cards of one slate: a new one with each beat, so that the words on it are the ones being said.

    Cautions that one card cannot hold are shown in turns while the beat lasts.
    """
    end = at + slate.frames
    cuts = [ms_to_frames(block.start, rate) for block in laid.time.blocks]
    # A card that would flash by at an edge is left to its neighbour.
    half = ms_to_frames(Ms(500), rate)
    edges = [at, *(cut for cut in cuts if at + half <= cut <= end - half), end]
    for first, last in pairwise(edges):
        block = max((n for n, cut in enumerate(cuts) if cut <= (first + last) // 2), default=0)
        beat = laid.time.blocks[block].beat
        words = laid.step.beats[beat].text if beat >= 0 else ""
        card = _card(laid.step, shot, slate, words, rate)
        turns = in_turns([text for text in shot.cautions if text != DEFER], ON_SLATE) or ((),)
        for (start, stop), cautions in zip(
            shares(first, last, len(turns), last - first), turns, strict=False
        ):
            shown = replace(card, cautions=(*cautions, DEFER) if cautions else ())
            yield Segment(Frames(stop - start), shown, laid.step.id, shot.number)


def _card(step: Step, shot: Shot, slate: Slate, words: str, rate: Rate) -> Card:
    seconds = f"{float(Fraction(slate.frames) / rate.exact):.1f} s"
    camera = " · ".join(filter(None, (shot.camera and f"Camera {shot.camera}", shot.view, seconds)))
    state = "pickup" if slate.pickup else "b-roll" if shot.kind is ShotKind.B_ROLL else "to film"
    lines = [camera]
    heading = shot.what
    if shot.kind in (ShotKind.MUST_SHOW, ShotKind.B_ROLL):
        lines.insert(0, f"in: {step.title}")
    if shot.no_return:
        lines.append("Point of no return: cannot be filmed again")
    accent = "read" if step.read else "caution" if shot.cautions else "shot"
    return Card(
        heading[:1].upper() + heading[1:], f"Shot {shot.number} · {state}", tuple(lines), words, accent
    )


def _overlays(
    laid: LaidStep, plan: Plan, rate: Rate, start: int, first_uses: Mapping[str, str]
) -> Iterator[Overlay]:
    step, end = laid.step, start + laid.fitted.frames
    deal = list(goods_overlays(plan, step, rate, start, end, first_uses))
    if step.read is not None:
        deal += read_overlays(plan, step, laid.time, rate, start, end)
    pictures = _pictures(laid.fitted, start)
    if pictures and pictures[0][0] == start:
        first = start + ms_to_frames(plan.front.voice.lead, rate)
        last = min(first + ms_to_frames(plan.front.limits.lower_third, rate), pictures[0][1])
        # The code lies where the title does; a title that would only flash by before it is left out.
        last = min((last, *(one.start for one in deal if one.kind is OverlayKind.CODE)))
        section = next(s.title for s in plan.sections if s.id == step.section)
        small = section if section != step.title else plan.front.device
        if last > first and (last == pictures[0][1] or last - first >= ms_to_frames(Ms(1000), rate)):
            yield Overlay(OverlayKind.LOWER_THIRD, step.title, Frames(first), Frames(last), small)
    for first, last in pictures:
        yield from _cautions(step, first, last, ms_to_frames(plan.front.limits.caution, rate))
    yield from deal


def _cautions(step: Step, first: int, last: int, full: int) -> Iterator[Overlay]:
    """The cautions in full when a risky step comes on screen, then their short form for as long as it stays.

    Cautions that one board cannot hold are shown in turns of `full` frames, or of an even share of a
    shorter stretch.
    """
    texts = [text for text in cautions_of(step) if text != DEFER]
    if not texts:
        return
    turns = in_turns(texts, ON_FOOTAGE)
    until = first
    for (start, until), turn in zip(shares(first, last, len(turns), full), turns, strict=False):
        yield Overlay(OverlayKind.CAUTION, "\n".join(turn), Frames(start), Frames(until), DEFER)
    if until < last:
        short = " · ".join(hazard.name for hazard in hazards_of(step)) or "Caution"
        yield Overlay(OverlayKind.CAUTION, short, Frames(until), Frames(last))


def _pictures(fitted: FittedStep, start: int) -> list[tuple[int, int]]:
    """Stretches of the timeline in which the step shows footage; slates carry their cautions themselves."""
    stretches: list[tuple[int, int]] = []
    at = start
    for part in fitted.parts:
        if isinstance(part, Plays):
            if stretches and stretches[-1][1] == at:
                stretches[-1] = (stretches[-1][0], at + part.frames)
            else:
                stretches.append((at, at + part.frames))
        at += part.frames
    return stretches
