"""The shot list: every beat covered, and a filming order that never crosses a point of no return."""

from __future__ import annotations

import pytest
from hypothesis import given
from hypothesis import strategies as st

from episodekit.job.hazards import DEFER
from episodekit.job.reader import read_plan
from episodekit.pipeline import compile_episode
from episodekit.shots.model import ShotKind
from episodekit.timeline.episode import Episode
from tests.conftest import LAMP


def episode(text: str) -> Episode:
    plan, _ = read_plan(text.encode())
    assert plan is not None
    return compile_episode(plan)


def test_shots_cover_every_beat_and_fill_their_step() -> None:
    made = episode(LAMP)
    covered = {beat for shot in made.shots for beat in shot.beats}
    assert covered == {beat.id for laid in made.steps for beat in laid.step.beats}
    for laid in made.steps:
        at = 0
        for shot in laid.shots:
            assert shot.start == at
            assert shot.length > 0
            at += shot.length
        assert at == pytest.approx(laid.time.length, abs=20)  # half a frame


def test_shots_are_numbered_in_screen_order() -> None:
    made = episode(LAMP)
    assert [shot.number for shot in made.shots] == list(range(1, len(made.shots) + 1))
    assert [shot.number for laid in made.steps for shot in laid.shots] == [shot.number for shot in made.shots]


def test_must_show_comes_with_the_beat_it_was_written_before() -> None:
    text = LAMP.replace(
        "- must show: the cracked joint | macro | 3 s\n> And there it is. One joint",
        "> And there it is.\n\n- must show: the cracked joint | macro | 3 s\n\n> One joint",
    )
    shot = next(shot for shot in episode(text).shots if shot.kind is ShotKind.MUST_SHOW)
    assert shot.beats == ("board.2",)


def test_hazard_step_carries_its_cautions_and_defers_to_local_codes() -> None:
    for shot in episode(LAMP).shots:
        if shot.step == "solder":
            assert any("extraction" in text for text in shot.cautions)
            assert shot.cautions[-1] == DEFER
        else:
            assert shot.cautions == ()


def test_warming_is_a_hazard_even_if_nobody_says_so() -> None:
    shot = episode(LAMP.replace("- hazard: fume, heat", "- heat: 60 C, 5 min")).shots[-2]
    assert "Heat: 60 °C for 5 min, if the adhesive's own sheet says so" in shot.cautions


def alternating(extra: str) -> Episode:
    """Six steps that alternate between two cameras."""
    return episode(
        "---\ntitle: A\ncameras: {top: {view: o}, macro: {view: m}}\n---\n# A\n"
        + "".join(
            f"## Step {n} {{#s{n}}}\n- camera: {'top' if n % 2 else 'macro'}\n{extra}> Words for it.\n\n"
            for n in range(6)
        )
    )


def test_steps_are_filmed_in_their_order() -> None:
    # What lies under a cover cannot be filmed before the cover is off, whatever camera stands ready.
    made = alternating("")
    assert [number for set_up in made.set_ups for number in set_up.shots] == [1, 2, 3, 4, 5, 6]


def test_steps_of_any_time_are_filmed_with_one_set_up_a_camera() -> None:
    assert [set_up.camera for set_up in alternating("- any time\n").set_ups] == ["macro", "top"]


def test_hazard_is_a_barrier_even_to_steps_of_any_time() -> None:
    made = alternating("- any time\n- hazard: mains\n")
    assert [number for set_up in made.set_ups for number in set_up.shots] == [1, 2, 3, 4, 5, 6]


def test_view_of_a_result_is_filmed_after_the_work() -> None:
    text = (
        "---\ntitle: A\ncameras: {top: {view: o}, macro: {view: m}}\n---\n# A\n"
        "## One {#one}\n- camera: macro\n> Words for it.\n\n"
        "## Two {#two}\n- camera: top\n- must show: it | macro | 2 s\n> Many more words are said about this one.\n"
    )
    made = episode(text)
    assert [number for set_up in made.set_ups for number in set_up.shots] == [1, 2, 3]


steps = st.lists(
    st.tuples(
        st.sampled_from(["top", "macro", "side"]),
        st.booleans(),
        st.integers(0, 8),
        st.booleans(),
        st.booleans(),
    ),
    min_size=1,
    max_size=9,
)


@given(steps)
def test_filming_order_keeps_needs_and_points_of_no_return(
    drawn: list[tuple[str, bool, int, bool, bool]],
) -> None:
    text = "---\ntitle: A\ncameras: {top: {view: o}, macro: {view: m}, side: {view: s}}\n---\n# A\n"
    for number, (camera, no_return, need, must, any_time) in enumerate(drawn):
        text += f"## Step {number} {{#s{number}}}\n- camera: {camera}\n"
        text += f"- needs: s{need}\n" if need < number else ""
        text += "- no return\n" if no_return else ""
        text += "- any time\n" if any_time else ""
        text += "- must show: it | side | 2 s\n" if must else ""
        text += "> Some words are said about it here.\n\n"
    made = episode(text)
    order = [number for set_up in made.set_ups for number in set_up.shots]
    assert sorted(order) == [shot.number for shot in made.shots]
    place = {number: index for index, number in enumerate(order)}
    by_number = {shot.number: shot for shot in made.shots}
    index_of = {laid.step.id: n for n, laid in enumerate(made.steps)}
    for a in made.shots:
        for b in made.shots:
            if index_of[a.step] < index_of[b.step] and (a.no_return or b.no_return):
                assert place[a.number] < place[b.number], "filmed across a point of no return"
            movable = drawn[index_of[a.step]][4] or drawn[index_of[b.step]][4]
            if index_of[a.step] < index_of[b.step] and not movable:
                assert place[a.number] < place[b.number], "filmed out of the bench's order"
            needs = next(laid.step.needs for laid in made.steps if laid.step.id == b.step)
            if a.step in needs:
                assert place[a.number] < place[b.number], "filmed before what it needs"
    for set_up in made.set_ups:
        assert {by_number[number].camera for number in set_up.shots} == {set_up.camera}
