"""The chirp in bench sound: found down to where a person hardly hears it, never where there is none; told apart."""

from __future__ import annotations

import json
from collections.abc import Callable
from datetime import timedelta
from fractions import Fraction
from pathlib import Path

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from numpy.typing import NDArray
from scipy.signal import chirp as sweep
from scipy.signal.windows import tukey

from episodekit.footage.model import Clip
from episodekit.outside.clocks.chirps import chirps_in
from episodekit.outside.media.probing.probe import probe
from episodekit.sync.chirp import chirp, chirp_clues
from tests.conftest import JobFolder, Run
from tests.media import kit
from tests.sync.filmed_clock import EPOCH

WALL = Fraction(1_794_000_000) + Fraction(217, 1000)
Sound = NDArray[np.float32]


def test_it_is_the_sweep_of_the_textbook() -> None:
    """Against scipy.signal's linear sweep and Tukey window."""
    times = np.arange(24_000) / 48_000
    expected = sweep(times, 1500, 0.5, 6000, phi=-90) * tukey(24_000, 0.1)
    assert np.abs(np.array(chirp(48_000)) - expected).max() < 1e-6


def bench(seconds: float, seed: int) -> Sound:
    """Knocks, scrapes, a fan's hiss and a whine that glides, at 48 kHz; root mean square about 0.05."""
    dice = np.random.default_rng(seed)
    count = int(seconds * kit.SAMPLE_RATE)
    times = np.arange(count) / kit.SAMPLE_RATE
    sound = dice.normal(0, 0.03, count)
    sound += 0.02 * np.sin(2 * np.pi * (2500 * times + 700 * np.sin(times)))
    for _ in range(int(seconds * 2)):
        at, long = int(dice.integers(0, count)), int(dice.integers(500, 30_000))
        fade = np.exp(-np.arange(long) / (long / 5))
        knock = fade * dice.normal(0, dice.uniform(0.05, 0.4), long)
        knock += fade * 0.3 * np.sin(2 * np.pi * dice.uniform(300, 6000) * np.arange(long) / kit.SAMPLE_RATE)
        sound[at : at + long] += knock[: count - at]
    return np.asarray(sound, np.float32)


def with_chirps(sound: Sound, places: list[Fraction], level: float, echo: float = 0) -> Sound:
    """Chirps that begin at places to a fraction of a sample, `level` dB louder than the sound."""
    sent = np.array(chirp(kit.SAMPLE_RATE))
    gain = 10 ** (level / 20) * np.sqrt((sound**2).mean()) / np.sqrt((sent**2).mean())
    chirps = np.zeros(len(sound))
    for place in places:
        at = float(place) * kit.SAMPLE_RATE
        whole = int(at)
        moved = np.interp(np.arange(len(sent) + 1) - (at - whole), np.arange(len(sent)), sent, 0, 0)
        chirps[whole : whole + len(moved)] += moved
    if echo:
        long = int(0.3 * kit.SAMPLE_RATE)
        tail = np.random.default_rng(9).normal(0, 1, long) * np.exp(
            -np.arange(long) / (0.05 * kit.SAMPLE_RATE)
        )
        tail *= echo / np.sqrt((tail**2).sum())
        tail[0] = 1
        size = 1 << (len(chirps) + long).bit_length()
        chirps = np.fft.irfft(np.fft.rfft(chirps, size) * np.fft.rfft(tail, size), size)[: len(chirps)]
    return np.asarray(sound + gain * chirps, np.float32)


def clip_of(path: Path, sound: Sound, starts: Fraction = Fraction(0), rate: Fraction = Fraction(25)) -> Clip:
    grey = np.full((90, 160), 90, np.uint8)
    frames = (grey for _ in range(int(len(sound) / kit.SAMPLE_RATE * rate)))
    clip = probe(kit.encode(path, frames, rate, sound=sound, sound_starts=starts), path.name).clip
    assert clip is not None
    return clip


def pauses(seed: int, count: int, first: float = 2.0) -> list[Fraction]:
    """As the page makes them, from one beginning to the next."""
    dice = np.random.default_rng(seed)
    places = first + np.concatenate([[0], np.cumsum(dice.uniform(0.9, 1.7, count - 1))])
    return [Fraction(round(float(place) * 1_000_000), 1_000_000) for place in places]


@pytest.mark.parametrize(("level", "echo"), [(-6, 0), (0, 1.0)])
def test_each_chirp_is_found_in_aac_sound(level: float, echo: float, tmp_path: Path) -> None:
    places = pauses(3, 12)
    clip = clip_of(tmp_path / "a.mp4", with_chirps(bench(20, 4), places, level, echo))
    found = chirps_in(clip, tmp_path)
    errors = [float(one - two) * 1000 for one, two in zip(found, places, strict=True)]
    print(
        f"\n{level} dB, echo {echo}: {len(found)} of {len(places)}, off by {max(map(abs, errors)):.3f} ms at most"
    )
    assert max(map(abs, errors)) <= (3 if echo else 0.5)


def test_most_chirps_are_found_far_below_the_knocks_and_none_is_wrong(tmp_path: Path) -> None:
    places = pauses(3, 12)
    clip = clip_of(tmp_path / "a.mp4", with_chirps(bench(20, 4), places, -12))
    found = chirps_in(clip, tmp_path)
    print(f"\n-12 dB: {len(found)} of {len(places)}")
    assert len(found) >= 8
    assert all(min(abs(one - two) for two in places) < Fraction(1, 1000) for one in found)


def test_sound_that_begins_late_is_placed_by_its_stamps(tmp_path: Path) -> None:
    sound = with_chirps(bench(20, 4), pauses(5, 4), 0)
    clip = clip_of(tmp_path / "a.mkv", sound, Fraction(3, 4))
    found = chirps_in(clip, tmp_path)
    assert len(found) == 4
    for one, two in zip(found, pauses(5, 4), strict=True):
        assert abs(one - two - Fraction(3, 4)) < Fraction(2, 1000)


def test_no_chirp_is_heard_in_minutes_of_bench_sound(tmp_path: Path) -> None:
    assert chirps_in(clip_of(tmp_path / "a.mp4", bench(60, 8)), tmp_path) == ()


def test_no_chirp_is_heard_in_the_quiet_behind_loud_ones(tmp_path: Path) -> None:
    """A phone beside the camera, and then nobody works for ten seconds."""
    places = pauses(3, 12)
    hiss = np.random.default_rng(5).normal(0, 0.011, 30 * kit.SAMPLE_RATE).astype(np.float32)
    found = chirps_in(clip_of(tmp_path / "a.mp4", with_chirps(hiss, places, 28)), tmp_path)
    assert len(found) == len(places)
    assert all(abs(one - two) < Fraction(1, 1000) for one, two in zip(found, places, strict=True))


@pytest.mark.parametrize("path", kit.real_clips(), ids=lambda p: p.name)
def test_no_chirp_is_heard_in_real_clips(path: Path) -> None:
    clip = probe(path, path.name).clip
    assert clip is not None
    assert chirps_in(clip, path.parent) == ()


def test_damaged_sound_is_heard_as_far_as_it_goes(tmp_path: Path) -> None:
    """A hole of garbage in the middle and the end cut off."""
    places = pauses(3, 12)
    clip_of(tmp_path / "whole.mkv", with_chirps(bench(20, 4), places, 0))
    data = bytearray((tmp_path / "whole.mkv").read_bytes())
    middle = len(data) // 2
    data[middle : middle + 20_000] = np.random.default_rng(1).bytes(20_000)
    (tmp_path / "a.mkv").write_bytes(data[: len(data) * 9 // 10])
    clip = probe(tmp_path / "a.mkv", "a.mkv").clip
    assert clip is not None
    found = chirps_in(clip, tmp_path)
    assert 5 <= len(found) < 12
    assert all(min(abs(one - two) for two in places) < Fraction(1, 1000) for one in found)


@settings(max_examples=60, deadline=None)
@given(st.integers(0, 2**32 - 1), st.integers(7, 14), st.integers(0, 100), st.integers(-100, 100))
def test_chirps_heard_are_told_apart_by_their_pauses(seed: int, count: int, others: int, drift: int) -> None:
    """One was not heard, one heard that never was, marks off by 3 ms; a page that chirped at other times besides."""
    dice = np.random.default_rng(seed)
    pace = 1 + Fraction(drift, 1_000_000)
    places = pauses(seed, count)
    jitter = [Fraction(int(dice.integers(-3000, 3001)), 1_000_000) for _ in places]
    logged = [WALL + place * pace + off for place, off in zip(places, jitter, strict=True)]
    elsewhere = [at + WALL + 600 for at in pauses(seed + 1, others)] if others else []
    missed = int(dice.integers(0, count))
    heard = [place for n, place in enumerate(places) if n != missed]
    heard.append(Fraction(int(dice.integers(0, 10_000_000)), 1_000_000))
    clues = chirp_clues("a.mp4", heard, [*elsewhere, *logged])
    for clue in clues:
        assert abs(clue.wall - WALL - clue.at * pace) <= Fraction(4, 1000)
    assert len(clues) == 1


@settings(max_examples=300, deadline=None)
@given(st.integers(0, 2**32 - 1), st.integers(1, 10), st.integers(0, 60))
def test_chirps_of_another_day_are_none_of_the_logged(seed: int, heard: int, logged: int) -> None:
    walls = [WALL + at for at in pauses(seed + 1, logged)] if logged else []
    assert chirp_clues("a.mp4", pauses(seed, heard), walls) == ()


@pytest.mark.parametrize("lost", [0, 1])
def test_even_pauses_tell_nothing(lost: int) -> None:
    """Each of four thirds of a second: it may be any of them, the more so if a mark was lost."""
    found = [Fraction(4 * n + 1, 3) for n in range(8)]
    assert chirp_clues("a.mp4", found, [WALL + Fraction(4 * n, 3) for n in range(lost, 20)]) == ()


def test_three_chirps_are_not_enough() -> None:
    places = pauses(1, 3)
    assert chirp_clues("a.mp4", places, [WALL + at for at in places]) == ()


def test_two_showings_are_two_clues() -> None:
    """Half an hour apart, on a camera that runs 40 millionths fast."""
    places = [*pauses(1, 5), *(at + 1800 for at in pauses(2, 5))]
    logged = [WALL + at * (1 + Fraction(40, 1_000_000)) for at in places]
    first, last = chirp_clues("a.mp4", places, logged)
    drift = (last.wall - first.wall) / (last.at - first.at) - 1
    assert abs(drift - Fraction(40, 1_000_000)) < Fraction(1, 1_000_000)


PLAN = """---
title: A clip that only heard
frame rate: 25
size: 320x180
utc offset: +00:00
limits: {lower third: 0 s, chapters: 1}
cameras:
  top: {view: overhead}
---
# All
## Look {#look}
- camera: top
> A short line about it, and one more.
"""


def test_clip_that_only_heard_the_page_is_placed_by_its_chirps(
    job: JobFolder, run: Callable[..., Run]
) -> None:
    """Its creation time is 40 s off; the log's chirps put it where it was, and say that they did."""
    places = pauses(11, 6)
    path = job.write("footage/top-1.mp4", b"")
    stamp = (EPOCH + timedelta(seconds=float(WALL) + 40)).strftime("%Y-%m-%dT%H:%M:%S.000000Z")
    grey = np.full((180, 320), 90, np.uint8)
    sound = with_chirps(bench(30, 6), places, -6)
    kit.encode(path, (grey for _ in range(750)), Fraction(25), sound=sound, tags={"creation_time": stamp})
    lines = []
    for number, place in enumerate(places):
        when = (EPOCH + timedelta(microseconds=round((WALL + place) * 1_000_000))).isoformat()
        lines.append(json.dumps({"id": f"page-{number}", "time": when, "kind": "chirp", "step": ""}))
    job.write("job.md", PLAN)
    job.write("bench.jsonl", "\n".join(lines) + "\n")
    for _ in range(2):  # the second time from what was kept
        done = run("sync", job.root)
        assert done.status in (0, 1), done.text
        assert "top-1.mp4: chirp, within 0.05" in done.text
    (held,) = json.loads((job.root / "out" / "sync.json").read_text())["clips"]
    assert abs(Fraction(held["start"]) - WALL) < Fraction(2, 1000)
