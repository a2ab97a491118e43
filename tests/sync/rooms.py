"""Made-up bench sound: what two cameras in one room hear of it, and what strangers hear."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

RATE = 8_000
Sound = NDArray[np.float32]


def bench(seed: int, seconds: float, ticking: bool = False) -> Sound:
    """Knocks, scrapes and hum at random, over a hiss; with a clock that ticks every second if asked."""
    dice = np.random.default_rng(seed)
    count = int(seconds * RATE)
    sound = dice.normal(0, 0.01, count)
    sound += 0.01 * np.sin(2 * np.pi * 50 * np.arange(count) / RATE)
    for _ in range(int(seconds * 1.5)):
        at, long = int(dice.integers(0, count)), int(dice.integers(200, 6_000))
        fade = np.exp(-np.arange(long) / (long / 5))
        knock = dice.normal(0, dice.uniform(0.05, 0.4), long) * fade
        knock += (
            dice.uniform(0, 0.3) * fade * np.sin(2 * np.pi * dice.uniform(300, 3000) * np.arange(long) / RATE)
        )
        sound[at : at + long] += knock[: count - at]
    if ticking:
        tick = np.exp(-np.arange(160) / 30) * np.sin(2 * np.pi * 2200 * np.arange(160) / RATE)
        for at in range(0, count - 160, RATE):
            sound[at : at + 160] += 0.3 * tick
    return sound.astype(np.float32)


def heard(
    room: Sound,
    first: float,
    seconds: float,
    seed: int,
    *,
    drift: float = 0,
    echo: float = 0.1,
    noise: float = 0.01,
) -> Sound:
    """What a camera hears that rolls from `first` on: its gain, noise, echo, and a clock that is off by `drift`."""
    dice = np.random.default_rng(seed)
    times = (first + np.arange(int(seconds * RATE)) / RATE * (1 + drift)) * RATE
    sound = np.interp(times, np.arange(len(room)), room)
    tail = dice.normal(0, 1, int(0.4 * RATE)) * np.exp(-np.arange(int(0.4 * RATE)) / (0.06 * RATE))
    tail *= echo / np.sqrt((tail**2).sum())
    tail[0] = 1
    size = 1 << (len(sound) + len(tail)).bit_length()
    sound = np.fft.irfft(np.fft.rfft(sound, size) * np.fft.rfft(tail, size), size)[: len(sound)]
    return (dice.uniform(0.1, 2) * (sound + dice.normal(0, noise, len(sound)))).astype(np.float32)
