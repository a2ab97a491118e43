"""The picture of the pace: what is drawn where along the run time.

Across, places are shares of the run time; down, pixels from the top of the picture.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable
from dataclasses import dataclass
from fractions import Fraction
from math import log2

from episodekit.base.text import counted
from episodekit.base.time import Ms, clock
from episodekit.formats.plan_document import PlanDocument, SegmentDoc, StretchDoc
from episodekit.outside.page_words import duration, screen_time, share

_LENGTHS = tuple(1000 * s for s in (5, 10, 20, 30, 60, 120, 300, 600, 1200, 1800, 3600, 7200, 14_400))
_SPEEDS = (1, 2, 4, 16, 60, 240, 1000, 4000, 16_000)
_APART = 12
"""Labels of a scale stand at least so many pixels apart."""


@dataclass(frozen=True)
class Mark:
    """A rectangle. `kind` is how it looks, `says` what it stands for. An empty `width` is a thin line down."""

    kind: str
    x: str
    width: str
    y: float
    height: float
    says: str


@dataclass(frozen=True)
class Rule:
    """A line across the lane with its label on the scale; `kind` is "grid", "base" or "aim"."""

    y: float
    label: str
    kind: str


@dataclass(frozen=True)
class Letter:
    """The letter by which a longest stretch is named."""

    name: str
    x: str
    y: float


@dataclass(frozen=True)
class Lane:
    """One measure along the run time. `says` sums it up; the next lane starts at `bottom`."""

    name: str
    title: str
    says: str
    title_y: float
    bottom: float
    rules: tuple[Rule, ...]
    marks: tuple[Mark, ...]
    letters: tuple[Letter, ...]


def lanes(doc: PlanDocument) -> tuple[Lane, ...]:
    """The lanes from top to bottom; one that would be empty is left out, all of them without a run time."""
    if not doc.frames:
        return ()
    found: list[Lane] = []
    at = 18.0
    makers: tuple[Callable[[PlanDocument, float], Lane | None], ...] = (_words, _shots, _speeds, _questions)
    for make in makers:
        lane = make(doc, at)
        if lane is not None:
            found.append(lane)
            at = lane.bottom
    return tuple(found)


def _words(doc: PlanDocument, at: float) -> Lane:
    """Words a minute, a bar a beat as wide as the beat is long, so that its area is its words; what nobody
    speaks over lies beneath. The scale ends at twice the pace set at most; a beat beyond it gets a cap.
    """
    top, height = at + 26, 72
    base = top + height
    aim = round(doc.pace.words_a_minute)
    beats = [beat for step in doc.steps for beat in step.beats if beat.length_ms]
    highest = max((Fraction(beat.words * 60_000, beat.length_ms) for beat in beats), default=Fraction(0))
    scale = -(-max(min(highest, Fraction(2 * aim)), Fraction(5 * aim, 4)) // 50) * 50
    marks = []
    for beat in beats:
        wpm = Fraction(beat.words * 60_000, beat.length_ms)
        tall = round(float(min(wpm / scale, Fraction(1))) * height, 2)
        x, width = share(beat.start_ms, doc.runtime_ms), share(beat.length_ms, doc.runtime_ms)
        says = f"{clock(Ms(beat.start_ms))} {beat.id}: {counted(beat.words, 'word')} in {screen_time(beat.length_ms)}"
        says += f", {round(wpm)} wpm"
        marks.append(Mark("beat", x, width, base - tall, tall, says))
        if wpm > scale:
            marks.append(Mark("over", x, width, top - 4, 3, says))
    gaps = {gap.start_ms: gap for gap in doc.pace.silences}
    worst = doc.pace.longest_silence
    for gap in (*gaps.values(), *([worst] if worst.length_ms and worst.start_ms not in gaps else [])):
        says = f"{clock(Ms(gap.start_ms))} without narration for {screen_time(gap.length_ms)}"
        x, width = share(gap.start_ms, doc.runtime_ms), share(gap.length_ms, doc.runtime_ms)
        marks.append(Mark("open", x, width, base + 4, 6, says))
    labels = [(0, "0", "base"), (aim, str(aim), "aim"), (scale, str(scale), "grid")]
    rules = _rules(labels, lambda value: base - float(Fraction(value) / scale) * height)
    letters = _letter(doc, "A", worst, base + 22)
    paces = sorted(round(Fraction(beat.words * 60_000, beat.length_ms)) for beat in beats)
    said = "nothing is said"
    if paces:
        said = f"{_to(str(paces[0]), str(paces[-1]))} in {counted(len(beats), 'beat')}"
    said += f"; pace set {aim}; {counted(len(gaps), 'open stretch', 'open stretches')} of 2 s or more"
    return Lane("words", "Words a minute", said, at + 16, base + 26, rules, tuple(marks), letters)


def _shots(doc: PlanDocument, at: float) -> Lane:
    """How long each picture stands, as height and as width, with a tick at each change."""
    top, height = at + 26, 44
    base = top + height
    lengths = [_ms(doc, segment.frames) for segment in doc.segments]
    scale = next((s for s in _LENGTHS if max(lengths, default=0) <= s), max(lengths, default=0))
    worst = doc.pace.longest_picture.start_ms
    marks = []
    for segment, length in zip(doc.segments, lengths, strict=True):
        start = _ms(doc, segment.start_frame)
        tall = round(length / scale * height, 2)
        x, width = share(segment.start_frame, doc.frames), share(segment.frames, doc.frames)
        kind = "length most" if start == worst else "length"
        what = "slate" if segment.clip is None else f"at {_speed(segment)}x"
        says = f"{clock(Ms(start))} shot {segment.shot}, {screen_time(length)}, {what}"
        marks.append(Mark(kind, x, width, base - tall, tall, says))
        if start:
            marks.append(Mark("change", x, "", base, 6, says))
    labels = [(0, "0", "base"), (scale // 2, duration(scale // 2), "grid"), (scale, duration(scale), "grid")]
    rules = _rules(labels, lambda value: base - float(value) / scale * height)
    letters = _letter(doc, "B", doc.pace.longest_picture, base + 18)
    ends = _to(screen_time(min(lengths)), screen_time(max(lengths)))
    said = f"{ends} in {counted(len(lengths), 'shot')}"
    return Lane("shots", "Length of each shot", said, at + 16, base + 22, rules, tuple(marks), letters)


def _speeds(doc: PlanDocument, at: float) -> Lane | None:
    """Playback speed of footage as a step function on a logarithmic scale; a held picture lies beneath."""
    speeds = [float(Fraction(segment.speed)) for segment in doc.segments if segment.speed]
    if not speeds:
        return None
    scale = next((s for s in _SPEEDS[1:] if max(speeds) <= s), _SPEEDS[-1])
    top, height = at + 26, 64 if scale > 4 else 40
    base = top + height

    def place(speed: float) -> float:
        return round(base - log2(speed) / log2(scale) * height, 2)

    marks = []
    before: tuple[int, float] | None = None
    for segment in doc.segments:
        if not segment.speed:
            continue
        y = place(float(Fraction(segment.speed)))
        plays = segment.frames - segment.hold_frames
        x = share(segment.start_frame, doc.frames)
        says = f"{clock(Ms(_ms(doc, segment.start_frame)))} shot {segment.shot} at {_speed(segment)}x"
        if before is not None and before[0] == segment.start_frame and before[1] != y:
            marks.append(Mark("join", x, "", min(before[1], y) - 1.5, abs(before[1] - y) + 3, says))
        if plays:
            marks.append(Mark("speed", x, share(plays, doc.frames), y - 1.5, 3, says))
        if segment.hold_frames:
            x = share(segment.start_frame + plays, doc.frames)
            held = screen_time(_ms(doc, segment.hold_frames))
            width = share(segment.hold_frames, doc.frames)
            marks.append(Mark("held", x, width, base + 5, 6, f"{says}, last picture held {held}"))
        before = (segment.start_frame + plays, y) if not segment.hold_frames else None
    labels = [(s, f"{s}x", "base" if s == 1 else "grid") for s in _SPEEDS if s <= scale]
    bottom = base + (14 if any(mark.kind == "held" for mark in marks) else 6)
    said = f"footage plays at {_to(f'{min(speeds):.1f}x', f'{max(speeds):.1f}x')}"
    return Lane("speeds", "Playback speed", said, at + 16, bottom, _rules(labels, place), tuple(marks), ())


def _questions(doc: PlanDocument, at: float) -> Lane | None:
    """The longest stretch without an open question, unless there is none, or no question at all."""
    worst = doc.pace.longest_without_question
    if not 0 < worst.length_ms < doc.runtime_ms:
        return None
    says = f"{clock(Ms(worst.start_ms))} without an open question for {screen_time(worst.length_ms)}"
    x, width = share(worst.start_ms, doc.runtime_ms), share(worst.length_ms, doc.runtime_ms)
    marks = (Mark("open", x, width, at + 24, 6, says),)
    title, letters = "Longest without an open question", _letter(doc, "C", worst, at + 42)
    return Lane("questions", title, says, at + 16, at + 46, (), marks, letters)


def _to(low: str, high: str) -> str:
    """Both ends of a range, or the one value that it is."""
    return low if low == high else f"{low} to {high}"


def _rules(labels: Iterable[tuple[int, str, str]], place: Callable[[int], float]) -> tuple[Rule, ...]:
    """Lines across at their values. A label too near another is left out; base and aim come first."""
    rules: list[Rule] = []
    for value, label, kind in sorted(labels, key=lambda one: ("base", "aim", "grid").index(one[2])):
        y = round(place(value), 2)
        free = all(abs(y - rule.y) >= _APART for rule in rules if rule.label)
        rules.append(Rule(y, label if free else "", kind))
    return tuple(rules)


def _letter(doc: PlanDocument, name: str, stretch: StretchDoc, y: float) -> tuple[Letter, ...]:
    """The letter under the middle of a stretch; none for a stretch of no length."""
    middle = stretch.start_ms + stretch.length_ms // 2
    return (Letter(name, share(middle, doc.runtime_ms), y),) if stretch.length_ms else ()


def _ms(doc: PlanDocument, frames: int) -> int:
    """Frames in ms, to the nearest, half up."""
    return int(frames * 1000 / Fraction(doc.rate) + Fraction(1, 2))


def _speed(segment: SegmentDoc) -> str:
    """A speed with one decimal below 10, none above."""
    speed = float(Fraction(segment.speed or 1))
    return f"{speed:.1f}" if speed < 9.95 else f"{speed:.0f}"
