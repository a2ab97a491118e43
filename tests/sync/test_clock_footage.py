"""The clock in files as cameras write them: turned, of varying rate, in ten bits, damaged, filmed twice."""

from __future__ import annotations

from collections.abc import Iterator
from fractions import Fraction
from pathlib import Path

import av
import numpy as np
import pytest

from episodekit.footage.model import Clip
from episodekit.outside.clocks.sightings import sightings
from episodekit.outside.media.probing.probe import probe
from episodekit.sync.model import Clue
from tests.media import kit
from tests.sync.filmed_clock import Image, Scene, film, frame

SHIFT = Fraction(1_794_000_000) + Fraction(217, 1000)
SCENE = Scene(Fraction(25), SHIFT, width=640, height=360, module=5)


def seen_in(path: Path) -> tuple[Clue, ...]:
    made = probe(path, path.name).clip
    assert made is not None
    return sightings(made, path.parent)


def off(seen: Clue) -> float:
    return float(abs(seen.wall - seen.at - SHIFT))


def clock(at: float) -> bool:
    return 1 <= at < 4.2


@pytest.mark.parametrize("turn", [90, 180, 270])
def test_turned_picture_is_read(turn: int, tmp_path: Path) -> None:
    """Held upright or upside down: the camera stores the picture lying and says how to turn it."""
    film(tmp_path / "lying.mp4", SCENE, 6, clock)
    turned = kit.remux(tmp_path / "lying.mp4", tmp_path / "a.mp4", before=("-display_rotation", str(turn)))
    (seen,) = seen_in(turned)
    assert off(seen) <= 0.010


def test_rate_that_varies_is_read_by_its_stamps(tmp_path: Path) -> None:
    """As phones in low light: frames 25 to 60 ms apart."""
    dice = np.random.default_rng(2)
    steps = [int(step) for step in dice.integers(25, 61, 140)]
    stamps = [Fraction(sum(steps[:n]), 1000) for n in range(len(steps))]

    def frames() -> Iterator[Image]:
        for at in stamps:
            # A scene of a thousand frames a second, of which these were taken.
            yield frame(
                Scene(Fraction(1000), SHIFT, width=640, height=360, module=5), int(at * 1000), None, dice
            )

    path = kit.encode(tmp_path / "a.mp4", frames(), Fraction(25), stamps=stamps)
    made = probe(path, path.name).clip
    assert made is not None
    assert made.variable
    (seen,) = sightings(made, tmp_path)
    assert off(seen) <= 0.010


def test_ten_bits_in_hlg_are_read(tmp_path: Path) -> None:
    """ARIB STD-B67's curve, as phones film in HDR: the same code, brighter in the middle."""
    dice = np.random.default_rng(4)
    with av.open(str(tmp_path / "a.mp4"), "w") as container:
        options = {"preset": "ultrafast", "crf": "20", "x265-params": "log-level=error:keyint=25"}
        stream = container.add_stream("libx265", rate=25, options=options)
        stream.width, stream.height, stream.pix_fmt = 640, 360, "yuv420p10le"
        stream.codec_context.color_trc, stream.codec_context.colorspace = 18, 9
        for number in range(80):
            linear = (frame(SCENE, number, None, dice) / 255.0) ** 2.2
            curve = np.where(
                linear <= 1 / 12,
                np.sqrt(3 * linear),
                0.17883277 * np.log(np.maximum(12 * linear - 0.28466892, 1e-6)) + 0.55991073,
            )
            luma = (64 + 876 * np.clip(curve, 0, 1)).astype(np.uint16)
            picture = av.VideoFrame(640, 360, "yuv420p10le")
            plain = np.full((180, 320), 512)
            for plane, values in zip(picture.planes, (luma, plain, plain), strict=True):
                rows = np.zeros((plane.height, plane.line_size // 2), np.uint16)
                rows[:, : values.shape[1]] = values
                plane.update(rows.tobytes())
            picture.pts = number
            container.mux(stream.encode(picture))
        container.mux(stream.encode(None))
    (seen,) = seen_in(tmp_path / "a.mp4")
    assert off(seen) <= 0.010


def test_two_sightings_in_one_clip_are_two_clues(tmp_path: Path) -> None:
    path = film(tmp_path / "a.mp4", SCENE, 22, lambda at: clock(at) or 17 <= at < 20.2)
    first, last = seen_in(path)
    assert first.at < 5
    assert 17 < last.at < 21
    assert max(off(first), off(last)) <= 0.010


def test_damaged_file_is_read_as_far_as_it_goes(tmp_path: Path) -> None:
    """Garbage in the middle of one, the end of another missing: no traceback, and no wrong offset."""
    path = film(tmp_path / "whole.mkv", SCENE, 14, lambda at: clock(at) or 10 <= at < 13.2)
    data = path.read_bytes()
    holed = bytearray(data)
    holed[len(data) // 4 : len(data) // 4 + 4000] = np.random.default_rng(1).bytes(4000)
    for name, damaged in (("holed.mkv", bytes(holed)), ("short.mkv", data[: len(data) * 6 // 10])):
        (tmp_path / name).write_bytes(damaged)
        found = seen_in(tmp_path / name)
        assert found, name
        assert all(off(seen) <= 0.010 for seen in found), name


def test_file_that_is_gone_meanwhile_is_no_breakage(tmp_path: Path) -> None:
    path = film(tmp_path / "a.mp4", SCENE, 2, clock)
    made: Clip | None = probe(path, path.name).clip
    assert made is not None
    path.unlink()
    assert sightings(made, tmp_path) == ()


@pytest.mark.parametrize("apart", [50, 125, 250])
@pytest.mark.parametrize("begin", [3.1, 7.45, 7.7, 9.8])
def test_three_seconds_are_found_wherever_key_frames_lie(apart: int, begin: float, tmp_path: Path) -> None:
    """Two, five and ten seconds between key frames; the clock between two of them, or across one."""
    scene = Scene(Fraction(25), SHIFT, width=320, height=180, module=5)
    path = film(tmp_path / "a.mp4", scene, 14, lambda at: begin <= at < begin + 3, key_every=apart)
    (seen,) = seen_in(path)
    assert off(seen) <= 0.010
    assert begin < seen.at < begin + 3


def test_code_of_a_tenth_of_the_width_is_read(tmp_path: Path) -> None:
    """Full HD, and a code as small as it may be, somewhat out of focus."""
    scene = Scene(Fraction(25), SHIFT, width=1920, height=1080, module=7, blur=3)
    path = film(tmp_path / "a.mp4", scene, 4, lambda at: 0.4 <= at < 3.4, key_every=25)
    (seen,) = seen_in(path)
    assert off(seen) <= 0.010
