"""The line that windows agree on: found among strays, honest about how far off it may be. Arithmetic, no source."""

from __future__ import annotations

import numpy as np
import pytest

from episodekit.sync.agreeing import Window, drawn


@pytest.mark.parametrize("seed", range(20))
def test_the_line_is_found_among_strays_and_its_doubt_is_honest(seed: int) -> None:
    dice = np.random.default_rng(seed)
    drift, jitter, steps = dice.uniform(-8e-5, 8e-5), dice.uniform(0.0001, 0.003), dice.integers(40, 2_000)
    places = np.linspace(15, 15 + steps, 24)
    windows = [Window(float(at), 5 + drift * float(at) + float(dice.normal(0, jitter))) for at in places]
    for n in dice.choice(24, 10, replace=False):
        windows[n] = Window(windows[n].at, 5 + float(dice.uniform(-0.3, 0.3)))
    line = drawn(windows, 2.0)
    assert line is not None
    assert line.windows >= 12
    for at in (line.first, line.last):
        assert abs(line.later(at) - 5 - drift * at) <= line.near
    beyond = 4 * steps
    assert abs(line.later(beyond) - 5 - drift * beyond) <= line.near + 2 * line.steep * (beyond - line.last)


def test_three_windows_are_too_few_and_so_are_four_that_overlap() -> None:
    at_one_place = [Window(at, 1.0) for at in (10.0, 11.0, 12.0, 13.0)]
    assert drawn(at_one_place, 5.0) is None
    apart = [Window(at, 1.0) for at in (10.0, 20.0, 30.0, 40.0)]
    assert drawn(apart[:3], 5.0) is None
    assert drawn(apart, 5.0) is not None


def test_windows_that_disagree_draw_no_line() -> None:
    dice = np.random.default_rng(3)
    strays = [Window(float(at), float(dice.uniform(-0.3, 0.3))) for at in np.linspace(0, 90, 8)]
    assert drawn(strays, 5.0) is None


def test_a_tune_in_two_hours_is_told_from_silence_around_what_was_said() -> None:
    """Ten windows agree, one after the other; the fourteen around them are as loud, or far less so."""
    loud = (0.1, 0.2)
    said = [Window(float(at), 1.0 if 7 <= at < 17 else None, loud) for at in range(24)]
    assert drawn(said, 1.0) is None
    quiet = [Window(w.at, w.later, loud if w.later else (0.01, 0.02)) for w in said]
    assert drawn(quiet, 1.0) is not None
    here_and_there = [Window(w.at, 1.0 if w.at % 3 == 1 else None, loud) for w in said]
    assert drawn(here_and_there, 1.0) is not None
