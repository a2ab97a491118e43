"""Forty pairs of one room, forty of strangers and all of these with each other, and two clips of three hours."""

from __future__ import annotations

import json
import subprocess
import sys
from fractions import Fraction
from functools import lru_cache
from itertools import combinations
from pathlib import Path

import av
import numpy as np
import pytest

from episodekit.outside.clocks.all_along import all_along
from episodekit.outside.clocks.hearing import RATE as SMALL
from episodekit.outside.clocks.hearing import Ears, Heard, envelope_of
from episodekit.outside.clocks.matching import match, matched
from tests.sync.pairs import KINDS, one_room, strangers
from tests.sync.rooms import RATE, Camera, Sound, bench, heard, tune
from tests.sync.test_matching import off_by

pytestmark = pytest.mark.benchmark


def test_forty_pairs_within_20_ms(tmp_path: Path) -> None:
    worst = dict.fromkeys(KINDS, 0.0)
    for number in range(40):
        error, match = off_by(number, tmp_path)
        assert match is not None, number
        assert error < 0.020, number
        assert error <= match.near <= match.within, number
        worst[KINDS[number % 5]] = max(worst[KINDS[number % 5]], error)
    print({kind: f"{error * 1000:.2f} ms" for kind, error in worst.items()})


def test_not_one_of_forty_strangers(tmp_path: Path) -> None:
    placed = [number for number in range(40) if matched(*strangers(number, tmp_path), tmp_path) is not None]
    assert not placed


def test_not_one_of_hundreds_of_strangers_is_placed_afar(tmp_path: Path) -> None:
    """All pairs of forty clips of different hours with clocks, chirps and voices, and of sixteen more that heard one
    tune of a minute; ticks and chirps are no match, the tune is, and not one of them is believed."""
    clips = [one for number in range(20) for one in _heard(number, tmp_path)]
    dice = np.random.default_rng(7)
    played = tune(dice, 60)
    devices = []
    for _ in range(16):
        room = bench(dice, 200, dice.uniform(0.2, 1.5))
        begin = int(dice.uniform(15, 120)) * RATE
        room[begin : begin + len(played)] += dice.uniform(0.3, 1) * played
        small = (heard(room, Camera(0.0, dice.uniform(140, 195)), dice, SMALL) * 32_767).astype(np.int16)
        devices.append(Heard(small, envelope_of(small)))
    for name, group in (("clocks, chirps, voices", clips), ("one tune", devices)):
        pairs = list(combinations(group, 2))
        found = [(one, two, match(one, two)) for one, two in pairs]
        matches = [(one, two, one_match) for one, two, one_match in found if one_match is not None]
        believed = sum(all_along(*row) for row in matches)
        print(f"{name}: {len(pairs)} pairs, {len(matches)} matched, {believed} believed")
        assert believed == 0


def test_pairs_of_one_room_are_believed_afar(tmp_path: Path) -> None:
    """All of forty but those that heard too little together."""
    refused = []
    for number in range(40):
        first, second, _, _ = one_room(number, tmp_path)
        ears = Ears(tmp_path)
        one, two = ears.heard(first), ears.heard(second)
        assert one is not None
        assert two is not None
        found = match(one, two)
        assert found is not None
        if not all_along(one, two, found):
            refused.append(KINDS[number % 5])
    print(f"refused: {refused}")
    assert set(refused) <= {"short"}


def _heard(number: int, folder: Path) -> list[Heard]:
    ears = Ears(folder)
    return [found for one in strangers(number, folder) if (found := ears.heard(one)) is not None]


def test_three_hours_against_three_hours(tmp_path: Path) -> None:
    """Two cameras whose clocks drift a second apart in that time; measured in a process of its own."""
    shift, drift = 600.0, 9e-5
    for name, first, own in (("one", 0.0, 0.0), ("two", shift, drift)):
        _recorded(tmp_path / f"{name}.mkv", first, own, 3 * 60)
    code = (
        "import json, resource, sys, time\n"
        "from pathlib import Path\n"
        "from episodekit.outside.clocks.hearing import Ears\n"
        "from episodekit.outside.clocks.matching import matched\n"
        "from episodekit.outside.media.probing.probe import probe\n"
        "root = Path(sys.argv[1])\n"
        "one, two = (probe(root / name, name).clip for name in ('one.mkv', 'two.mkv'))\n"
        "before, ears, began = resource.getrusage(resource.RUSAGE_SELF).ru_maxrss, Ears(root), time.process_time()\n"
        "ears.heard(one), ears.heard(two)\n"
        "listened = time.process_time()\n"
        "match = matched(one, two, root, ears)\n"
        "took = (listened - began, time.process_time() - listened)\n"
        "after = resource.getrusage(resource.RUSAGE_SELF).ru_maxrss\n"
        "print(json.dumps([float(match.shift), float(match.pace) - 1, float(match.within), took, after - before]))\n"
    )
    ran = subprocess.run(
        [sys.executable, "-c", code, str(tmp_path)], check=True, capture_output=True, text=True
    )
    found, pace, within, took, kilobytes = json.loads(ran.stdout)
    print(
        f"listened {took[0]:.1f} s, matched {took[1]:.1f} s, {kilobytes / 1000:.0f} MB; off {found - shift:.5f} s"
    )
    assert abs(found - shift) < within < 0.020
    assert abs(pace - drift) < 2e-6
    assert kilobytes < 900_000


def _recorded(path: Path, first: float, drift: float, minutes: int) -> None:
    """A long clip, written a minute at a time: sound of the room from `first` on, a picture every ten seconds."""
    with av.open(str(path), "w") as container:
        video = container.add_stream("mpeg4", rate=Fraction(1, 10))
        video.width, video.height, video.pix_fmt = 64, 48, "yuv420p"
        audio = container.add_stream("pcm_s16le", rate=RATE, layout="mono")
        for minute in range(minutes):
            for n in range(6):
                frame = av.VideoFrame(64, 48, "yuv420p")
                frame.pts, frame.time_base = minute * 6 + n, Fraction(10)
                container.mux(video.encode(frame))
            times = first + (minute * 60 + np.arange(60 * RATE) / RATE) * (1 + drift)
            begin = int(times[0] // 60)
            room = np.concatenate([_minute(begin), _minute(begin + 1)])
            sound = np.interp((times - begin * 60) * RATE, np.arange(len(room)), room)
            sound += np.random.default_rng([minute, int(first)]).normal(0, 0.02, len(sound))
            level = (np.clip(sound, -1, 1) * 32767).astype(np.int16)
            part = av.AudioFrame.from_ndarray(level[None], "s16", "mono")
            part.sample_rate, part.time_base, part.pts = RATE, Fraction(1, RATE), minute * 60 * RATE
            container.mux(audio.encode(part))
        container.mux(video.encode(None))
        container.mux(audio.encode(None))


@lru_cache(maxsize=3)
def _minute(number: int) -> Sound:
    return bench(np.random.default_rng([77, number]), 60)
