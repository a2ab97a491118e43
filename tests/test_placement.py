"""Where reads and ad breaks play: the search against trying every placement there is."""

from __future__ import annotations

import random
from collections.abc import Iterator
from itertools import combinations, pairwise, permutations

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from episodekit.base.time import clock
from episodekit.formats.plan_json import document
from episodekit.job.model import Plan
from episodekit.job.reader import read_plan
from episodekit.pipeline import compile_episode
from episodekit.slots.collide import colliding, only, terms_of
from episodekit.slots.judge import misses
from episodekit.slots.model import BreakTerms, Problem, ReadTerms, Span, Term
from episodekit.slots.search import possible, search

# The reference is written from the terms alone: it lays every episode out in full, measures it, and takes the best.


def every_order(problem: Problem) -> Iterator[list[tuple[int, int]]]:
    """Every row of (who, boundary) in which each read plays once and as many ad breaks as may be."""
    open_at = [n for n, is_open in enumerate(problem.open) if is_open]
    count = problem.breaks.count if problem.breaks else Span(0, 0)

    def rows(row: list[int], start: int) -> Iterator[list[tuple[int, int]]]:
        if not row:
            yield []
            return
        for n in open_at:
            if n >= start and not (row[0] < 0 and not 0 < n < len(problem.frames)):
                for rest in rows(row[1:], n):
                    yield [(row[0], n), *rest]

    for order in permutations(range(len(problem.reads))):
        for breaks in range(count.low, count.high + 1):
            for places in combinations(range(len(order) + breaks), breaks):
                row, reads = [], iter(order)
                for n in range(len(order) + breaks):
                    row.append(-1 if n in places else next(reads))
                yield from rows(row, 0)


def measured(problem: Problem, row: list[tuple[int, int]]) -> tuple[int, int, int] | None:
    """Frames by which terms are broken, points lost, and earliness; None if two breaks fall on one instant."""
    at = 0
    units: list[tuple[int, int, frozenset[str]]] = []
    events: list[tuple[int, int, int, int]] = []
    for n in range(len(problem.frames) + 1):
        for who, boundary in row:
            if boundary == n:
                length = problem.reads[who].frames if who >= 0 else 0
                events.append((who, n, at, at + length))
                at += length
        if n < len(problem.frames):
            units.append((at, at + problem.frames[n], problem.classes[n]))
            at += problem.frames[n]
    miss = points = 0
    number = 0
    for index, (who, boundary, start, end) in enumerate(events):
        terms = problem.reads[who] if who >= 0 else problem.breaks
        assert terms is not None
        points += terms.points[boundary]
        if terms.starts is not None:
            miss += max(0, terms.starts.low - start) + max(0, start - terms.starts.high)
        for name, distance in terms.clear.items():
            after = [begin - end for begin, _, classes in units if name in classes and begin >= end]
            before = [start - stop for _, stop, classes in units if name in classes and stop <= start]
            for gaps in (after, before):
                if gaps:
                    miss += max(0, distance - min(gaps))
        if isinstance(terms, BreakTerms):
            number += 1
            points += terms.more if number > terms.count.low else 0
            miss += max(0, terms.run_time - at)
        for other, _, other_start, _ in events[index + 1 :]:
            gap = other_start - end
            if who >= 0 and other >= 0:
                miss += max(0, max(problem.reads[who].reads, problem.reads[other].reads) - gap)
            elif who >= 0 or other >= 0:
                assert problem.breaks is not None
                read = problem.reads[max(who, other)]
                miss += max(0, max(read.ad_breaks, problem.breaks.reads) - gap)
    breaks = [start for who, _, start, _ in events if who < 0]
    for one, two in pairwise(breaks):
        assert problem.breaks is not None
        if one == two:
            return None
        apart = problem.breaks.apart
        miss += max(0, apart.low - (two - one)) + max(0, two - one - apart.high)
    return miss, -points, sum(boundary for _, boundary in row)


@st.composite
def problems(draw: st.DrawFn) -> Problem:
    units = draw(st.integers(1, 5))
    frames = tuple(draw(st.lists(st.integers(1, 12), min_size=units, max_size=units)))
    classes = tuple(
        draw(st.lists(st.frozensets(st.sampled_from("ab"), max_size=2), min_size=units, max_size=units))
    )
    inner = st.lists(st.sampled_from((True, True, False)), min_size=units - 1, max_size=units - 1)
    is_open = (False, *draw(inner), True)  # never before the first picture; always after the last
    points = st.lists(st.integers(0, 5), min_size=units + 1, max_size=units + 1).map(tuple)
    clear = st.dictionaries(st.sampled_from("ab"), st.integers(1, 15), max_size=2)
    window = st.tuples(st.integers(0, 60), st.integers(0, 60)).map(lambda pair: Span(*sorted(pair)))
    reads = tuple(
        ReadTerms(
            name,
            draw(st.integers(1, 10)),
            draw(st.none() | window),
            draw(clear),
            draw(st.sampled_from((0, 0, 5, 12))),
            draw(st.sampled_from((0, 0, 5, 12))),
            draw(points),
        )
        for name in "xyz"[: draw(st.integers(0, 3))]
    )
    breaks = None
    if draw(st.booleans()):
        fewest = draw(st.integers(0, 3 if units > 3 else 2))
        low = draw(st.integers(0, 8))
        breaks = BreakTerms(
            Span(fewest, min(4 if units < 5 and len(reads) < 3 else 3, fewest + draw(st.integers(0, 2)))),
            Span(low, low + draw(st.sampled_from((0, 5, 20, 500)))),
            draw(window | st.just(Span(0, 10**6))),
            draw(clear),
            draw(st.sampled_from((0, 0, 5))),
            draw(points),
            draw(st.integers(0, 8)),
            draw(st.sampled_from((0, 0, 0, 30))),
        )
    return Problem(frames, classes, is_open, reads, breaks)


@settings(max_examples=1500, deadline=None)
@given(problems())
def test_the_placement_is_the_one_that_trying_every_one_finds(problem: Problem) -> None:
    best = min((found for row in every_order(problem) if (found := measured(problem, row))), default=None)
    made = search(problem)
    assert (made is None) == (best is None)
    assert possible(problem) == (best is not None and best[0] == 0)
    if made is not None:
        again = measured(problem, [(event.who, event.boundary) for event in made.events])
        assert again == best
        assert (made.miss, -made.points) == best[:2]


@settings(max_examples=1000, deadline=None)
@given(problems())
def test_the_named_terms_collide_and_none_of_them_is_idle(problem: Problem) -> None:
    def best(terms: tuple[Term, ...]) -> int | None:
        freed = only(problem, terms)
        found = min((m for row in every_order(freed) if (m := measured(freed, row))), default=None)
        return None if found is None else found[0]

    named = colliding(problem)
    if not named:
        assert best(terms_of(problem)) == 0
        return
    assert best(named) != 0
    for dropped in named:
        assert best(tuple(term for term in named if term != dropped)) == 0
    for size in range(len(named)):
        for fewer in combinations(terms_of(problem), size):
            assert possible(only(problem, fewer)), f"{fewer} collide, and are fewer than {named}"


def crowded(seed: int) -> Problem:
    """Three reads and ad breaks under thirty terms: far more choices of a few than can be tried one by one."""
    chance = random.Random(seed)
    kinds = ("hazard", "caution", "failure", "cell")
    frames = tuple(chance.randint(3, 9) for _ in range(16))
    classes = tuple(frozenset(kind for kind in kinds if chance.random() < 0.15) for _ in frames)
    total, worthless = sum(frames) + 30, (0,) * 17

    def clear() -> dict[str, int]:
        return {kind: chance.randint(2, 20) for kind in kinds}

    reads = []
    for name in "abc":
        low = chance.randint(0, total // 2)
        window = Span(low, low + chance.randint(20, 60))
        reads.append(
            ReadTerms(name, 10, window, clear(), chance.randint(5, 40), chance.randint(5, 30), worthless)
        )
    apart = Span(20, chance.randint(25, 50))
    breaks = BreakTerms(Span(3, 4), apart, Span(10, total), clear(), chance.randint(5, 20), worthless, 1, 0)
    return Problem(frames, classes, (False, *(True,) * 16), tuple(reads), breaks)


@pytest.mark.parametrize("seed", [0, 6, 14])
def test_no_smaller_set_collides_however_many_terms_there_are(seed: int) -> None:
    problem = crowded(seed)
    named = colliding(problem)
    assert len(named) == 3
    assert not possible(only(problem, named))
    for dropped in named:
        assert possible(only(problem, [term for term in named if term != dropped]))
    for pair in combinations(terms_of(problem), 2):
        assert possible(only(problem, pair)), f"{pair} collide, and are fewer than {named}"


@settings(max_examples=500, deadline=None)
@given(problems())
def test_the_numbers_of_a_miss_add_up_to_what_the_search_weighed(problem: Problem) -> None:
    made = search(problem)
    if made is not None:
        assert sum(miss.frames for miss in misses(problem, made)) == made.miss


# From a plan: the whole road with reads and ad breaks.

STORY = """---
title: A lamp
runtime: 2:00-40:00
reads:
  acorn: {sponsor: Acorn Tools, starts: STARTS, keep clear of: {hazard: 5 s}}
BREAKS---
# Open
- ask lamp: Can it be saved?
> One two three four five six seven eight nine ten eleven twelve thirteen fourteen fifteen sixteen.
# Work
## Clean {#clean}
- bench: 10 min
PARAGRAPHS
## Solder {#solder}
- bench: 10 min
- hazard: fume, heat
> I solder the joint, and it takes a while until the iron is hot enough to do that well.
# Answer
- answer lamp: yes
> Yes. It can be saved, and it burns as if nothing had ever happened to it at all.
# Read {#acorn-read}
- read: acorn
> This part is paid for by Acorn Tools, who make the iron that you saw a moment ago.
"""
BEAT = (
    "> I clean the foot of the lamp with a brush and some soap, and I take my time over every corner of it."
)


def story(starts: str, beats: int, breaks: str = "") -> Plan:
    text = STORY.replace("STARTS", starts).replace("PARAGRAPHS", "\n\n".join([BEAT] * beats))
    plan, findings = read_plan(text.replace("BREAKS", breaks).encode())
    assert plan is not None
    assert not [f for f in findings if f.severity == "error"]
    return plan


def test_a_read_may_interrupt_a_step_between_two_beats_and_nothing_is_lost() -> None:
    plan = story("0:15 to 0:30", 8)
    episode = compile_episode(plan)
    (read,) = episode.reads
    assert read.inside
    assert read.before == "clean"
    rows = [(laid.step.id, laid.continued) for laid in episode.steps]
    assert rows == [
        ("open", False),
        ("clean", False),
        ("acorn-read", False),
        ("clean", True),
        ("solder", False),
        ("answer", False),
    ]
    first, second = episode.steps[1], episode.steps[3]
    whole = compile_episode(story("90% to 100%", 8))
    uncut = next(laid for laid in whole.steps if laid.step.id == "clean")
    assert first.step.beats + second.step.beats == uncut.step.beats
    assert first.fitted.frames + second.fitted.frames == uncut.fitted.frames
    assert first.time.length + second.time.length == uncut.time.length
    assert sum(segment.frames for segment in episode.timeline.segments) == episode.timeline.frames
    # The cut lies in the pause: no beat is cut, and each beat's words stand inside its own part.
    for laid in (first, second):
        length = laid.time.length
        assert all(beat.start >= 0 and beat.start + beat.length <= length for beat in laid.time.beats)
    document(episode, episode.findings)


def test_no_hazard_payoff_or_point_of_no_return_is_ever_interrupted() -> None:
    for fact in (
        "- hazard: cell",
        "- caution: hot",
        "- heat: 65 C, 8 min",
        "- no return",
        "- answer lamp: yes",
    ):
        text = STORY.replace("STARTS", "0:15 to 0:30").replace("BREAKS", "")
        text = text.replace("PARAGRAPHS", f"{fact}\n" + "\n\n".join([BEAT] * 8))
        plan, _ = read_plan(text.encode())
        assert plan is not None
        episode = compile_episode(plan)
        assert not any(laid.continued for laid in episode.steps), fact


def test_ad_breaks_stand_as_far_apart_as_asked_and_none_in_a_short_episode() -> None:
    asked = "ad breaks: {count: 2-4, apart: 1-2 min, run time: 3 min, keep clear of: {read: 20 s}}\n"
    episode = compile_episode(story("before 50%", 40, asked))
    starts = [one.start for one in episode.ad_breaks]
    assert 2 <= len(starts) <= 4
    assert all(60_000 <= later - earlier <= 120_000 for earlier, later in pairwise(starts))
    (read,) = episode.reads
    assert all(one >= read.start + read.length + 20_000 or one <= read.start - 20_000 for one in starts)
    assert not [f for f in episode.findings if f.code == "SLOT-NO-PLACE"]
    assert "a question is open (20)" in episode.ad_breaks[0].why

    short = compile_episode(story("before 50%", 4, "ad breaks: {}\n"))
    assert short.ad_breaks == ()
    told = next(f for f in short.findings if f.code == "SLOT-NO-BREAKS")
    assert "8:00" in told.message


def test_terms_that_collide_are_named_with_the_nearest_miss() -> None:
    asked = "ad breaks: {count: 3, apart: 4-6 min}\n"
    episode = compile_episode(story("before 5%", 8, asked))
    window, breaks = (f for f in episode.findings if f.code == "SLOT-NO-PLACE")
    assert "'acorn' starts 0:00 to 5% (0:00 to 0:05 here)" in window.message
    assert "'acorn' at 0:08 is 3.4 s too late" in window.message
    assert "Widen `starts`" in window.remedy
    assert "3 ad breaks" in breaks.message
    assert "The nearest miss: " in breaks.message
    assert "sk for fewer ad breaks" in breaks.remedy


def test_what_stands_too_near_is_told_with_the_time_of_each() -> None:
    birch = "  birch: {sponsor: Birch Brushes, starts: 0:15 to 0:30, keep clear of: {read: 4 min}}\n"
    text = STORY.replace("STARTS", "0:15 to 0:40").replace("PARAGRAPHS", "\n\n".join([BEAT] * 8))
    text = text.replace("BREAKS", birch)
    text += "# Read {#birch-read}\n- read: birch\n> This part is paid for by Birch Brushes.\n"
    plan, _ = read_plan(text.encode())
    assert plan is not None
    episode = compile_episode(plan)
    (told,) = (f for f in episode.findings if f.code == "SLOT-NO-PLACE")
    at = {read.name: clock(read.start) for read in episode.reads}
    assert f"'birch' at {at['birch']} is " in told.message
    assert f" too near to 'acorn' at {at['acorn']}" in told.message
    assert all("the nearest miss" in read.why for read in episode.reads)


def test_more_reads_than_can_be_weighed_are_told_and_none_is_lost() -> None:
    names = [f"r{n}" for n in range(8)]
    reads = "".join(f"  {name}: {{sponsor: Sponsor {name}}}\n" for name in names)
    texts = "".join(f"# Read {name}\n- read: {name}\n> Paid for by sponsor {name}.\n" for name in names)
    plan, _ = read_plan(
        f"---\ntitle: A lamp\nreads:\n{reads}---\n# Open\n> Words.\n# End\n> Words.\n{texts}".encode()
    )
    assert plan is not None
    episode = compile_episode(plan)
    told = next(f for f in episode.findings if f.code == "SLOT-MANY")
    assert "'r6', 'r7' stand at the end" in told.message
    assert sorted(read.name for read in episode.reads) == names
    assert [laid.step.read for laid in episode.steps[-2:]] == ["r6", "r7"]
    assert episode.reads[-1].start + episode.reads[-1].length == episode.runtime


def test_a_window_that_is_empty_is_missed_on_both_sides() -> None:
    episode = compile_episode(story("9:00 to 10%", 8))
    (told,) = (f for f in episode.findings if f.code == "SLOT-NO-PLACE")
    assert "(empty here)" in told.message
    assert told.message.count("too early") == told.message.count("too late") == 1
