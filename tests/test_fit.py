"""Picture meets words: sums to the frame, caps kept, and what a creator is told when they do not meet."""

from __future__ import annotations

from collections.abc import Sequence
from datetime import timedelta
from fractions import Fraction
from itertools import pairwise

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from episodekit.base.time import frames_to_seconds, ms_to_frames
from episodekit.bench.model import SpanKind
from episodekit.fit.model import Plays, Slate
from episodekit.footage.model import Clip
from episodekit.formats.bench_jsonl import read_bench_jsonl
from episodekit.job.hazards import DEFER, HAZARDS
from episodekit.job.reader import read_plan
from episodekit.pipeline import compile_episode
from episodekit.timeline.episode import Episode
from episodekit.timeline.model import Card, OverlayKind, Picture
from episodekit.timeline.turns import breadth, in_turns
from tests.conftest import LAMP
from tests.test_bench_log import EPOCH, START, STEPS, clip, kinds, line


def episode(log: str = "", clips: Sequence[Clip] = (), text: str = LAMP) -> Episode:
    plan, _ = read_plan(text.encode())
    assert plan is not None
    marks, _ = read_bench_jsonl(log.encode())
    return compile_episode(plan, marks, clips)


def parts(made: Episode, step: str) -> Sequence[Plays | Slate]:
    return next(laid.fitted.parts for laid in made.steps if laid.step.id == step)


def codes(made: Episode) -> set[str]:
    return {found.code for found in made.findings}


TOP = clip("footage/top-1.mp4")
MACRO = clip("footage/macro-1.mp4")


def test_work_fills_the_words_at_one_speed() -> None:
    made = episode(line(0, "start", "screws") + line(20, "done"), [TOP])
    (part,) = parts(made, "screws")
    assert isinstance(part, Plays)
    assert part.start == 0
    assert part.end == 20
    assert part.speed == Fraction(20 * 25, part.frames)
    planned = next(laid.time.length for laid in made.steps if laid.step.id == "screws")
    assert part.frames == ms_to_frames(planned, made.timeline.rate)


def test_wait_is_dropped_and_keep_plays_at_normal_speed() -> None:
    log = line(0, "start", "screws") + line(10, "wait") + line(50, "keep") + line(52, "start", "screws")
    made = episode(log + line(60, "done"), [TOP])
    first, keep, last = parts(made, "screws")
    assert isinstance(first, Plays)
    assert isinstance(keep, Plays)
    assert isinstance(last, Plays)
    assert (first.start, first.end, keep.start, keep.end, last.start) == (0, 10, 50, 52, 52)
    # The end gives up what would, by rounding to whole frames, push a ramp above its cap: a frame at most.
    assert 60 - last.speed / 25 < last.end <= 60
    assert (keep.speed, keep.frames) == (1, 50)
    assert first.speed == last.speed > 1


def test_must_show_filmed_by_its_camera_is_no_slate() -> None:
    log = line(0, "start", "board") + line(20, "keep") + line(24, "start", "board") + line(40, "done")
    made = episode(log, [TOP, MACRO])
    shown = [part for part in parts(made, "board") if isinstance(part, Plays) and part.shot is not None]
    assert [(part.clip, part.start, part.end, part.speed) for part in shown] == [
        ("footage/macro-1.mp4", 20, 24, 1)
    ]
    assert "FIT-UNFILMED" not in codes(made)


def test_must_show_without_footage_of_its_camera_is_a_slate() -> None:
    log = line(0, "start", "board") + line(20, "keep") + line(24, "start", "board") + line(40, "done")
    made = episode(log, [TOP])
    slates = [part for part in parts(made, "board") if isinstance(part, Slate)]
    # The step's words leave a little more than the 3 s asked to the must-show's block.
    assert [75 <= part.frames <= 100 for part in slates] == [True]
    assert codes(made) >= {"FIT-UNFILMED", "CLIP-OTHER-CAMERA"}


def test_keep_shorter_than_the_must_show_does_not_count() -> None:
    log = line(0, "start", "board") + line(20, "keep") + line(22, "start", "board") + line(40, "done")
    assert "FIT-UNFILMED" in codes(episode(log, [TOP, MACRO]))


def unfilmed(log: str, clips: Sequence[Clip], text: str = LAMP) -> tuple[str, str]:
    (found,) = [f for f in episode(log, clips, text).findings if f.code == "FIT-UNFILMED"]
    return found.message, found.remedy


def test_unfilmed_must_show_tells_how_near_it_came() -> None:
    """It may be in the footage: a mark is moved sooner than a shot is filmed again."""
    bare = line(0, "start", "board") + line(40, "done")
    brief = line(0, "start", "board") + line(20, "keep") + line(22, "start", "board") + line(40, "done")
    said, remedy = unfilmed(brief, [TOP, MACRO])
    assert "has 2 s of macro, and 3 s are asked" in said
    assert remedy.startswith("Move that mark or the next if macro shows more of it, ask for less, or film")
    said, remedy = unfilmed(bare, [TOP, MACRO])
    assert "no `keep` mark left for it, though macro was running" in said
    assert remedy == "Mark as `keep` where macro shows it, or film a pickup of 3 s."
    two = LAMP.replace("macro | 3 s\n", "macro | 3 s\n- must show: the chip | macro | 2 s\n")
    long = line(0, "start", "board") + line(20, "keep") + line(40, "done")
    said, remedy = unfilmed(long, [TOP, MACRO], two)
    assert "'The chip' is not filmed: the step has no `keep` mark left for it" in said
    assert remedy.startswith("Mark as `keep` where macro shows it, or film")
    for log in (bare, brief):
        said, remedy = unfilmed(log, [TOP])
        assert "no `keep` mark of the step is covered by macro" in said
        assert remedy == "Film a pickup of 3 s."


def test_what_cannot_be_filmed_again_is_not_asked_for_again() -> None:
    log = line(0, "start", "board") + line(1, "done")
    text = LAMP.replace("{#board}\n", "{#board}\n- no return\n")
    assert text != LAMP
    assert unfilmed(log, [TOP], text)[1] == "Film its result for 3 s."
    (found,) = [f for f in episode(log, [TOP], text).findings if f.code == "FIT-PICKUP"]
    assert found.remedy.startswith("Film its result for ")


def test_too_little_footage_is_held_then_slated_with_a_pickup() -> None:
    made = episode(line(0, "start", "screws") + line(1, "done"), [TOP])
    held, slate = parts(made, "screws")
    assert isinstance(held, Plays)
    assert isinstance(slate, Slate)
    assert (held.frames, held.hold, held.speed) == (100, 75, 1)
    assert slate.pickup
    found = next(f for f in made.findings if f.code == "FIT-PICKUP")
    assert f"pickup of {-(-slate.frames // 25)} s" in found.remedy


def test_too_much_footage_leaves_out_its_middle() -> None:
    made = episode(line(0, "start", "screws") + line(599, "done"), [TOP])
    first, last = parts(made, "screws")
    assert isinstance(first, Plays)
    assert isinstance(last, Plays)
    assert (first.start, last.end) == (0, 599)
    assert first.speed == last.speed == 4  # the legible cap of handwork
    assert first.end < last.start
    assert "FIT-LEFT-OUT" in codes(made)


def test_work_without_room_beside_a_keep_is_not_to_be_sped_up() -> None:
    log = line(0, "start", "screws") + line(60, "keep") + line(100, "done")
    (found,) = [f for f in episode(log, [TOP]).findings if f.code == "FIT-LEFT-OUT"]
    assert "what is kept and must be shown fills its words" in found.message
    assert found.remedy == "Mark idle time as `wait`, or end a keep earlier."


def test_long_keep_makes_the_step_longer() -> None:
    log = line(0, "start", "screws") + line(5, "keep") + line(45, "done")
    made = episode(log, [TOP])
    laid = next(laid for laid in made.steps if laid.step.id == "screws")
    assert laid.fitted.frames > laid.fitted.planned
    (found,) = [f for f in made.findings if f.code == "FIT-LONGER"]
    assert found.remedy == "End a keep earlier."


def test_step_lengthened_for_the_run_time_does_not_blame_its_keep() -> None:
    log = line(0, "start", "screws") + line(5, "keep") + line(7, "start", "screws") + line(90, "done")
    made = episode(log, [TOP], LAMP.replace("0:45-1:30", "4:00-5:00"))
    (found,) = [f for f in made.findings if f.code == "FIT-LONGER" and "Four screws" in f.message]
    assert found.remedy == "It was lengthened to come nearer to the run time. Say more over it."


def test_step_without_marks_is_noted_once_something_is_logged() -> None:
    made = episode(line(0, "start", "screws") + line(60, "done"), [TOP])
    assert "LOG-UNLOGGED" in codes(made)
    assert "LOG-UNLOGGED" not in codes(episode())


def test_clip_that_ends_before_its_logged_step() -> None:
    made = episode(line(0, "start", "screws") + line(60, "done"), [clip("footage/top-1.mp4", 20)])
    found = next(f for f in made.findings if f.code == "CLIP-UNCOVERED")
    assert "lacks 40 s" in found.message
    assert "episodekit sync" in found.remedy
    (part,) = parts(made, "screws")
    assert isinstance(part, Plays)
    assert part.end == 20


def test_two_buttons_pressed_at_once_leave_nothing_uncovered() -> None:
    log = line(10, "start", "screws") + line(10.008, "keep") + line(60, "done")
    made = episode(log, [TOP])
    assert "CLIP-UNCOVERED" not in codes(made)
    assert "CLIP-UNCOVERED" in codes(episode(log.replace("screws", "board"), [clip("footage/top-1.mp4", 5)]))


def test_camera_that_was_off_gives_slates_and_one_finding_a_step() -> None:
    made = episode(line(700, "start", "screws") + line(720, "keep") + line(760, "done"), [TOP])
    assert all(isinstance(part, Slate) for part in parts(made, "screws"))
    (found,) = [f for f in made.findings if f.code == "CLIP-UNCOVERED"]
    assert found.at.line == 1
    assert "before it: check the camera's clock with `episodekit sync`" in found.remedy


def test_log_without_any_clip_asks_for_the_clips() -> None:
    made = episode(line(0, "start", "screws") + line(60, "done"))
    assert [f.remedy for f in made.findings if f.code == "CLIP-UNCOVERED"] == ["Put the clips into footage/."]


def test_camera_clock_that_runs_behind_is_put_right() -> None:
    text = LAMP.replace("{view: macro}", "{view: macro, clock: 3.2 s behind}")
    log = line(0, "start", "board") + line(20, "keep") + line(24, "start", "board") + line(40, "done")
    shown = [
        p
        for p in parts(episode(log, [TOP, MACRO], text), "board")
        if isinstance(p, Plays) and p.shot is not None
    ]
    # 20 s true time is 16.8 s into a clip whose clock wrote its start 3.2 s too early.
    assert [(part.start, part.end) for part in shown] == [(Fraction(84, 5), Fraction(104, 5))]


def test_files_split_by_the_camera_play_as_one() -> None:
    second = clip("footage/top-2.mp4", created=START + timedelta(seconds=600))
    text = LAMP.replace("- off: 4 x M3x10", "- off: 4 x M3x10\n- work: repetition")
    made = episode(line(580, "start", "screws") + line(620, "done"), [TOP, second], text)
    first, last = parts(made, "screws")
    assert isinstance(first, Plays)
    assert isinstance(last, Plays)
    assert (first.clip, first.start, first.end) == ("footage/top-1.mp4", 580, 600)
    assert (last.clip, last.start) == ("footage/top-2.mp4", 0)
    # The 20 s end where the last whole frame of the draft ends.
    assert 20 - first.speed / 25 < last.end <= 20


def test_two_clips_of_one_camera_at_one_time_are_reported() -> None:
    made = episode("", [TOP, clip("footage/top-copy.mp4")])
    assert [str(f.at) for f in made.findings if f.code == "CLIP-TWO-CLIPS"] == ["footage/top-copy.mp4"]


def test_clips_of_no_camera_and_of_no_clock_are_reported() -> None:
    made = episode("", [clip("footage/IMG_1.mp4", created=None)])
    assert codes(made) >= {"CLIP-NO-CAMERA", "CLIP-NO-CLOCK"}


def test_animatic_shows_the_words_as_they_are_said() -> None:
    made = episode()
    cards = [segment.source for segment in made.timeline.segments if isinstance(segment.source, Card)]
    assert len(cards) == len(made.timeline.segments)
    spoken = [beat.text for laid in made.steps for beat in laid.step.beats]
    assert list(dict.fromkeys(card.words for card in cards)) == spoken


def test_hazard_step_is_never_shown_without_its_caution() -> None:
    made = episode(line(0, "start", "solder") + line(30, "done"), [TOP])
    at = 0
    covered = [(o.start, o.end) for o in made.timeline.overlays if o.kind is OverlayKind.CAUTION]
    for segment in made.timeline.segments:
        end = at + segment.frames
        if segment.step == "solder" and isinstance(segment.source, Picture):
            assert all(any(start <= frame < stop for start, stop in covered) for frame in range(at, end))
        at = end
    card = next(s.source for s in episode().timeline.segments if s.step == "solder")
    assert isinstance(card, Card)
    assert any("extraction" in text for text in card.cautions)


EVERY = [hazard.caution for hazard in HAZARDS.values()]
RISKY = LAMP.replace(
    "- hazard: fume, heat\n",
    f"- hazard: {', '.join(HAZARDS)}\n- caution: Mind the spring under the base.\n"
    "- caution: "
    + "The base is cast, and heavy. It has an edge; keep the cloth under it, " * 8
    + "always.\n",
)


def said(texts: Sequence[str]) -> str:
    return " ".join(" ".join(texts).split())


@pytest.mark.parametrize("stretch", [5, 30, 300])
def test_cautions_that_one_board_cannot_hold_are_shown_in_turns(stretch: int) -> None:
    made = episode(line(0, "start", "solder") + line(stretch, "done"), [TOP], RISKY)
    boards = [o for o in made.timeline.overlays if o.kind is OverlayKind.CAUTION]
    full = [o for o in boards if o.small]
    shown = said([o.text for o in full])
    assert all(text in shown for text in (*EVERY, "Mind the spring under the base."))
    assert RISKY[RISKY.index("The base is cast") :].splitlines()[0] in shown
    assert len(full) > 5
    assert {o.small for o in full} == {DEFER}
    assert all(a.end == b.start for a, b in pairwise(boards)), "one after the other, with no gap"
    lengths = [o.end - o.start for o in full]
    wanted = ms_to_frames(made.plan.front.limits.caution, made.timeline.rate)
    assert max(lengths) - min(lengths) <= 1, "evenly shared"
    assert max(lengths) <= wanted
    if len(boards) > len(full):
        assert set(lengths) == {wanted}, "short form only after each had its time"


def test_two_cautions_share_one_board_each_in_its_own_line() -> None:
    made = episode(line(0, "start", "solder") + line(300, "done"), [TOP])
    (full,) = [o for o in made.timeline.overlays if o.kind is OverlayKind.CAUTION and o.small]
    assert full.text.split("\n") == [HAZARDS["fume"].caution, HAZARDS["heat"].caution]


def test_slate_shows_every_caution_of_its_shot_beside_the_words() -> None:
    cards = [s.source for s in episode(text=RISKY).timeline.segments if s.step == "solder"]
    shown = said([text for card in cards if isinstance(card, Card) for text in card.cautions])
    assert all(text in shown for text in (*EVERY, "Mind the spring under the base.", DEFER))
    assert all(card.cautions[-1] == DEFER for card in cards if isinstance(card, Card))
    assert len({card.words for card in cards if isinstance(card, Card)}) == 1


@given(st.lists(st.text(max_size=300), max_size=6), st.integers(10, 200))
def test_turns_lose_no_word_and_hold_no_more_than_they_may(texts: list[str], most: int) -> None:
    turns = in_turns(texts, most)
    assert "".join(said([text for turn in turns for text in turn]).split()) == "".join(said(texts).split())
    assert all(sum(breadth(text) for text in turn) <= most for turn in turns)


def test_read_is_disclosed_on_screen_for_all_of_its_length() -> None:
    made = episode()
    (seen,) = [o for o in made.timeline.overlays if o.kind is OverlayKind.DISCLOSURE]
    at = sum(
        s.frames
        for s in made.timeline.segments[: [s.step for s in made.timeline.segments].index("tallow-read")]
    )
    length = sum(s.frames for s in made.timeline.segments if s.step == "tallow-read")
    assert (seen.start, seen.end) == (at, at + length)
    assert "paid for by Tallow Tools" in seen.text


marks = st.lists(st.tuples(st.integers(0, 700), kinds, st.sampled_from(["", *STEPS])), max_size=40)


@settings(max_examples=200, deadline=None)
@given(marks, st.booleans(), st.booleans())
def test_sums_are_exact_and_no_cap_is_broken(log: list[tuple[int, str, str]], top: bool, macro: bool) -> None:
    clips = [c for c, used in ((TOP, top), (MACRO, macro)) if used]
    made = episode("".join(line(*mark) for mark in sorted(log)), clips)
    rate, limits = made.timeline.rate, made.plan.front.limits
    assert sum(laid.fitted.frames for laid in made.steps) == made.timeline.frames
    waits = {span.step for span in made.spans if span.kind is SpanKind.WAIT}
    for laid in made.steps:
        assert laid.fitted.frames >= laid.fitted.planned > 0
        assert all(part.frames > 0 for part in laid.fitted.parts)
        for part in laid.fitted.parts:
            if not isinstance(part, Plays):
                continue
            assert 0 <= part.start < part.end <= 600
            assert 1 <= part.speed <= (limits.curing.high if laid.step.id in waits else limits.handwork.high)
            assert 0 <= part.hold < part.frames
            shown = frames_to_seconds(part.frames, rate) - frames_to_seconds(part.hold, rate)
            # What is shown is what was cut, to half a frame of screen time.
            assert abs(shown * part.speed - (part.end - part.start)) <= part.speed / rate.exact
    kept = [
        (s.step, float(s.start.seconds - EPOCH), float(s.end.seconds - EPOCH))
        for s in made.spans
        if s.kind is SpanKind.KEEP and s.end is not None
    ]
    for laid in made.steps:
        for part in laid.fitted.parts:
            if isinstance(part, Plays) and part.speed != 1:
                assert not any(
                    step == laid.step.id
                    and start < part.end - Fraction(1, 20)
                    and end > part.start + Fraction(1, 20)
                    for step, start, end in kept
                ), "a keep was sped up"
    starts = [chapter.start for chapter in made.chapters]
    assert starts[0] == 0
    assert starts == sorted(set(starts))


@pytest.mark.parametrize(
    "text", ["# A\n> One.\n", "# A\n- must show: a thing | | 3 s\n", "# A\n- bench: 1 min\n", "# A\n> ...\n"]
)
def test_smallest_plans_make_an_episode(text: str) -> None:
    made = episode(text=f"---\ntitle: A\n---\n{text}")
    assert made.timeline.frames > 0
