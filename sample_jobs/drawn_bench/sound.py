"""The sound of the drawn bench: a quiet room, and small noises at given times. Synthesised, nothing recorded.

In: noises as (second, kind, length in seconds). Out: samples from -1 to 1 at 48 kHz, mono. No randomness but
a generator with a fixed seed.
"""

from __future__ import annotations

from collections.abc import Iterable

import numpy as np
from numpy.typing import NDArray

RATE = 48_000
Samples = NDArray[np.float64]


def room(seconds: float, level: float, rng: np.random.Generator) -> Samples:
    """Room tone: noise that falls off towards the highs, with a faint hum of the mains. `level` is its rms."""
    count = round(seconds * RATE)
    size = 1 << (count - 1).bit_length()
    spectrum = np.fft.rfft(rng.standard_normal(size))
    hertz = np.fft.rfftfreq(size, 1 / RATE)
    spectrum *= 1 / (1 + (hertz / 180) ** 1.1) * (hertz > 30)
    tone = np.fft.irfft(spectrum, size)[:count]
    time = np.arange(count) / RATE
    tone *= level / np.sqrt(np.mean(tone**2))
    return tone + level * 0.12 * np.sin(2 * np.pi * 120 * time)


def burst(seconds: float, low: float, high: float, decay: float, rng: np.random.Generator) -> Samples:
    """A burst of noise between two frequencies, dying away with the time constant `decay`."""
    count = round(seconds * RATE)
    spectrum = np.fft.rfft(rng.standard_normal(count))
    hertz = np.fft.rfftfreq(count, 1 / RATE)
    spectrum *= np.exp(
        -((np.log2(np.maximum(hertz, 1) / np.sqrt(low * high)) / (np.log2(high / low) / 2)) ** 2)
    )
    time = np.arange(count) / RATE
    sound = np.fft.irfft(spectrum, count) * np.exp(-time / decay) * np.minimum(1, time / 0.0008)
    return np.asarray(sound / np.max(np.abs(sound)))


def ring(seconds: float, tones: Iterable[tuple[float, float, float]]) -> Samples:
    """Struck tones: (hertz, strength, decay in seconds)."""
    time = np.arange(round(seconds * RATE)) / RATE
    sound = sum(a * np.sin(2 * np.pi * f * time) * np.exp(-time / d) for f, a, d in tones)
    return np.asarray(sound) * np.minimum(1, time / 0.002)


def swell(seconds: float) -> Samples:
    """A level that rises and falls as a hand's speed does."""
    return np.sin(np.pi * np.linspace(0, 1, round(seconds * RATE))) ** 1.5


def train(seconds: float, beats: float, one: Samples, rng: np.random.Generator) -> Samples:
    """A train of small noises, `beats` a second, none quite like the other."""
    sound = np.zeros(round(seconds * RATE) + len(one))
    for i in range(int(seconds * beats)):
        at = round((i + 0.25 * rng.random()) / beats * RATE)
        sound[at : at + len(one)] += one * (0.65 + 0.35 * rng.random())
    return sound


def noise(kind: str, took: float, rng: np.random.Generator) -> Samples:
    """One noise at the level it has in the top camera's microphone."""
    if kind == "tap":
        return 0.10 * burst(0.08, 900, 3000, 0.008, rng) + 0.03 * ring(0.08, [(240, 1, 0.02)])
    if kind == "tick":  # a screw drops onto the magnetic mat
        return 0.09 * burst(0.1, 3500, 9000, 0.010, rng) + 0.04 * ring(
            0.1, [(5200, 1, 0.02), (7100, 0.5, 0.015)]
        )
    if kind == "ratchet":
        return train(took, 13, 0.075 * burst(0.03, 1800, 5200, 0.004, rng), rng)
    if kind == "snap":
        return 0.13 * burst(0.12, 1500, 5000, 0.007, rng) + 0.05 * ring(0.12, [(620, 1, 0.02)])
    if kind == "pop":
        return 0.12 * ring(0.15, [(310, 1, 0.02), (760, 0.6, 0.015)]) + 0.07 * burst(
            0.15, 800, 3000, 0.01, rng
        )
    if kind == "thud":
        return 0.13 * ring(0.3, [(95, 1, 0.05), (190, 0.5, 0.03)]) + 0.05 * burst(0.3, 300, 1400, 0.02, rng)
    if kind == "tear":
        sound = 0.13 * burst(0.35, 2200, 7500, 0.09, rng)
        return sound * (0.6 + 0.4 * np.sign(np.sin(np.cumsum(rng.uniform(0.01, 0.05, len(sound))))))
    if kind == "creak":
        one = 0.06 * ring(0.05, [(430, 1, 0.006), (980, 0.7, 0.005), (1650, 0.4, 0.004)])
        sound = train(took, 42, one, rng)
        return sound * np.resize(
            np.interp(np.linspace(0, 1, len(sound)), [0, 0.3, 0.8, 1], [0.2, 1, 0.7, 0]), len(sound)
        )
    if kind == "slide":
        return 0.035 * burst(took, 500, 2600, 1e9, rng)[: len(swell(took))] * swell(took)
    if kind == "chime":
        parts = [(0.0, 523.25), (0.13, 659.25), (0.26, 783.99), (0.39, 1046.5)]
        sound = np.zeros(round(1.8 * RATE))
        for late, hertz in parts:
            one = 0.055 * ring(1.3, [(hertz, 1, 0.35), (2 * hertz, 0.25, 0.2), (3 * hertz, 0.08, 0.1)])
            at = round(late * RATE)
            sound[at : at + len(one)] += one
        return sound
    if kind == "beep":
        return 0.07 * ring(0.22, [(1318.5, 1, 0.12), (2637, 0.15, 0.06)])
    raise KeyError(kind)


def mix(
    noises: Iterable[tuple[float, str, float]], begin: float, seconds: float, near: float, seed: int
) -> Samples:
    """What a camera's microphone hears from `begin` on: the room, and every noise at `near` times its level."""
    sound = room(seconds, 0.010 * (0.6 + 0.4 * near), np.random.default_rng(seed))
    for number, (at, kind, took) in enumerate(noises):
        piece = near * noise(kind, took, np.random.default_rng((7, number)))  # the same noise on every camera
        start = round((at - begin) * RATE)
        piece = piece[max(0, -start) :]
        start = max(0, start)
        piece = piece[: max(0, len(sound) - start)]
        sound[start : start + len(piece)] += piece
    return np.clip(sound, -1, 1)
