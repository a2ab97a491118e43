"""Sounds of one room are matched to 20 ms, those of different hours never, with the same clock ticking in both or not.

Every place is known from how the clips were made; the product takes no part in that. All forty of each kind are
in tests/benchmarks.
"""

from __future__ import annotations

import shutil
from dataclasses import replace
from fractions import Fraction
from pathlib import Path

import numpy as np
import pytest

from episodekit.base.time import Seconds
from episodekit.footage.model import Clip
from episodekit.outside.clocks.hearing import RATE, Ears
from episodekit.outside.clocks.matching import Match, matched
from episodekit.outside.media.probing.probe import probe
from tests.media import kit
from tests.sync.pairs import one_room, strangers
from tests.sync.rooms import Camera, bench, clip, heard


def off_by(number: int, folder: Path) -> tuple[float, Match | None]:
    """How far off the match of a pair is at either end of what both heard, in seconds; and the match."""
    one, two, first, second = one_room(number, folder)
    match = matched(one, two, folder)
    if match is None:
        return float("inf"), None
    errors = [
        float(match.shift + at * match.pace) - first.place(second.first + float(at) * (1 + second.drift))
        for at in (match.first, match.last)
    ]
    return max(abs(error) for error in errors), match


@pytest.mark.parametrize("number", [1, 3])
def test_one_room_is_matched(number: int, tmp_path: Path) -> None:
    error, match = off_by(number, tmp_path)
    assert match is not None
    assert error < 0.020
    assert error <= match.near <= match.within


@pytest.mark.parametrize("number", [2, 3])
def test_strangers_are_not(number: int, tmp_path: Path) -> None:
    assert matched(*strangers(number, tmp_path), tmp_path) is None


@pytest.fixture(scope="module")
def pair(tmp_path_factory: pytest.TempPathFactory) -> tuple[Path, Clip, Clip]:
    """Two clips of half a minute; the second began 7.25 seconds later."""
    folder, dice = tmp_path_factory.mktemp("room"), np.random.default_rng(5)
    room = bench(dice, 45)
    clips = [
        clip(folder / f"{n}.mp4", heard(room, Camera(first, 30), dice, kit.SAMPLE_RATE))
        for n, first in enumerate((2.0, 9.25))
    ]
    return folder, clips[0], clips[1]


def test_a_match_reads_the_same_from_either_side(pair: tuple[Path, Clip, Clip]) -> None:
    folder, one, two = pair
    there, back = matched(one, two, folder), matched(two, one, folder)
    assert there is not None
    assert back is not None
    assert abs(there.shift - Fraction(29, 4)) < there.within
    assert abs(back.shift + Fraction(29, 4)) < back.within
    assert there.within_at(Seconds(600)) > there.within


def test_a_clip_is_decoded_once(pair: tuple[Path, Clip, Clip], tmp_path: Path) -> None:
    folder, one, two = pair
    (tmp_path / one.path).write_bytes((folder / one.path).read_bytes())
    (tmp_path / two.path).write_bytes((folder / two.path).read_bytes())
    found = matched(one, two, tmp_path)
    (tmp_path / one.path).unlink()
    (tmp_path / two.path).unlink()
    assert found is not None
    assert matched(one, two, tmp_path) == found
    ears = Ears(tmp_path)
    assert ears.heard(one) is ears.heard(one)


def test_sound_is_counted_from_the_first_frame(pair: tuple[Path, Clip, Clip], tmp_path: Path) -> None:
    """Sound that begins a second after the picture, in a container whose stamps begin at an hour."""
    folder, one, _ = pair
    room = bench(np.random.default_rng(5), 45)
    camera = Camera(9.25, 25)
    sound = heard(room, camera, np.random.default_rng(6), kit.SAMPLE_RATE)
    black = (np.zeros((48, 64), np.uint8) for _ in range(60))
    made = kit.encode(tmp_path / "late.mp4", black, Fraction(2), sound=sound, sound_starts=Fraction(1))
    shifted = kit.remux(made, folder / "late.mkv", "-output_ts_offset", "3600")
    late = probe(shifted, "late.mkv").clip
    assert late is not None
    match = matched(one, late, folder)
    assert match is not None
    assert abs(match.shift - Fraction(25, 4)) < match.within


def test_what_cannot_be_heard_is_not_matched(pair: tuple[Path, Clip, Clip], tmp_path: Path) -> None:
    folder, one, two = pair
    silent = clip(folder / "silent.mp4", np.zeros(20 * kit.SAMPLE_RATE, np.float32))
    assert matched(one, silent, folder) is None
    assert matched(silent, silent, folder) is None
    mute = replace(two, has_audio=False, audio_stream=None, identity="mute")
    assert matched(one, mute, folder) is None
    assert matched(one, replace(two, path="gone.mp4", identity="gone"), folder) is None
    (folder / "noise.mp4").write_bytes(bytes(np.random.default_rng(1).integers(0, 256, 200_000, np.uint8)))
    assert matched(one, replace(two, path="noise.mp4", identity="noise"), folder) is None
    assert matched(one, replace(two, audio_stream=7, identity="seventh"), folder) is None
    assert matched(one, replace(two, audio_stream=0, identity="picture"), folder) is None


def test_a_damaged_clip_is_matched_by_what_is_left(pair: tuple[Path, Clip, Clip]) -> None:
    folder, one, two = pair
    whole = bytearray((folder / two.path).read_bytes())
    for at in range(len(whole) // 4, len(whole) // 2, 400):
        whole[at] ^= 0xFF
    (folder / "scratched.mp4").write_bytes(whole)
    match = matched(one, replace(two, path="scratched.mp4", identity="scratched"), folder)
    assert match is None or abs(match.shift - Fraction(29, 4)) < match.within
    assert Ears(folder).heard(replace(two, path="scratched.mp4", identity="scratched")) is not None


@pytest.mark.skipif(not kit.real_clips(), reason="no clips from real cameras are here")
def test_real_clips_are_heard_or_not_but_never_in_the_way(tmp_path: Path) -> None:
    heard_of = set()
    for path in kit.real_clips():
        made = probe(path, path.name).clip
        if made is not None:
            shutil.copy(path, tmp_path / path.name)
            if (sound := Ears(tmp_path).heard(made)) is not None:
                assert made.has_audio
                assert abs(len(sound.sound) / RATE - float(made.duration)) < 1
                heard_of.add(path.name)
    assert heard_of
