"""Listen to a finished video: how loud each stretch is, and where a recorded take is heard in it.

A take is found by the ups and downs of its loudness, 10 ms by 10 ms, which music at a usual level under it, another
codec or another volume leave alike; what is said is not understood.
"""

from __future__ import annotations

from dataclasses import dataclass
from math import log10
from pathlib import Path

import av
import av.error
import numpy as np
from numpy.typing import NDArray

from episodekit.base.time import Ms, Seconds
from episodekit.timing.trim import FRAME, SILENCE, speech_span

_RATE = 16_000
_STEP = _RATE * FRAME // 1000
ALIKE = 0.6
"""Likeness from which a take is taken to be heard. Measured on two machine voices: 0.99 and more for the take itself,
encoded anew and under noise 14 dB below it; 0.44 and less for ten other lines of the same voices."""

_SHORTEST = 30
"""10 ms steps: a take below 0.3 s has too few ups and downs to be told from others."""

Levels = NDArray[np.float64]


@dataclass(frozen=True)
class Match:
    """Where a take begins in a video, and how alike its loudness runs there, from 0 to 1."""

    start: Ms
    alike: float


def levels(path: Path, zero: Seconds = Seconds(0)) -> Levels | None:
    """The amplitude of each 10 ms, full scale 1, from the time stamp `zero` on; None if the file has no sound.

    A stretch that cannot be decoded ends it.
    """
    parts: list[NDArray[np.float32]] = []
    heard = 0
    with av.open(str(path), metadata_errors="replace") as container:
        stream = container.streams.best("audio")
        if not isinstance(stream, av.AudioStream):
            return None
        resampler = av.AudioResampler(format="flt", layout="mono", rate=_RATE)
        try:
            for frame in container.decode(stream):
                for piece in resampler.resample(frame):
                    block = np.frombuffer(bytes(piece.planes[0])[: piece.samples * 4], np.float32)
                    if piece.pts is not None and piece.time_base is not None:
                        due = round((piece.pts * piece.time_base - zero) * _RATE)
                        if due > heard + _RATE // 20 or not parts:  # a gap in the sound is silence
                            parts.append(np.zeros(max(0, due - heard), np.float32))
                            block = block[max(0, heard - due) if due < heard else 0 :]
                            heard += len(parts[-1])
                    parts.append(block)
                    heard += len(block)
        except (av.error.FFmpegError, ValueError):
            pass
    samples = np.concatenate(parts) if parts else np.zeros(0, np.float32)
    whole = samples[: len(samples) // _STEP * _STEP].reshape(-1, _STEP).astype(np.float64)
    return np.sqrt((whole**2).mean(axis=1)) if len(whole) else None


def loudness(sound: Levels, start: Ms, end: Ms) -> float:
    """How loud the loud tenth of a stretch is, in dB below full scale: speech, not the pauses in it."""
    part = sound[start // FRAME : max(start // FRAME + 1, end // FRAME)]
    loud = float(np.percentile(part, 90)) if len(part) else 0.0
    return max(SILENCE, 20 * float(np.log10(loud))) if loud > 0 else SILENCE


def speech_of(sound: Levels) -> Levels:
    """A recording from its first word to its last; all of it where no speech stands out."""
    span = speech_span(
        [max(SILENCE, 20 * log10(level)) if level > 0 else SILENCE for level in sound.tolist()]
    )
    return sound if span is None else sound[span[0] : span[1]]


def find(take: Levels, sound: Levels) -> Match | None:
    """The place at which a take's loudness runs most alike; None for a take too short or too long to be looked for.

    Normalised cross-correlation at every 10 ms, by Fourier transform.
    """
    count = len(take)
    if count < _SHORTEST or count > len(sound) or not take.any():
        return None
    shape = take - take.mean()
    size = 1 << (len(sound) + count).bit_length()
    product = np.fft.rfft(sound, size) * np.conj(np.fft.rfft(shape, size))
    both = np.fft.irfft(product, size)[: len(sound) - count + 1]
    sums = np.concatenate([[0.0], np.cumsum(sound)])
    squares = np.concatenate([[0.0], np.cumsum(sound**2)])
    total = sums[count:] - sums[:-count]
    power = np.maximum(squares[count:] - squares[:-count] - total**2 / count, 1e-12)
    alike = both / np.sqrt(power * float(shape @ shape))
    # A silent stretch has no ups and downs to compare.
    alike[power < 1e-9 * count] = 0.0
    best = int(alike.argmax())
    return Match(Ms(best * FRAME), float(alike[best]))
