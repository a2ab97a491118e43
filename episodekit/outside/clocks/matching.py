"""Sound against sound: how much later one clip began than another that heard the same room.

Coarse: the ups and downs of the loudness between 300 and 3,400 Hz, correlated. Fine: windows of the sound itself,
correlated with all frequencies alike, and the straight line that most of them lie on: offset and drift. A clock that
ticks in two clips of different hours correlates well coarsely, never finely in many windows on one line.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from pathlib import Path

import av
import av.error
import numpy as np
from numpy.typing import NDArray

from episodekit.footage.model import Clip

RATE = 8_000
_STEP = 40
"""Samples of one value of the envelope: 200 a second."""

_BAND = (300.0, 3_400.0)
_WINDOWS = 24
_LONGEST, _SHORTEST = 30.0, 2.0
_REACH = 0.3
"""Seconds around the coarse offset in which the fine one is looked for."""

SURE = 6.5
"""Standard deviations by which a window's peak must stand out of its correlation."""

AGREE = 0.010
LEAST = 4
_STEEPEST = 500e-6
_LEAST_OVERLAP = 8.0
_COARSE_PEAKS = 5

Sound = NDArray[np.float32]


@dataclass(frozen=True)
class Alike:
    """`offset` seconds of the first sound at which the second begins, at the middle `at` (of the first) of what both
    heard; `drift` is how much faster that grows a second; `windows` of `of` agree. `first` and `last` bound them.
    """

    offset: float
    drift: float
    windows: int
    of: int
    first: float
    last: float

    def at(self, second: float) -> float:
        """The place in the second sound that a place in the first is."""
        return second - self.offset - self.drift * second


def sound_of(clip: Clip, root: Path) -> Sound:
    """A clip's sound as 8 kHz mono from its first frame on; what cannot be decoded is silence. Empty without sound."""
    samples = np.zeros(int(float(clip.duration) * RATE) + RATE, np.float32)
    end = 0
    with av.open(str(root / clip.path), metadata_errors="replace") as container:
        stream = container.streams.best("audio")
        if not isinstance(stream, av.AudioStream):
            return samples[:0]
        resampler = av.AudioResampler(format="flt", layout="mono", rate=RATE)
        begin: float | None = None
        heard = 0
        try:
            for frame in container.decode(stream):
                for piece in resampler.resample(frame):
                    block = np.frombuffer(bytes(piece.planes[0])[: piece.samples * 4], np.float32)
                    if piece.pts is not None and piece.time_base is not None:
                        due = float(piece.pts * piece.time_base - clip.first) * RATE
                        if begin is None or abs(due - begin - heard) > RATE // 20:
                            begin, heard = due, 0
                    at = round(begin or 0.0) + heard
                    heard += len(block)
                    skip = max(0, -at)
                    part = block[skip : max(0, len(samples) - at)]
                    samples[at + skip : at + skip + len(part)] = part
                    end = max(end, at + skip + len(part))
        except av.error.FFmpegError:
            pass
    return samples[:end]


def match(one: Sound, two: Sound) -> Alike | None:
    """Where the second sound begins in the first; None if they did not surely hear the same."""
    if min(len(one), len(two)) < _LEAST_OVERLAP * RATE:
        return None
    found = [
        alike
        for lag in _coarse(_envelope(one), _envelope(two))
        if (alike := _fine(one, two, lag)) is not None
    ]
    return max(found, key=lambda alike: alike.windows, default=None)


def _envelope(sound: Sound) -> NDArray[np.float64]:
    """The changes of the loudness in the band of speech, 200 a second."""
    count = len(sound) // _STEP
    power = np.zeros(count)
    # In blocks, so that an hour takes no more memory than a minute.
    block = RATE * 60
    for at in range(0, count * _STEP, block):
        part = sound[at : min(at + block, count * _STEP)]
        spectrum = np.fft.rfft(part)
        hertz = np.fft.rfftfreq(len(part), 1 / RATE)
        spectrum[(hertz < _BAND[0]) | (hertz > _BAND[1])] = 0
        heard = np.fft.irfft(spectrum, len(part))
        whole = len(part) // _STEP
        power[at // _STEP : at // _STEP + whole] = (heard[: whole * _STEP].reshape(whole, _STEP) ** 2).mean(1)
    floor = max(float(power.mean()) * 1e-4, 1e-12)
    change = np.diff(np.log(power + floor))
    return np.asarray(change - change.mean() if len(change) else change, np.float64)


def _coarse(one: NDArray[np.float64], two: NDArray[np.float64]) -> list[float]:
    """Likely offsets in seconds, the likeliest first: one if it stands out, else five."""
    size = 1 << (len(one) + len(two) - 1).bit_length()
    both = np.fft.irfft(np.fft.rfft(one, size) * np.conj(np.fft.rfft(two, size)), size)
    lags = np.arange(-(len(two) - 1), len(one))
    values = both[lags % size]
    overlap = np.minimum(len(one), lags + len(two)) - np.maximum(0, lags)
    least = int(_LEAST_OVERLAP * RATE / _STEP)
    score = np.where(overlap >= least, values / np.sqrt(np.maximum(overlap, least)), -np.inf)
    peaks: list[tuple[float, float]] = []
    for _ in range(_COARSE_PEAKS):
        n = int(np.argmax(score))
        if not score[n] > 0:
            break
        peaks.append((float(score[n]), float(lags[n]) * _STEP / RATE))
        score[max(0, n - 60) : n + 61] = -np.inf
    if len(peaks) > 1 and peaks[0][0] > 1.5 * peaks[1][0]:
        return [peaks[0][1]]
    return [lag for _, lag in peaks]


def _fine(one: Sound, two: Sound, lag: float) -> Alike | None:
    """The line that windows of both sounds lie on, near a coarse offset."""
    shift = round(lag * RATE)
    first, last = max(0, shift), min(len(one), len(two) + shift)
    reach = int(_REACH * RATE)
    room = last - first
    long = int(min(_LONGEST * RATE, max(_SHORTEST * RATE, room / 6)))
    if room < max(long, _LEAST_OVERLAP * RATE):
        return None
    starts = np.unique(np.linspace(first, last - long, _WINDOWS).astype(int))
    points: list[tuple[float, float]] = []
    for begin in starts:
        delay, z = _phase(one[begin : begin + long], two[begin - shift : begin - shift + long], reach)
        if z > SURE:
            points.append(((begin + long / 2) / RATE, (shift + delay) / RATE))
    line = _line(points)
    if line is None:
        return None
    offset, drift, used = line
    # Windows that overlap tell the same twice: those that agree must be enough without that.
    apart = (used[-1] - used[0]) * RATE / long + 1
    if len(used) < LEAST or apart < 3:
        return None
    return Alike(offset, drift, len(used), len(starts), used[0], used[-1])


def _phase(one: Sound, two: Sound, reach: int) -> tuple[float, float]:
    """The delay in samples at which two windows agree in phase at all frequencies, and how far that stands out."""
    size = 1 << (len(one) + reach).bit_length()
    cross = np.fft.rfft(one, size) * np.conj(np.fft.rfft(two, size))
    hertz = np.fft.rfftfreq(size, 1 / RATE)
    heard = (hertz >= _BAND[0]) & (hertz <= _BAND[1])
    cross = np.where(heard, cross / (np.abs(cross) + 1e-12), 0)
    both = np.fft.irfft(cross, size)
    near = np.concatenate([both[-reach:], both[: reach + 1]])
    n = int(np.argmax(near))
    spread = float(near.std())
    if spread <= 0 or not 0 < n < len(near) - 1:
        return 0.0, 0.0
    left, top, right = (float(v) for v in near[n - 1 : n + 2])
    bend = left - 2 * top + right
    return n - reach + (0.5 * (left - right) / bend if bend else 0.0), (top - float(near.mean())) / spread


def _line(points: Sequence[tuple[float, float]]) -> tuple[float, float, list[float]] | None:
    """The line through two points that most others lie within 10 ms of, fitted anew on those."""
    best: list[tuple[float, float]] = []
    for n, (x, y) in enumerate(points):
        for u, v in points[n:]:
            slope = (v - y) / (u - x) if u != x else 0.0
            if abs(slope) <= _STEEPEST:
                near = [p for p in points if abs(p[1] - y - slope * (p[0] - x)) <= AGREE]
                best = max(best, near, key=len)
    if len(best) < LEAST:
        return None
    xs, ys = np.array([p[0] for p in best]), np.array([p[1] for p in best])
    middle = float(xs.mean())
    spread = float(((xs - middle) ** 2).sum())
    slope = float(((xs - middle) * (ys - ys.mean())).sum() / spread) if spread > 0 else 0.0
    if xs[-1] - xs[0] < 60 or abs(slope) > _STEEPEST:
        slope = 0.0
    return float(ys.mean()) - slope * middle, slope, [float(x) for x in xs]
