"""No stretch races by: ramps, actions and caps kept at every rate, whatever was filmed and bought.

At least 3 s a ramp and half a second an action are common practice, no source.
"""

from __future__ import annotations

import itertools
from collections.abc import Sequence
from datetime import timedelta
from fractions import Fraction
from math import ceil, floor

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from episodekit.base.time import Ms, Rate
from episodekit.bench.model import SpanKind
from episodekit.fit.model import Plays, Slate
from episodekit.fit.runs import Bounds, Cut, Item, Run, bounds, chosen, runs_of
from episodekit.footage.cover import Piece
from episodekit.timeline.episode import Episode
from episodekit.timeline.lay import LaidStep
from tests.conftest import LAMP
from tests.test_bench_log import START, clip, line
from tests.test_fit import TOP, episode, parts

END = START + timedelta(seconds=600)
RATES = [Rate.parse(text) for text in ("23.976", "25", "29.97", "30", "59.94")]
lengths = st.lists(
    st.one_of(st.integers(10, 1500).map(lambda n: Fraction(n, 20)), st.fractions(1, 60, max_denominator=997)),
    min_size=1,
    max_size=9,
)


def run(at: int, length: Fraction) -> Run:
    # Each run lies ten minutes after the one before it, so that none goes on in the next.
    start = Fraction(600 * at)
    return Run(at, at + 1, (Piece("top.mp4", start, start + length, start),), length)


@settings(max_examples=800, deadline=None)
@given(lengths, st.integers(1, 3000), st.sampled_from(RATES), st.integers(2, 60), st.integers(0, 8000))
def test_no_ramp_is_too_short_and_no_cap_is_broken(
    drawn: list[Fraction], frames: int, rate: Rate, high: int, ramp: int
) -> None:
    limits = bounds(Fraction(high), Ms(ramp), rate)
    drawn = [length for length in drawn if floor(length * rate.exact) >= limits.least]
    runs = [run(at, length) for at, length in enumerate(drawn)]
    cuts = chosen(runs, frames, limits, rate) if runs else ()
    whole = sum((length * rate.exact for length in drawn), Fraction(0))
    total = sum(cut.frames for cut in cuts)
    assert total <= min(frames, ceil(whole))
    # What is bought is shown, but for less than an action's time (and a frame a run, for whole frames).
    assert min(frames, floor(whole)) - total <= limits.least + len(runs)
    assert len({cut.speed for cut in cuts} - {1}) <= 1, "one speed a step"
    for cut in cuts:
        assert 1 <= cut.speed <= high
        assert cut.frames >= limits.least or frames < limits.least or whole <= frames
        assert cut.speed == 1 or cut.frames >= ramp / 1000 * rate.exact, "a ramp too short to follow"
        assert 0 <= cut.start < cut.end <= cut.run.length
        # No rounding makes it faster than it says; it may lack no more than a frame.
        assert (cut.end - cut.start) * rate.exact <= cut.frames * cut.speed
        assert (cut.end - cut.start) * rate.exact > (cut.frames - 1) * cut.speed
    for before, after in itertools.pairwise(cuts):
        assert before.run.at < after.run.at or (before.run is after.run and before.end <= after.start)


def shown(cuts: Sequence[Cut]) -> list[tuple[int, float, float, int, float]]:
    return [(c.run.at, float(c.start), float(c.end), c.frames, float(c.speed)) for c in cuts]


AT_25 = Rate(Fraction(25))
HANDWORK = bounds(Fraction(4), Ms(3000), AT_25)


def test_bounds_are_never_rounded_down() -> None:
    ntsc = Rate.parse("29.97")
    assert bounds(Fraction(4), Ms(3000), ntsc) == Bounds(Fraction(4), 90, 15)
    assert bounds(Fraction(4), Ms(0), AT_25) == Bounds(Fraction(4), 13, 13)


def test_short_run_beside_a_long_one_plays_at_normal_speed() -> None:
    cuts = chosen([run(0, Fraction(2)), run(1, Fraction(60))], 500, HANDWORK, AT_25)
    assert shown(cuts) == [(0, 0, 2, 50, 1), (1, 0, 60, 450, pytest.approx(60 * 25 / 450))]


def test_only_run_on_screen_for_less_than_a_ramp_plays_its_end_at_normal_speed() -> None:
    cuts = chosen([run(0, Fraction(10))], 60, HANDWORK, AT_25)
    assert shown(cuts) == [(0, 7.6, 10, 60, 1)]


def test_halves_that_would_be_slivers_become_one_stretch() -> None:
    # 5 s on screen: two halves of 2.5 s would both be too short, so it is cut from one end.
    cuts = chosen([run(0, Fraction(100))], 125, HANDWORK, AT_25)
    assert [(c.frames, c.speed) for c in cuts] == [(125, 4)]
    cuts = chosen([run(0, Fraction(100))], 150, HANDWORK, AT_25)
    assert shown(cuts) == [(0, 0, 12, 75, 4), (0, 88, 100, 75, 4)]


def test_many_short_runs_are_shown_at_normal_speed_not_as_slivers() -> None:
    cuts = chosen([run(n, Fraction(2)) for n in range(30)], 250, HANDWORK, AT_25)
    assert sum(cut.frames for cut in cuts) == 250
    assert {cut.speed for cut in cuts} == {1}
    assert {0, 29} <= {cut.run.at for cut in cuts}, "how it begins and how it ends"


def test_run_goes_on_over_the_files_of_one_camera_and_ends_at_a_gap() -> None:
    def item(name: str, start: int, since: int, camera: str | None = "top") -> Item:
        piece = Piece(name, Fraction(start), Fraction(start + 10), Fraction(since), camera)
        return Item(piece, SpanKind.WORK)

    a, b = item("top-1.mp4", 50, 1000), item("top-2.mp4", 0, 1010)
    assert [len(found.pieces) for found in runs_of([a, b], SpanKind.WORK)] == [2]
    for other in (
        item("top-2.mp4", 0, 1011),
        item("macro-1.mp4", 0, 1010, "macro"),
        item("top-1.mp4", 61, 1011),
    ):
        assert [len(found.pieces) for found in runs_of([a, other], SpanKind.WORK)] == [1, 1]
    wait = Item(b.piece, SpanKind.WAIT)
    assert [found.at for found in runs_of([a, wait, item("top-2.mp4", 10, 1020)], SpanKind.WORK)] == [0, 2]


# --- whole jobs ----------------------------------------------------------------------------------------------

KINDS = ["start", "keep", "wait", "b-roll", "retake", "done"]
STEPS = ["screws", "board", "solder", "result"]
WITH_B_ROLL = LAMP.replace(
    "- off: 4 x M3x10", "- off: 4 x M3x10\n- b-roll: the lamp on the desk | macro | 4 s"
)
logs = st.lists(
    st.tuples(
        st.one_of(st.integers(1, 400), st.integers(4000, 40_000)),  # ms, so that slivers occur
        st.sampled_from(KINDS),
        st.sampled_from(STEPS),
    ),
    max_size=45,
)


def stretches(fitted: Sequence[Plays | Slate], rate: Fraction) -> list[tuple[Plays, int, bool]]:
    """Continuous pictures at one speed: the first part, its frames with holds, and whether a must-show is in it."""
    found: list[tuple[Plays, int, bool]] = []
    before: Plays | None = None
    for part in fitted:
        if isinstance(part, Slate):
            before = None
            continue
        goes_on = (
            before is not None
            and before.speed == part.speed
            and (
                (
                    before.clip == part.clip
                    and abs(part.start - before.end) <= Fraction(1, 10) + part.speed / rate
                )
                or (before.clip != part.clip and part.start == 0 and before.end >= 600 - part.speed / rate)
            )
        )
        if goes_on:
            first, frames, must = found[-1]
            found[-1] = (first, frames + part.frames, must or part.shot is not None)
        else:
            found.append((part, part.frames, part.shot is not None))
        before = part
    return found


@settings(max_examples=600, deadline=None)
@given(
    logs,
    st.sampled_from(["23.976", "25", "29.97", "30"]),
    st.sampled_from(["0:45-1:30", "0:20-0:30", "2:00-3:00"]),
    st.sampled_from(["handwork", "repetition", "curing"]),
    st.booleans(),
)
def test_no_job_breaks_a_bound(
    drawn: list[tuple[int, str, str]], rate: str, target: str, work: str, macro: bool
) -> None:
    at, log = 0, ""
    for gap, kind, step in drawn:
        at += gap
        log += line(at / 1000, kind, step)
    text = WITH_B_ROLL.replace("frame rate: 25", f"frame rate: {rate}").replace("0:45-1:30", target)
    text = text.replace("- camera: top\n", f"- camera: top\n- work: {work}\n")
    clips = [TOP, clip("footage/top-2.mp4", 1200, created=END)]
    made = episode(log, [*clips, clip("footage/macro-1.mp4", 1500)] if macro else clips, text)
    check(made)


def check(made: Episode) -> None:
    rate, limits = made.timeline.rate.exact, made.plan.front.limits
    assert sum(laid.fitted.frames for laid in made.steps) == made.timeline.frames
    for laid in made.steps:
        fitted = laid.fitted
        assert fitted.frames >= fitted.planned
        caps = {
            SpanKind.WORK: getattr(limits, laid.step.work.value).high,
            SpanKind.WAIT: limits.curing.high,
            SpanKind.KEEP: 1,
            SpanKind.B_ROLL: 1,
        }
        for part in fitted.parts:
            if isinstance(part, Plays):
                assert 1 <= part.speed <= caps[part.kind]
                moving = (part.frames - part.hold) * part.speed
                kept = part.kind is SpanKind.KEEP  # as logged, to the nearest frame
                assert (part.end - part.start) * rate <= moving + (Fraction(1, 2) if kept else 0)
        for first, frames, must in stretches(fitted.parts, rate):
            if first.speed > 1:
                assert Fraction(frames) / rate >= Fraction(limits.ramp, 1000), (laid.step.id, "a short ramp")
            assert frames / rate >= Fraction(1, 2) or must, (laid.step.id, "a flash")
    whole: dict[str, list[LaidStep]] = {}  # a step that a read interrupts comes in two
    for laid in made.steps:
        whole.setdefault(laid.step.id, []).append(laid)
    for halves in whole.values():
        shots = halves[0].shots
        shown = {index: Fraction(0) for index in range(len(shots))}
        for laid in halves:
            for part, index in zip(laid.fitted.parts, laid.shows, strict=True):
                shown[index] += part.frames / rate
        for index, shot in enumerate(shots):
            if shot.kind == "must show":
                assert shown[index] >= Fraction((shot.asked or 0) - 100, 1000) - 1 / rate
            assert abs(shown[index] * 1000 - shot.length) <= 2
        length = sum(laid.fitted.frames for laid in halves) / rate
        assert sum(shot.length for shot in shots) == pytest.approx(length * 1000, abs=0.51)
        beats = {beat.id for laid in halves for beat in laid.time.beats}
        assert {beat for shot in shots for beat in shot.beats} == beats


def test_two_runs_round_a_dropped_wait_are_two_ramps_or_none() -> None:
    log = line(0, "start", "screws") + line(6, "wait") + line(300, "start", "screws") + line(306, "done")
    made = episode(log, [TOP], LAMP.replace("0:45-1:30", "0:20-0:30"))
    check(made)
    assert not [
        part
        for part in parts(made, "screws")
        if isinstance(part, Plays) and part.speed > 1 and part.frames < 75
    ]


def test_work_too_short_to_ramp_is_told() -> None:
    # Kept footage fills the words, so only a glimpse of the work is bought.
    log = line(0, "keep", "screws") + line(12, "start", "screws") + line(42, "done")
    made = episode(log, [TOP], LAMP.replace("0:45-1:30", "0:20-0:30"))
    work = [p for p in parts(made, "screws") if isinstance(p, Plays) and p.kind is SpanKind.WORK]
    found = [f for f in made.findings if f.code == "FIT-LEFT-OUT" and "Four screws" in f.message]
    assert all(part.speed == 1 for part in work)
    assert len(found) == 1
