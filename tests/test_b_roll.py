"""B-roll: a cutaway laid over the narration, used where the words outrun the work and never elsewhere.

Source of the word: the trade's usage, "cutaway footage laid over narration"; its place in the order of what fills
a step (work, cutaway, hold, slate) is common practice, no source.
"""

from __future__ import annotations

import csv
import io
import itertools
import re
from fractions import Fraction

from hypothesis import given, settings
from hypothesis import strategies as st

from episodekit.base.place import Place
from episodekit.base.time import Frames, Ms, Rate
from episodekit.bench.model import Moment, Span, SpanKind
from episodekit.fit.case import B_ROLL_OFFER, Filmed, case_of
from episodekit.fit.model import Plays, Slate
from episodekit.fit.optimum import Demand, best
from episodekit.footage.cover import Piece
from episodekit.formats.plan_json import document
from episodekit.formats.shot_list_csv import write_shot_list_csv
from episodekit.job.model import BRoll, Limits, Step
from episodekit.job.units import Speeds
from episodekit.outside.pages import page
from episodekit.shots.model import Shot, ShotKind
from episodekit.timeline.episode import Episode
from episodekit.timeline.model import Card, Picture
from tests.conftest import LAMP
from tests.test_bench_log import clip, line
from tests.test_bench_log import read as read_log
from tests.test_fit import MACRO, TOP, codes, episode, parts
from tests.test_optimum import cost_of

SHELF = LAMP.replace("- off: 4 x M3x10", "- off: 4 x M3x10\n- b-roll: the lamp on its shelf | macro | 4 s")
WORK = line(0, "start", "screws") + line(4, "done")
FILMED = WORK + line(30, "b-roll", "screws") + line(40, "done")


def answer(made: Episode, step: str = "screws") -> str:
    return next(laid.answer for laid in made.steps if laid.step.id == step)


def shot(made: Episode, kind: ShotKind = ShotKind.B_ROLL) -> Shot:
    return next(shot for shot in made.shots if shot.kind is kind)


def test_b_roll_lies_where_the_hold_would_be() -> None:
    made = episode(FILMED, [TOP, MACRO], SHELF)
    work, cutaway = parts(made, "screws")
    assert isinstance(work, Plays)
    assert isinstance(cutaway, Plays)
    assert (work.kind, work.speed, work.frames) == (SpanKind.WORK, 1, 100)
    assert (cutaway.kind, cutaway.speed, cutaway.clip) == (SpanKind.B_ROLL, 1, "footage/macro-1.mp4")
    planned = next(laid.fitted.planned for laid in made.steps if laid.step.id == "screws")
    assert cutaway.frames == planned - 100
    assert cutaway.hold == 0
    assert f"b-roll {cutaway.frames / 25:.1f} s of The lamp on its shelf" in answer(made)
    assert "hold" not in answer(made)
    assert "FIT-PICKUP" not in codes(made)
    # The work below it is not told as filmed by the cutaway, nor the cutaway as work.
    assert (shot(made).length, shot(made).filmed) == (cutaway.frames * 40, True)


def test_b_roll_is_never_laid_when_the_work_fills_the_words() -> None:
    log = line(0, "start", "screws") + line(20, "done") + line(30, "b-roll", "screws") + line(40, "done")
    made = episode(log, [TOP, MACRO], SHELF)
    assert all(isinstance(p, Plays) and p.kind is SpanKind.WORK for p in parts(made, "screws"))
    assert "b-roll" not in answer(made)
    assert (shot(made).length, shot(made).filmed) == (0, True)


def test_b_roll_is_never_time_without_words() -> None:
    made = episode(FILMED, [TOP, MACRO], SHELF.replace("0:45-1:30", "3:00-4:00"))
    fitted = next(laid.fitted for laid in made.steps if laid.step.id == "screws")
    _, cutaway = fitted.parts
    assert isinstance(cutaway, Plays)
    assert cutaway.frames - cutaway.hold == fitted.planned - 100


def test_unfilmed_b_roll_is_what_to_film() -> None:
    made = episode(line(0, "start", "screws") + line(1, "done"), [TOP], SHELF.replace("| 4 s", "| 3 s"))
    slates = [part for part in parts(made, "screws") if isinstance(part, Slate)]
    assert "hold 3 s; pickup needed: 3 s of The lamp on its shelf, 3 s of Four screws" in answer(made)
    assert next(slate.frames for slate in slates) == 75
    (found,) = [f for f in made.findings if f.code == "FIT-PICKUP"]
    assert "such as The lamp on its shelf" in found.remedy
    cards = [s.source for s in made.timeline.segments if s.step == "screws" and isinstance(s.source, Card)]
    assert cards[0].heading == "The lamp on its shelf"
    assert "pickup" in cards[0].kicker
    assert not shot(made).filmed


def test_held_picture_comes_after_the_b_roll() -> None:
    log = line(0, "start", "screws") + line(4, "done") + line(30, "b-roll", "screws") + line(33, "done")
    _, cutaway = parts(episode(log, [TOP, MACRO], SHELF), "screws")
    assert isinstance(cutaway, Plays)
    assert cutaway.kind is SpanKind.B_ROLL
    assert cutaway.frames - cutaway.hold == 75
    assert cutaway.hold > 0


def test_b_roll_takes_the_span_that_is_named_like_it() -> None:
    text = SHELF.replace("- b-roll:", "- b-roll: the box | macro | 4 s\n- b-roll:")
    log = WORK + line(30, "b-roll", "screws").replace('"}', '", "text": "The lamp on its shelf"}')
    log += line(32, "b-roll", "screws") + line(35, "done")
    cutaways = [
        part
        for part in parts(episode(log, [TOP, MACRO], text), "screws")
        if isinstance(part, Plays) and part.kind is SpanKind.B_ROLL
    ]
    assert {part.what: part.start for part in cutaways} == {"The box": 32, "The lamp on its shelf": 30}


def test_unplanned_b_roll_has_a_shot_of_its_own() -> None:
    log = (
        WORK
        + line(30, "b-roll", "screws").replace('"}', '", "text": "rain on the window"}')
        + line(40, "done")
    )
    made = episode(log, [TOP, MACRO])
    assert "of rain on the window" in answer(made)
    extra = shot(made)
    assert (extra.what, extra.filmed, extra.asked) == ("Rain on the window", True, None)
    pictures = [s for s in made.timeline.segments if s.step == "screws" and isinstance(s.source, Picture)]
    assert [s.shot for s in pictures] == [extra.number - 1, extra.number]


def test_b_roll_is_no_bench_work() -> None:
    made = episode(line(30, "b-roll", "screws") + line(40, "done"), [TOP, MACRO], SHELF)
    assert any(f.code == "LOG-UNLOGGED" and "Four screws" in f.message for f in made.findings)
    assert all(isinstance(part, Slate) for part in parts(made, "screws"))


def test_retake_keeps_the_b_roll() -> None:
    log = line(0, "start", "screws") + line(5, "b-roll") + line(9, "retake") + line(20, "done")
    spans, findings = read_log(log)
    assert [(span.kind, span.length) for span in spans] == [(SpanKind.B_ROLL, 4), (SpanKind.WORK, 11)]
    assert not findings


def test_before_filming_b_roll_stands_for_words_that_outrun_the_bench_time() -> None:
    made = episode(text=SHELF.replace("- bench: 3 min", "- bench: 4 s"))
    *_, last = parts(made, "screws")
    assert isinstance(last, Slate)
    assert last.frames == 100
    assert answer(made).endswith("; b-roll 4 s of The lamp on its shelf")
    assert shot(made).length == 4000
    assert "b-roll" not in answer(episode(text=SHELF))


def test_shot_list_tells_what_is_asked_and_what_is_laid() -> None:
    for made, screen, filmed in (
        (episode(FILMED, [TOP, MACRO], SHELF), True, "yes"),
        (episode(text=SHELF), False, "no"),
    ):
        rows = list(csv.DictReader(io.StringIO(write_shot_list_csv(document(made, made.findings)))))
        (row,) = [row for row in rows if row["kind"] == "b-roll"]
        assert (row["what"], row["camera"], row["asked s"]) == ("The lamp on its shelf", "macro", "4")
        assert (float(row["screen s"]) > 0, row["filmed"]) == (screen, filmed)


def test_page_tells_b_roll_apart_and_whether_it_is_needed() -> None:
    short = line(0, "start", "screws") + line(1, "done")
    for log, clips, told in (
        ("", [], "b-roll, 4 s · not needed so far"),
        (FILMED, [TOP, MACRO], "b-roll, 4 s · 5.7 s on screen · filmed"),
        (short, [TOP], "pickup needed: 6 s of The lamp on its shelf"),
    ):
        made = episode(log, clips, SHELF)
        html = page("shot-list.html", document(made, made.findings))
        text = " ".join(re.sub(r"<[^>]+>", "", html).replace("\xa0", " ").split())
        row = text[text.index("The lamp on its shelf") :][:160]
        assert told in row, row


def test_two_b_rolls_of_a_log_without_plan_or_clip_are_quiet() -> None:
    made = episode(FILMED, [clip("footage/top-1.mp4", 10)], SHELF)
    assert answer(made).startswith("normal speed; hold 3 s; pickup needed: ")


# --- the optimum, with the offers of real steps ------------------------------------------------------------------

ONE = Rate(Fraction(1))  # a frame a second, so that everything can be tried
AT = Place("job.md", 1, 1)
seconds = st.lists(
    st.tuples(
        st.sampled_from([SpanKind.WORK, SpanKind.KEEP, SpanKind.WAIT, SpanKind.B_ROLL]), st.integers(1, 5)
    ),
    max_size=4,
)
cases = st.lists(st.tuples(st.integers(2, 9), seconds, st.booleans()), min_size=1, max_size=2)
LIMITS = Limits(
    curing=Speeds(Fraction(1), Fraction(2)),
    longest_hold=2000,
    open_stretch=3000,
    handwork=Speeds(Fraction(2), Fraction(4)),
)


def demand(planned: int, spans: list[tuple[SpanKind, int]], wanted: bool) -> Demand:
    filmed, at = [], 0
    for order, (kind, length) in enumerate(spans):
        start = Moment("wall", Fraction(at))
        span = Span("a", kind, start, Moment("wall", Fraction(at + length)), "", AT, order)
        filmed.append(Filmed(span, (Piece("top.mp4", Fraction(at), Fraction(at + length), Fraction(at)),)))
        at += length + 1
    step = Step(id="a", title="A", section="a", at=AT, bench=3000)
    shots = [Shot("a", 0, ShotKind.WORK, "A", "", "", Ms(0), Ms(planned * 1000), None, (), (), False, AT)]
    if wanted:
        view = BRoll(what="it", camera=None, length=2000, at=AT)
        step = step.model_copy(update={"b_roll": (view,)})
        shots.append(
            Shot("a", 1, ShotKind.B_ROLL, "It", "", "", Ms(0), Ms(0), None, (), (), False, AT, asked=Ms(2000))
        )
    return case_of(step, shots, Frames(planned), filmed, ONE, LIMITS).demand


def cheapest(one: Demand) -> dict[int, int]:
    """The least cost of each length the step can have, by trying every purchase."""
    found: dict[int, int] = {}
    for way in itertools.product(*(range(offer.frames + 1) for offer in one.offers)):
        total, cost = one.fixed + sum(way), cost_of(one, way)
        if total >= one.least and cost is not None:
            found[total] = min(cost, found.get(total, cost))
    return found


@settings(max_examples=1000, deadline=None)
@given(cases, st.integers(0, 30), st.integers(0, 8))
def test_no_other_use_of_the_footage_is_better(
    drawn: list[tuple[int, list[tuple[SpanKind, int]], bool]], low: int, width: int
) -> None:
    demands = [demand(*one) for one in drawn]
    found = best(demands, low, low + width)
    ways = [cheapest(one) for one in demands]
    costs = [
        sum(way[total] for way, total in zip(ways, totals, strict=True))
        for totals in itertools.product(*ways)
        if low <= sum(totals) <= low + width
    ]
    if costs:
        assert (found.cost, found.short, found.over) == (min(costs), 0, 0)
    for one, bought in zip(demands, found.steps, strict=True):
        cutaway, work = bought.frames[B_ROLL_OFFER], sum(bought.frames[:4])
        held = bought.frames[B_ROLL_OFFER + 1]
        if cutaway:
            assert work == sum(offer.frames for offer in one.offers[:4]), "b-roll before work"
            assert cutaway <= one.least - one.fixed - work, "b-roll as time without words"
        if held and bought.total <= one.least:
            assert cutaway == one.offers[B_ROLL_OFFER].frames, "a hold before b-roll"
