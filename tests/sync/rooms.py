"""Made-up rooms, and what cameras in them hear: each with its own gain, noise, echo, clock and codec.

A room is sound at 16 kHz. Where they are installed, real recordings are part of it: telephone prompts of the Debian
package asterisk-core-sounds-en-wav, and the sound of real clips.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from fractions import Fraction
from functools import lru_cache
from pathlib import Path

import av
import numpy as np
from numpy.typing import NDArray

from episodekit.footage.model import Clip
from episodekit.outside.media.probing.probe import probe
from tests.media import kit
from tests.voices.heard import PROMPTS

RATE = 16_000
Sound = NDArray[np.float32]


def bench(dice: np.random.Generator, seconds: float, busy: float = 1.5) -> Sound:
    """Knocks and scrapes, `busy` of them a second, and mains hum, over a hiss."""
    count = int(seconds * RATE)
    sound = dice.normal(0, 0.005, count)
    sound += 0.01 * np.sin(2 * np.pi * 50 * np.arange(count) / RATE)
    for _ in range(int(seconds * busy)):
        at, long = int(dice.integers(0, count)), int(dice.integers(400, 12_000))
        fade = np.exp(-np.arange(long) / (long / 5))
        knock = dice.normal(0, dice.uniform(0.05, 0.4), long) * fade
        knock += dice.uniform(0, 0.3) * fade * np.sin(dice.uniform(0.1, 1.2) * np.arange(long))
        sound[at : at + long] += knock[: count - at]
    return sound.astype(np.float32)


def clock(seconds: float, loud: float = 0.3, late: float = 0.0, period: float = 1.0) -> Sound:
    """The same clock wherever it is heard: tick and tock by turns, every `period` seconds, nothing else alike."""
    sound = np.zeros(int(seconds * RATE) + RATE, np.float32)
    at = np.arange(640)
    for n in range(int((seconds - late) / period)):
        wave = np.exp(-at / 60) * np.sin(2 * np.pi * (2_200, 1_900)[n % 2] / RATE * at)
        begin = int((late + n * period) * RATE)
        sound[begin : begin + 640] += (loud * wave).astype(np.float32)
    return sound[: int(seconds * RATE)]


def chirps(seconds: float, first: float, count: int, loud: float = 0.3) -> Sound:
    """What the clock page plays while it is filmed: half a second from 1.5 to 6 kHz, every four seconds."""
    sound = np.zeros(int(seconds * RATE), np.float32)
    at = np.arange(RATE // 2) / RATE
    wave = loud * np.sin(2 * np.pi * (1_500 * at + 4_500 * at**2))
    for n in range(count):
        begin = int((first + 4 * n) * RATE)
        room = min(len(wave), len(sound) - begin)
        sound[begin : begin + room] += wave[:room]
    return sound


def tune(dice: np.random.Generator, seconds: float, loud: float = 0.3) -> Sound:
    """What a device plays: four notes a second, each of two tones that fade."""
    sound, at = np.zeros(int(seconds * RATE), np.float32), np.arange(RATE // 2) / RATE
    for begin in range(0, len(sound), RATE // 4):
        first, second = dice.uniform(300, 3_000, 2)
        note = np.exp(-8 * at) * (np.sin(2 * np.pi * first * at) + np.sin(2 * np.pi * second * at))
        sound[begin : begin + len(at)] += (loud / 2 * note).astype(np.float32)[: len(sound) - begin]
    return sound


def recordings() -> list[Sound]:
    """What was recorded for real and is here: prompts of a narrator, then the sound of clips of a second or more."""
    found = [_wave(path) for path in sorted(PROMPTS.glob("*.wav"))[::9]] if PROMPTS.is_dir() else []
    return found + [sound for path in kit.real_clips() if len(sound := _wave(path)) > RATE]


@lru_cache(maxsize=256)
def _wave(path: Path) -> Sound:
    blocks: list[Sound] = []
    with av.open(str(path), metadata_errors="replace") as container:
        resampler = av.AudioResampler(format="flt", layout="mono", rate=RATE)
        for frame in container.decode(audio=0) if container.streams.audio else ():
            blocks += [piece.to_ndarray()[0] for piece in resampler.resample(frame)]
    return np.concatenate(blocks) if blocks else np.zeros(0, np.float32)


def played(dice: np.random.Generator, seconds: float, loud: float = 0.5) -> Sound:
    """Recordings one after the other at random, with pauses: nothing if none are here."""
    sound, at, held = np.zeros(int(seconds * RATE), np.float32), 0, recordings()
    while held and at < len(sound):
        one = held[int(dice.integers(len(held)))]
        one = one * (loud * dice.uniform(0.3, 1) / max(0.01, float(np.abs(one).max())))
        sound[at : at + len(one)] += one[: len(sound) - at]
        at += len(one) + int(dice.uniform(0.1, 2) * RATE)
    return sound


@dataclass(frozen=True)
class Camera:
    """It rolls from `first` on, a second of the room, for `seconds` of its own, each 1 + `drift` of the room's."""

    first: float
    seconds: float
    drift: float = 0.0
    gain: float = 1.0
    noise: float = 0.005
    echo: float = 0.1
    decay: float = 0.06
    pumping: bool = False

    def place(self, room: float) -> float:
        """The place in its clip that an instant of the room is."""
        return (room - self.first) / (1 + self.drift)


def heard(room: Sound, camera: Camera, dice: np.random.Generator, rate: int = RATE) -> Sound:
    """What a camera hears of a room."""
    size = 1 << (len(room) + RATE).bit_length()
    tail = dice.normal(0, 1, RATE // 2) * np.exp(-np.arange(RATE // 2) / (camera.decay * RATE))
    tail *= camera.echo / np.sqrt((tail**2).sum())
    tail[0] = 1
    wet = np.fft.irfft(np.fft.rfft(room, size) * np.fft.rfft(tail, size), size)[: len(room)]
    times = camera.first + np.arange(int(camera.seconds * rate)) / rate * (1 + camera.drift)
    sound = np.interp(times * RATE, np.arange(len(wet)), wet, 0, 0)
    sound += dice.normal(0, camera.noise, len(sound))
    if camera.pumping:  # a gain that is turned down by what is loud and comes back slowly
        summed = np.concatenate([np.zeros(rate), np.cumsum(sound**2)])
        level = np.sqrt((summed[rate:] - summed[:-rate]) / rate)
        sound = sound * 0.1 / (0.02 + level)
    return np.clip(camera.gain * sound, -1, 1).astype(np.float32)


def clip(path: Path, sound: Sound) -> Clip:
    """A file with that sound, at the kit's rate, and a small black picture; as the program sees it."""
    frames = max(1, int(len(sound) / kit.SAMPLE_RATE * 2))
    kit.encode(path, _black(frames), Fraction(2), sound=sound)
    made = probe(path, path.name).clip
    assert made is not None
    return made


def _black(frames: int) -> Iterator[kit.Image]:
    for _ in range(frames):
        yield np.zeros((48, 64), np.uint8)
