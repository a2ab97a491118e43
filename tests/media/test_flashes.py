"""Flashes against WCAG 2.2, 2.3.1: clips that flash just under and just over each threshold, as the draft has them.

Each picture goes through x264 at the draft's own settings before it is judged. The thresholds are written out here
from WCAG's definition of general flash and red flash thresholds; the chromaticities of the colours used were computed
by hand from IEC 61966-2-1 and CIE 15.
"""

from __future__ import annotations

import threading
from collections.abc import Callable, Iterator
from fractions import Fraction
from math import ceil
from pathlib import Path

import av
import numpy as np
import pytest

from episodekit.outside.media.flashes.count import FlashCounter, Flashing, FlashKind, grid_of, most_in_a_field
from episodekit.outside.media.flashes.frames import small_frames
from tests.media.kit import Image

WIDTH, HEIGHT = 1280, 720
GREY = (60, 60, 60)
Colour = tuple[int, int, int]


def level(luminance: float) -> int:
    """The grey of sRGB with a relative luminance, rounded to the nearest."""
    part = luminance * 12.92 if luminance <= 0.0031308 else 1.055 * luminance ** (1 / 2.4) - 0.055
    return round(part * 255)


def grey(luminance: float) -> Colour:
    return (level(luminance),) * 3


def as_drafted(path: Path, frames: Iterator[Image], rate: Fraction) -> Path:
    """Raw H.264 with the settings that the draft's pieces have, in Rec. 709 at video range."""
    with av.open(str(path), "w", format="h264") as container:
        options = {"preset": "veryfast", "crf": "20", "bf": "0", "g": str(ceil(rate)), "profile": "high"}
        options["x264-params"] = "stitchable=1:open-gop=0:repeat-headers=1"
        stream = container.add_stream("libx264", rate=rate, options=options)
        stream.width, stream.height, stream.pix_fmt = WIDTH, HEIGHT, "yuv420p"
        stream.codec_context.thread_count = 1
        for picture in frames:
            frame = av.VideoFrame.from_ndarray(picture, format="rgb24")
            yuv = frame.reformat(
                format="yuv420p", src_colorspace=1, dst_colorspace=1, src_color_range=2, dst_color_range=1
            )
            container.mux(stream.encode(yuv))
        container.mux(stream.encode(None))
    return path


def flashing(
    rate: Fraction,
    hertz: float,
    dark: Colour,
    light: Colour,
    box: tuple[int, int, int, int] = (0, 0, WIDTH, HEIGHT),
    seconds: int = 2,
) -> Iterator[Image]:
    """A box, left, top, right, bottom, that flashes so often a second on grey."""
    left, top, right, bottom = box
    for n in range(int(seconds * rate)):
        picture = np.full((HEIGHT, WIDTH, 3), GREY, np.uint8)
        picture[top:bottom, left:right] = light if int(n / rate * 2 * Fraction(str(hertz))) % 2 else dark
        yield picture


def judged(path: Path, frames: Iterator[Image], rate: Fraction) -> list[Flashing]:
    """Everything that the scan finds in the clip."""
    grid = grid_of(WIDTH, HEIGHT)
    counter = FlashCounter(grid, rate)
    clip = as_drafted(path, frames, rate)
    return [one for frame in small_frames(clip, grid, threading.Event()) for one in counter.look(frame)]


@pytest.mark.parametrize("rate", [Fraction(25), Fraction(30000, 1001), Fraction(30), Fraction(60)])
@pytest.mark.parametrize(("hertz", "found"), [(2, False), (3, False), (4, True)])
def test_more_than_three_flashes_within_a_second_are_found(
    rate: Fraction, hertz: int, found: bool, tmp_path: Path
) -> None:
    told = judged(tmp_path / "a.h264", flashing(rate, hertz, grey(0.1), grey(0.6)), rate)
    assert bool(told) is found
    assert {one.kind for one in told} <= {FlashKind.GENERAL}
    assert all(one.flashes == 4 for one in told)
    assert all(one.share > 0.99 for one in told)


def test_three_flashes_in_any_second_pass_however_long_they_go_on(tmp_path: Path) -> None:
    # At 29.97 a second 3 Hz drifts over the frames: seven changes may fall into a second, and are three flashes.
    rate = Fraction(30000, 1001)
    assert not judged(tmp_path / "a.h264", flashing(rate, 3, (0, 0, 0), (255, 255, 255), seconds=10), rate)


# 25 % of 341 x 256 pixels of a picture 1024 pixels wide: 34,100 of this picture's pixels; cells are 10 x 10.
@pytest.mark.parametrize(("box", "found"), [((100, 100, 290, 270), False), ((100, 100, 310, 280), True)])
def test_area_of_a_quarter_of_a_field_is_the_limit(
    box: tuple[int, int, int, int], found: bool, tmp_path: Path
) -> None:
    area = (box[2] - box[0]) * (box[3] - box[1])
    assert (area > 0.25 * 341 * 256 * (WIDTH / 1024) ** 2) is found
    assert 0.9 < area / 34_100 < 1.12
    rate = Fraction(30)
    assert bool(judged(tmp_path / "a.h264", flashing(rate, 5, grey(0), grey(0.7), box), rate)) is found


def test_area_counts_inside_one_field_and_not_across_the_whole_picture() -> None:
    # Two patches of 0.8 times the limit: together too much in one field, each enough when they lie far apart.
    grid = grid_of(WIDTH, HEIGHT)
    near, far = np.zeros((2, grid.rows, grid.columns), np.bool_)
    near[10:27, 10:26] = near[10:27, 28:44] = True
    far[10:27, 10:26] = far[10:27, 100:116] = True
    assert 0.75 < 17 * 16 / grid.most < 0.85
    assert most_in_a_field(near, grid.field) > grid.most > most_in_a_field(far, grid.field)


@pytest.mark.parametrize("size", [(1280, 720), (1920, 1080), (720, 1280), (720, 720), (640, 256)])
def test_field_is_a_third_of_a_screen_that_the_picture_fills(size: tuple[int, int]) -> None:
    grid = grid_of(*size)
    scale = min(1024 / size[0], 768 / size[1])
    cell = size[0] * scale / grid.columns * (size[1] * scale / grid.rows)
    assert grid.most * cell == pytest.approx(0.25 * 341 * 256)
    assert grid.field[0] * grid.field[1] * cell == pytest.approx(341 * 256, rel=0.03)


# Opposing changes of 0.1 of relative luminance. One level of grey here is 0.008: an eight-bit picture knows no finer.
@pytest.mark.parametrize("base", [0.02, 0.3, 0.65])
@pytest.mark.parametrize(("change", "found"), [(0.09, False), (0.11, True)])
def test_a_change_of_a_tenth_of_luminance_is_the_limit(
    base: float, change: float, found: bool, tmp_path: Path
) -> None:
    rate = Fraction(30)
    told = judged(tmp_path / "a.h264", flashing(rate, 5, grey(base), grey(base + change)), rate)
    assert bool(told) is found


@pytest.mark.parametrize(("darker", "found"), [(0.785, True), (0.815, False)])
def test_darker_side_of_a_flash_lies_below_four_fifths(darker: float, found: bool, tmp_path: Path) -> None:
    rate = Fraction(30)
    told = judged(tmp_path / "a.h264", flashing(rate, 5, grey(darker), grey(darker + 0.15)), rate)
    assert bool(told) is found


def linear(red: float, green: float, blue: float) -> Colour:
    """A colour by its linear light."""
    return (level(red), level(green), level(blue))


# Both sides of each pair have the same relative luminance within 0.08, so only red flashes can be found.
# Chromaticities u', v' (CIE 1976), computed by hand: red alone 0.451, 0.523; grey 0.198, 0.468.
RED_PAIRS = {
    "saturated red and grey of its luminance": (linear(0.3, 0, 0), grey(0.064), True),
    "just over 0.8 of red": (linear(0.3, 0.066, 0), linear(0, 0.13, 0.3), True),
    "just under 0.8 of red": (linear(0.3, 0.086, 0), linear(0, 0.13, 0.3), False),
    "saturated red and a brown 0.191 away": (linear(0.3, 0, 0), linear(0.14, 0.06, 0.02), False),
    "saturated red and a brown 0.219 away": (linear(0.3, 0, 0), linear(0.1, 0.06, 0.03), True),
    "saturated red too dark to be one": (linear(0.05, 0, 0), grey(0.011), False),
    "saturated green": (linear(0, 0.1, 0), grey(0.07), False),
}


@pytest.mark.parametrize("name", list(RED_PAIRS))
def test_red_flashes_go_to_or_from_a_saturated_red(name: str, tmp_path: Path) -> None:
    one, other, found = RED_PAIRS[name]
    rate = Fraction(30)
    told = judged(tmp_path / "a.h264", flashing(rate, 5, one, other), rate)
    assert {one.kind for one in told} == ({FlashKind.RED} if found else set())


@pytest.mark.parametrize(("hertz", "found"), [(3, False), (4, True)])
def test_red_flashes_are_counted_by_themselves(hertz: int, found: bool, tmp_path: Path) -> None:
    rate = Fraction(25)
    told = judged(tmp_path / "a.h264", flashing(rate, hertz, linear(0.3, 0, 0), grey(0.064)), rate)
    assert bool(told) is found


def test_slow_fades_flash_like_jumps_and_small_wiggles_do_not_part_them() -> None:
    # A transition is the change between a peak and the next valley, however many frames it takes.
    grid = grid_of(WIDTH, HEIGHT)
    wave = [0.5 + 0.3 * np.sin(2 * np.pi * 4.2 * n / 60) + 0.02 * (-1) ** n for n in range(120)]
    calm = [0.5 + 0.02 * (-1) ** n for n in range(120)]
    for luminances, found in ((wave, True), (calm, False)):
        counter = FlashCounter(grid, Fraction(60))
        frames = [np.full((grid.rows, grid.columns, 3), level(one), np.uint8) for one in luminances]
        assert any(counter.look(frame) for frame in frames) is found


def checkered(squares: int) -> Callable[[int], Image]:
    def frame(n: int) -> Image:
        rows, columns = np.indices((HEIGHT, WIDTH)) // squares
        lit = (rows + columns + n // 3) % 2
        return np.repeat((lit * 255).astype(np.uint8)[..., None], 3, axis=2)

    return frame


@pytest.mark.parametrize(("squares", "found"), [(2, False), (80, True)])
def test_fine_balanced_pattern_is_no_flash_and_a_coarse_one_is(
    squares: int, found: bool, tmp_path: Path
) -> None:
    # Below 0.1 degrees of WCAG's field of 341 pixels in 1024: 4 pixels of this picture.
    rate = Fraction(30)
    made = checkered(squares)
    assert bool(judged(tmp_path / "a.h264", (made(n) for n in range(60)), rate)) is found


def test_hand_that_crosses_is_no_flash_of_all_that_it_passes() -> None:
    grid = grid_of(WIDTH, HEIGHT)
    counter = FlashCounter(grid, Fraction(30))
    for n in range(90):
        frame = np.full((grid.rows, grid.columns, 3), 200, np.uint8)
        at = n * 7 % grid.columns
        frame[:, at : at + 30] = 30
        assert not counter.look(frame)
