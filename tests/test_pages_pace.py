"""The picture of the pace says what the plan says. Values are read back from the drawing, by its own scale.

A reader's ruler is used: a height counts as what the two labels of its lane's scale make of it, and a place as its
share of the width; html5lib reads the page.
"""

from __future__ import annotations

import re
from fractions import Fraction
from itertools import pairwise
from math import log2
from typing import Any
from xml.etree.ElementTree import Element

import pytest

from episodekit.formats.plan_document import PaceDoc, PlanDocument, StretchDoc
from episodekit.outside.pages import page
from tests.page_jobs import docs, squeezed
from tests.test_pages import parsed, words_of

__all__ = ["docs"]

each_job = pytest.mark.parametrize("job", ["lamp", "long", "filmed"])


def section(doc: PlanDocument) -> Element:
    """The part of the shot list that tells the pace; tags without their namespaces."""
    (found,) = [e for e in parsed(page("shot-list.html", doc)).iter("section") if e.get("id") == "pace"]
    for element in found.iter():
        element.tag = str(element.tag).rpartition("}")[2]
    return found


def lane(doc: PlanDocument, name: str) -> Element:
    """A lane of the picture."""
    (found,) = [e for e in section(doc).iter("g") if e.get("class") == f"lane {name}"]
    return found


def drawn(where: Element, kind: str) -> list[Element]:
    """The marks of a kind, in the order in which they are drawn."""
    return [e for e in where.iter() if e.tag in {"rect", "line"} and kind in e.get("class", "").split()]


def number(element: Element, name: str) -> float:
    """An attribute in per cent or pixels."""
    return float(element.get(name, "").removesuffix("%"))


def scale(where: Element) -> list[tuple[float, float]]:
    """The labels of a lane's scale as (value, pixels down); lengths in seconds."""
    found = []
    for text in where.iter("text"):
        if text.get("class") == "scale":
            value, unit = re.fullmatch(r"(\d+)\s?(x|s|min|h|)", words_of(text)).groups()  # type: ignore[union-attr]
            times = {"min": 60, "h": 3600}.get(unit, 1)
            found.append((float(value) * times, number(text, "y")))
    return sorted(found)


def across(marks: list[Element]) -> list[tuple[float, float]]:
    """Where marks start and how wide they are, in per cent."""
    return [(number(mark, "x"), number(mark, "width")) for mark in marks]


def shares(parts: list[tuple[int, int]], whole: int) -> list[Any]:
    """What `across` should find, to the third decimal in which it is written."""
    return [
        (pytest.approx(100 * start / whole, abs=0.0011), pytest.approx(100 * long / whole, abs=0.0011))
        for start, long in parts
    ]


@each_job
def test_each_beat_is_a_bar_of_its_words_a_minute(docs: dict[str, PlanDocument], job: str) -> None:
    doc = docs[job]
    words = lane(doc, "words")
    bars, ruler = drawn(words, "beat"), scale(words)
    beats = [beat for step in doc.steps for beat in step.beats]
    (zero, base), (top, high) = ruler[0], ruler[-1]
    assert zero == 0
    assert across(bars) == shares([(b.start_ms, b.length_ms) for b in beats], doc.runtime_ms)
    for bar, beat in zip(bars, beats, strict=True):
        wpm = beat.words * 60_000 / beat.length_ms
        # Bars stand on the line of the zero, whose label hangs 4 px lower.
        assert number(bar, "y") + number(bar, "height") == pytest.approx(base - 4, abs=0.02)
        assert number(bar, "height") / (base - high) * top == pytest.approx(min(wpm, top), abs=0.1)
        plural = "s" * (beat.words != 1)
        assert f"{beat.id}: {beat.words} word{plural} in" in words_of(bar)
    faster = [b for b in beats if b.words * 60_000 / b.length_ms > top]
    assert across(drawn(words, "over")) == shares([(b.start_ms, b.length_ms) for b in faster], doc.runtime_ms)
    assert len(faster) == (1 if job == "filmed" else 0)
    (aim,) = drawn(words, "aim")
    assert (base - 4 - number(aim, "y1")) / (base - high) * top == pytest.approx(
        doc.pace.words_a_minute, abs=0.1
    )
    gaps = [(gap.start_ms, gap.length_ms) for gap in doc.pace.silences]
    assert across(drawn(words, "open")) == shares(gaps, doc.runtime_ms)
    # Nobody speaks over an open stretch.
    for start, long in gaps:
        assert not any(b.start_ms < start + long and start < b.start_ms + b.length_ms for b in beats)


@each_job
def test_each_shot_is_drawn_as_long_as_it_plays(docs: dict[str, PlanDocument], job: str) -> None:
    doc = docs[job]
    shots = lane(doc, "shots")
    bars, ruler = drawn(shots, "length"), scale(shots)
    (zero, base), (top, high) = ruler[0], ruler[-1]
    assert zero == 0
    assert across(bars) == shares([(s.start_frame, s.frames) for s in doc.segments], doc.frames)
    for bar, segment in zip(bars, doc.segments, strict=True):
        seconds = float(segment.frames / Fraction(doc.rate))
        assert number(bar, "height") / (base - high) * top == pytest.approx(seconds, abs=0.02 * top / 44)
    ticks = [number(tick, "x1") for tick in drawn(shots, "change")]
    assert ticks == [pytest.approx(100 * s.start_frame / doc.frames, abs=0.0011) for s in doc.segments[1:]]
    (most,) = drawn(shots, "most")
    worst = doc.pace.longest_picture
    ((left, width),) = across([most])
    assert left == pytest.approx(100 * worst.start_ms / doc.runtime_ms, abs=0.01)
    assert width == pytest.approx(100 * worst.length_ms / doc.runtime_ms, abs=0.01)


def test_speed_is_a_step_function_on_a_logarithmic_scale(docs: dict[str, PlanDocument]) -> None:
    doc = docs["filmed"]
    speeds = lane(doc, "speeds")
    ruler = scale(speeds)
    assert [value for value, _ in ruler] == [1, 4, 16, 60]
    (_, base), (top, high) = ruler[0], ruler[-1]
    for value, y in ruler:
        assert (base - y) / (base - high) == pytest.approx(log2(value) / log2(top), abs=0.01)
    footage = [s for s in doc.segments if s.speed]
    lines = drawn(speeds, "speed")
    assert across(lines) == shares([(s.start_frame, s.frames - s.hold_frames) for s in footage], doc.frames)
    read: list[Any] = [
        top ** ((base - 4 - number(e, "y") - number(e, "height") / 2) / (base - high)) for e in lines
    ]
    assert read == [pytest.approx(float(Fraction(s.speed or 0)), rel=0.003) for s in footage]
    assert len({round(speed) for speed in read}) >= 4  # from normal speed to curing
    assert max(read) == pytest.approx(60, rel=0.01)
    held = [(s.start_frame + s.frames - s.hold_frames, s.hold_frames) for s in footage if s.hold_frames]
    assert len(held) == 1
    assert across(drawn(speeds, "held")) == shares(held, doc.frames)
    # Where the line jumps, it is joined; it is broken over slates.
    met = [b.start_frame for a, b in pairwise(doc.segments) if a.speed and b.speed and not a.hold_frames]
    jumps = [number(join, "x1") for join in drawn(speeds, "join")]
    assert len(jumps) >= 3
    assert all(any(abs(x - 100 * at / doc.frames) < 0.0011 for at in met) for x in jumps)


def test_animatic_has_no_lane_of_speed_and_nothing_no_pace(docs: dict[str, PlanDocument]) -> None:
    names = [e.get("class") for e in section(docs["lamp"]).iter("g")]
    assert names == ["lane words", "lane shots"]
    gone = dict.fromkeys(("segments", "steps", "shots", "set_ups", "reads"), ())
    empty = docs["lamp"].model_copy(update={"frames": 0, "runtime_ms": 0, **gone})
    root = parsed(page("shot-list.html", empty))
    assert "pace" not in {e.get("id") for e in root.iter()}
    assert "#pace" not in {e.get("href") for e in root.iter("a")}


@each_job
def test_longest_stretches_are_named_with_length_and_place(docs: dict[str, PlanDocument], job: str) -> None:
    doc = docs[job]
    told = section(doc)
    rows = next(e for e in told.iter("ol") if e.get("class") == "longest").findall("li")
    stretches = (doc.pace.longest_silence, doc.pace.longest_picture, doc.pace.longest_without_question)
    names = ("Without narration", "Without a change of picture", "Without an open question")
    letters = {words_of(e): number(e, "x") for e in told.iter("text") if e.get("class") == "letter"}
    titles = {f"#step-{n}": step for n, step in enumerate(doc.steps, start=1)}
    assert len(rows) == 3
    for row, name, letter, stretch in zip(rows, names, "ABC", stretches, strict=True):
        said = words_of(row)
        assert name in said
        if not stretch.length_ms:
            assert "nowhere" in said
        elif stretch.length_ms == doc.runtime_ms:
            assert "the whole run time" in said
        else:
            end = stretch.start_ms + stretch.length_ms
            assert said.startswith(f"{letter} ")
            assert f"{stretch.length_ms / 1000:.1f} s, from {stretch.start_ms // 60_000}:" in said
            assert letters.pop(letter) == pytest.approx(
                50 * (stretch.start_ms + end) / doc.runtime_ms, abs=0.01
            )
            steps = [titles[link.get("href", "")] for link in row.iter("a")]
            assert all(squeezed(step.title) in said for step in steps)
            assert steps[0].start_ms <= stretch.start_ms < steps[0].start_ms + steps[0].screen_ms
            assert steps[-1].start_ms < end <= steps[-1].start_ms + steps[-1].screen_ms
    assert not letters


def test_whole_and_absent_stretches_are_told_apart(docs: dict[str, PlanDocument]) -> None:
    doc = docs["lamp"]
    none, whole = StretchDoc(start_ms=0, length_ms=0), StretchDoc(start_ms=0, length_ms=doc.runtime_ms)
    for stretch, said in (
        (none, "nowhere; a question is open throughout"),
        (whole, "no step asks a question"),
    ):
        pace = PaceDoc(
            words_a_minute=150,
            silences=(),
            longest_silence=none,
            longest_picture=whole,
            longest_without_question=stretch,
        )
        told = section(doc.model_copy(update={"pace": pace}))
        assert said in words_of(told)
        assert [words_of(e) for e in told.iter("text") if e.get("class") == "letter"] == ["B"]


@each_job
def test_each_step_says_what_to_do(docs: dict[str, PlanDocument], job: str) -> None:
    doc = docs[job]
    root = parsed(page("shot-list.html", doc))
    heads = {e.get("id"): words_of(e) for e in root.iter("th")}
    for number_, step in enumerate(doc.steps, start=1):
        assert squeezed(step.answer) in heads[f"step-{number_}"]
    if job == "filmed":
        (filming,) = [e for e in root.iter("section") if e.get("id") == "filming-order"]
        assert re.search(r"Close it [0-9.]+ s on screen pickup needed: \d+ s of Close it", words_of(filming))


@each_job
def test_trims_lead_to_their_beats(docs: dict[str, PlanDocument], job: str) -> None:
    doc = docs[job]
    root = parsed(page("shot-list.html", doc))
    lists = [e for e in root.iter("div") if e.get("id") == "trims"]
    beats = {beat.id: beat for step in doc.steps for beat in step.beats}
    assert len(lists) == (1 if doc.trims else 0)
    assert bool(doc.trims) == (job != "lamp")
    rows = {e.get("id"): words_of(e) for e in root.iter("tr")}
    for item, trim in zip([li for e in lists for li in e.iter("li")], doc.trims, strict=True):
        assert words_of(item) == f"{trim.words} of {beats[trim.beat].words} in {trim.beat}"
        (link,) = item.iter("a")
        row = rows[link.get("href", "")[1:]]
        assert squeezed(beats[trim.beat].text[:40]) in row
        assert f"trim {trim.words} word" in row


def test_drift_is_told_once_there_is_any(docs: dict[str, PlanDocument]) -> None:
    (table,) = [e for e in section(docs["filmed"]).iter("table") if e.get("class") == "drift"]
    drift = docs["filmed"].drift
    rows = [[words_of(cell) for cell in row] for row in table.iter("tr")][1:]
    assert drift.filmed_ms is not None
    assert drift.recorded_ms is not None
    runs = (drift.planned_ms, drift.filmed_ms, drift.recorded_ms)
    assert [row[:2] for row in rows] == [
        [name, f"0:{run // 1000:02d}"]
        for name, run in zip(("planned", "filmed", "recorded"), runs, strict=True)
    ]
    # as a reader would subtract the clocks in the table
    assert [row[2] for row in rows[1:]] == [f"{run // 1000 - runs[0] // 1000} s longer" for run in runs[1:]]
    assert not [e for e in section(docs["lamp"]).iter("table") if e.get("class") == "drift"]
