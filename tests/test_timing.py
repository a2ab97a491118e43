"""How long it takes to say: against published paces, and figures as they are read."""

from __future__ import annotations

import pytest
from hypothesis import given
from hypothesis import strategies as st

from episodekit.job.model import Limits, Voice
from episodekit.job.reader import read_plan
from episodekit.outside.dictionary import load_dictionary
from episodekit.timing.speech import spoken_length
from episodekit.timing.steps import time_step
from episodekit.timing.words import word_count

# Ordinary prose, written for this test: 150 words.
PROSE = """
The back comes off with four screws, and under it sits a board that has seen better days. Somebody was here
before me, because two of the joints are shiny and the rest are dull. I start with the meter, since guessing
costs more than looking. The battery gives what it should, the switch works, and the motor turns when I feed
it from the bench. So the fault lies between the two, and there is not much between them. One wire looks fine
until I bend it, and then the light goes out. That is the whole story: a wire that broke inside its own
jacket, right where it leaves the grommet. I cut it back, strip it, and put it in again with a little slack,
so that the next bend is a soft one. It took ten minutes, most of it looking. The lamp is on again.
"""


def length_of(text: str, pace: int = 150) -> int:
    return spoken_length((text,), Voice(pace=pace), {}).length


def test_prose_is_what_it_says() -> None:
    assert word_count(PROSE) == 150


@pytest.mark.parametrize(("pace", "words"), [(120, 120), (150, 150), (170, 170)])
def test_a_minute_holds_the_published_number_of_words(pace: int, words: int) -> None:
    # Source: "How Many Words Fit In A 30 Second Voice Over?": 60 s = 120, 150 or 170 words (soft, medium, hard read).
    for dictionary in ({}, load_dictionary()):
        length = spoken_length((PROSE,), Voice(pace=pace), dictionary).length
        assert abs(length * words / 150 - 60_000) < 0.06 * 60_000


def test_default_pace_is_the_average_of_speech() -> None:
    # Source: L. B. Marshall, "How Fast Do I Speak?": about 150 words a minute.
    assert Voice(pace=150).pace == 150
    plan, _ = read_plan(b"---\ntitle: A\n---\n# A\n> B.\n")
    assert plan is not None
    assert plan.front.voice.pace == 150


def test_figures_take_the_time_of_their_words() -> None:
    assert length_of("It holds 325 V.") == length_of("It holds three hundred and twenty-five volts.")


def test_last_stop_is_not_a_pause() -> None:
    assert length_of("One two three.") == length_of("One two three")
    assert length_of("One. Two. Three.") > length_of("One two three.")


@given(st.text(max_size=400), st.integers(40, 400))
def test_any_text_has_a_length_and_more_words_never_take_less(text: str, pace: int) -> None:
    length = length_of(text, pace)
    assert length >= 0
    assert length_of(text + " and one more word", pace) > length
    assert length_of(text, pace // 2 + 20) >= length or pace // 2 + 20 >= pace


def test_step_waits_for_what_must_be_shown() -> None:
    text = "---\ntitle: A\n---\n# A\n- must show: a thing | | 20 s\n> Short.\n\n> And then this.\n"
    plan, _ = read_plan(text.encode())
    assert plan is not None
    time = time_step(plan.steps[0], Voice(pace=150), Limits())
    assert time.blocks[0].end == 20_000
    assert time.beats[1].start == 20_000
    assert time.length == time.blocks[-1].end
