"""Recorded beats are heard in the draft where the plan says, over the bench, each from its last take.

Takes are bursts of noise of their own, so that a correlation finds each of them again; PyAV reads the draft.
"""

from __future__ import annotations

import io
import json
import wave
from collections.abc import Callable
from fractions import Fraction
from itertools import pairwise
from pathlib import Path

import numpy as np
import pytest
from numpy.typing import NDArray

from episodekit.base.time import Ms, Rate
from episodekit.job.reader import read_plan
from episodekit.outside.media.engine import render
from episodekit.pipeline import compile_episode
from episodekit.timeline.narration import HEAD, TAIL, Line, narration
from episodekit.timing.takes import Take
from tests.conftest import LAMP, JobFolder, Run
from tests.media.kit import BEEP_HZ, clips_in, coded_clip, mono_sound, shot, timeline
from tests.media.kit import SAMPLE_RATE as RATE

Sound = NDArray[np.floating]


def noise(seconds: float, seed: int, *, before: float = 0.6, after: float = 0.8) -> Sound:
    """A room, noise that is like no other for so many seconds, and the room again."""
    chance = np.random.default_rng(seed)
    loud = chance.normal(0, 0.1, round(seconds * RATE))
    return np.concatenate([np.zeros(round(before * RATE)), loud, np.zeros(round(after * RATE))])


def as_wav(samples: Sound, channels: int = 1) -> bytes:
    """16 bits at 48 kHz."""
    file = io.BytesIO()
    with wave.open(file, "wb") as out:
        out.setnchannels(channels)
        out.setsampwidth(2)
        out.setframerate(RATE)
        out.writeframes((np.repeat(samples, channels) * 32767).astype("<i2").tobytes())
    return file.getvalue()


def place_of(part: Sound, whole: Sound) -> tuple[float, float]:
    """Where a part is found in a whole, in seconds, and how alike the two are there."""
    size = 1 << (len(part) + len(whole)).bit_length()
    match = np.fft.irfft(np.fft.rfft(whole, size) * np.conj(np.fft.rfft(part, size)), size)
    at = int(np.argmax(match[: len(whole) - len(part)]))
    return at / RATE, float(np.corrcoef(part, whole[at : at + len(part)])[0, 1])


def test_each_recorded_beat_is_heard_where_the_plan_says(job: JobFolder, run: Callable[..., Run]) -> None:
    seconds = {"open.1": 11.0, "screws.1": 7.5, "solder.1": 12.2}
    sounds = {beat: noise(long, seed) for seed, (beat, long) in enumerate(seconds.items())}
    job.write("takes/open.1.wav", as_wav(sounds["open.1"]))
    job.write("takes/screws.1.wav", as_wav(sounds["screws.1"], channels=2))
    job.write("takes/solder.1-take2.wav", as_wav(noise(11.0, 77)))
    job.write("takes/solder.1-take10.wav", as_wav(sounds["solder.1"]))  # the last one counts
    done = run("draft", job.root)
    assert done.status == 0, done.text
    plan = json.loads((job.root / "out" / "plan.json").read_text())
    beats = {beat["id"]: beat for step in plan["steps"] for beat in step["beats"]}
    draft = mono_sound(job.root / "out" / "draft.mp4")
    assert abs(len(draft) / RATE - plan["runtime_ms"] / 1000) < 0.022  # one block of the codec
    for beat, long in seconds.items():
        words = sounds[beat][round(0.6 * RATE) : -round(0.8 * RATE)]
        at, alike = place_of(words, draft)
        assert alike > 0.85, beat  # the codec leaves out what nobody hears
        # 10 ms is what a take is measured in
        assert abs(at - beats[beat]["start_ms"] / 1000) <= 0.015, beat
        assert abs(beats[beat]["length_ms"] / 1000 - long) <= 0.025
    silent = beats["result.1"]
    first = round(silent["start_ms"] / 1000 * RATE)
    assert np.abs(draft[first + RATE : first + 3 * RATE]).max() < 0.001  # nobody has recorded it yet


def test_the_bench_gives_way_while_somebody_speaks(tmp_path: Path) -> None:
    rate = Rate(Fraction(25))
    tone_of_bench = (0.2 * np.sin(2 * np.pi * BEEP_HZ * np.arange(8 * RATE) / RATE)).astype(np.float32)
    (tmp_path / "footage").mkdir()
    coded_clip(tmp_path / "footage" / "bench.mp4", rate.exact, 200, sound=tone_of_bench)
    (tmp_path / "take.wav").write_bytes(as_wav(noise(2.0, 5)))
    plan = timeline(rate, [shot("footage/bench.mp4", Fraction(0), 200, rate)])
    line = Line("a.1", "take.wav", Ms(600), Ms(2000), Ms(3000))
    for name, lines in (("alone", ()), ("spoken", (line,))):
        target, cache = tmp_path / f"{name}.mp4", tmp_path / "cache"
        render(plan, clips_in(tmp_path), tmp_path, target, cache, narration=lines)

    def tone(name: str, begin: float, end: float) -> float:
        part = mono_sound(tmp_path / f"{name}.mp4")[round(begin * RATE) : round(end * RATE)]
        turning = np.exp(-2j * np.pi * BEEP_HZ * np.arange(len(part)) / RATE)
        return float(2 * abs((part * turning).mean()))

    assert tone("spoken", 0.5, 2.5) == pytest.approx(tone("alone", 0.5, 2.5), rel=0.02)
    assert tone("spoken", 6.5, 7.8) == pytest.approx(tone("alone", 6.5, 7.8), rel=0.05)
    down = 20 * np.log10(tone("spoken", 3.3, 4.9) / tone("alone", 3.3, 4.9))
    assert -18 < down < -8


def test_no_two_beats_are_heard_at_once_and_room_is_kept_around_each() -> None:
    plan, _ = read_plan(LAMP.encode())
    assert plan is not None
    beats = [beat.id for step in plan.all_steps() for beat in step.beats]
    takes = {
        beat: Take(f"takes/{beat}.wav", beat, Ms(6000), Ms(150 * number)) for number, beat in enumerate(beats)
    }
    episode = compile_episode(plan, takes={beat: take.length for beat, take in takes.items()})
    lines = narration(episode.steps, episode.timeline.rate, takes)
    assert sorted(line.beat for line in lines) == sorted(beats)
    for line, after in pairwise(lines):
        assert line.at + line.length <= after.at
    for line in lines:
        take = takes[line.beat]
        head = take.start - line.start
        assert 0 <= head <= min(HEAD, take.start)
        assert take.length <= line.length - head <= take.length + TAIL
    assert lines[-1].at + lines[-1].length <= episode.runtime
