"""Blended frames tell the offset of cameras whose shutter and readout nobody knows."""

from __future__ import annotations

from fractions import Fraction

import numpy as np
import pytest
from scipy.integrate import quad

from episodekit.outside.clocks.blends import Look, blends, modules
from episodekit.outside.clocks.shutter import exposed_after, refined
from episodekit.sync.line import pace_of
from episodekit.sync.model import Clue, Rung
from tests.sync.filmed_clock import Scene, _matrix, frame
from tests.sync.likely_cameras import EPOCH_S, LAG, filmed
from tests.sync.test_filmed_clock import RATES


@pytest.mark.parametrize("rate", RATES, ids=lambda rate: f"{float(rate):.2f}")
@pytest.mark.parametrize("refresh", [60, 60000 / 1001], ids=lambda refresh: f"{refresh:.2f}")
def test_light_on_screen_is_placed_within_ten_ms(rate: Fraction, refresh: float) -> None:
    """Twenty-five cameras; four hundred as a benchmark."""
    dice = np.random.default_rng(7)
    for _ in range(25):
        seen = filmed(dice, rate, refresh)
        clue = seen.sighting()
        off = float(clue.wall - clue.at - EPOCH_S) - seen.shift
        assert abs(off) <= clue.within
        assert abs(off + seen.lag - LAG) <= 0.010


@pytest.mark.parametrize("rate", RATES, ids=lambda rate: f"{float(rate):.2f}")
def test_two_sightings_half_an_hour_apart_give_the_drift_of_any_camera(rate: Fraction) -> None:
    """Ten cameras that run up to 100 millionths fast or slow."""
    worst = 0.0
    for seed in range(10):
        pace = 1 + (seed - 4.5) * 2e-5
        # The same dice are the same camera and the same screen.
        twice = [filmed(np.random.default_rng(seed), rate, 60, since, pace).sighting() for since in (3, 1803)]
        worst = max(worst, abs(float(pace_of([twice]).value) - pace) * 1e6)
    print(f"\n{float(rate):.2f}: drift off by {worst:.1f} millionths at most")
    assert worst <= 10


@pytest.mark.parametrize("begin", [-0.02, -0.011, -0.004, 0.0, 0.003])
@pytest.mark.parametrize(("shutter", "band"), [(0.010, 0.004), (0.002, 0.008)])
def test_share_of_the_new_code_is_the_integral_over_rows(begin: float, shutter: float, band: float) -> None:
    """Against scipy's quadrature."""
    edges = [min(max(edge, 0.0), band) for edge in (-begin - shutter, -begin)]
    wanted, _ = quad(lambda row: min(max(begin + row + shutter, 0), shutter) / shutter, 0, band, points=edges)
    assert exposed_after(np.array(begin), shutter, np.array(band)) == pytest.approx(wanted / band, abs=1e-9)


def test_too_few_changes_leave_the_clue_as_it_is() -> None:
    clue = Clue("a.mp4", Rung.FILMED_CLOCK, Fraction(1), Fraction(EPOCH_S), Fraction(14, 1000))
    seen = filmed(np.random.default_rng(1), Fraction(25), 60)
    two = sorted({blend.change for blend in seen.blends})[:2]
    assert refined(clue, [blend for blend in seen.blends if blend.change in two], 0.04) == clue


@pytest.mark.parametrize(("keystone", "tilt"), [(0.0, 0.0), (0.4, 0.0), (0.3, 20.0)])
def test_modules_are_found_in_perspective(keystone: float, tilt: float) -> None:
    """Against segno's modules; the corners from the pinhole's own equation."""
    scene = Scene(Fraction(25), Fraction(EPOCH_S), keystone=keystone, tilt=tilt, exposure=0.0, rows=0.0)
    picture = frame(scene, 3, None, np.random.default_rng(3))
    size = 29 * scene.module
    corners = []
    for across, down in ((4, 4), (25, 4), (25, 25), (4, 25)):
        x, y = across * scene.module - size / 2, down * scene.module - size / 2
        # Solved for the place in the picture: away = 1 - keystone * (0.5 - y' / size), y' - size / 2 = y * away.
        away = (1 - keystone * 0) / (1 - keystone * y / size)
        moved = y * away * np.tan(np.radians(tilt))
        corners.append(
            (
                (x * away + moved + scene.width // 2) / scene.width,
                (y * away + scene.height // 2) / scene.height,
            )
        )
    light = modules(picture, np.array(corners))
    begun = (float(scene.shift + Fraction(3, 25)) - scene.lag) * 60 // 11
    wanted = _matrix(round(begun * 11 / 60 * 1000))[4:25, 4:25]
    assert ((light > 127) == (wanted > 127)).mean() >= 0.99


def looks(scene: Scene, covered: bool) -> list[Look]:
    """Three seconds of a clip whose code lies in the middle, upright, unread when it changes."""
    noise = np.random.default_rng(5)
    size = 21 * scene.module
    top, left = (scene.height - size) / 2 / scene.height, (scene.width - size) / 2 / scene.width
    corners = np.array([(left, top), (1 - left, top), (1 - left, 1 - top), (left, 1 - top)])
    made = []
    for number in range(72):
        picture = frame(scene, number, None, noise)
        at = number / scene.rate
        middle = float(scene.shift + at) - scene.lag + scene.exposure / 2 + scene.rows / 2
        begun, into = divmod(middle * 60, 11)
        code = round(begun * 11 / 60 * 1000) if 1 < into < 10 else None
        if covered and not 3.5 < into < 7.5:
            picture[scene.height // 2 :], code = 128, None
        made.append(Look(at, code, modules(picture, corners), corners))
    return made


def test_shares_are_those_of_the_light_that_rows_saw() -> None:
    """Against the exposures of the code's own rows, in a picture with grain."""
    scene = Scene(Fraction(24), Fraction(EPOCH_S) + Fraction(1, 7), exposure=0.015)
    found = blends(looks(scene, covered=False), scene.shift)
    assert len({blend.change for blend in found}) >= 6
    mixed = 0
    for blend in found:
        rows = np.linspace(blend.top, blend.bottom, 50) * scene.rows
        into = float(blend.at + scene.shift - Fraction(blend.change, 1000)) - scene.lag + rows
        wanted = np.clip((into + scene.exposure) / scene.exposure, 0, 1).mean()
        assert abs(blend.share - wanted) <= 0.08
        mixed += 0.1 < wanted < 0.9
    assert mixed >= 6


def test_half_that_is_covered_tells_no_share() -> None:
    """A hand lies over the lower half whenever the code changes."""
    scene = Scene(Fraction(24), Fraction(EPOCH_S) + Fraction(1, 7), exposure=0.015)
    found = blends(looks(scene, covered=True), scene.shift)
    assert found
    assert {blend.bottom < 0.52 for blend in found} == {True}
