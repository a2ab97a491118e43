"""Where two sounds may be the same, by the ups and downs of their loudness: a few places, none of them sure."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from episodekit.outside.clocks.hearing import RATE, STEP, Envelope

A_SECOND = RATE // STEP
LEAST_OVERLAP = 8.0
"""Seconds that both must have heard."""

_CHUNK = 1_200 * A_SECOND
"""In twenty minutes two cameras' clocks drift 0.1 s apart at most, which leaves the peak standing."""

_HOP = 900 * A_SECOND
_PEAKS = 5
_STANDS_OUT = 1.5
_ITS_OWN = A_SECOND * 3 // 10


@dataclass(frozen=True)
class Peak:
    """A place in the second sound may be `later` seconds later in the first, by what was heard around `at`."""

    score: float
    later: float
    at: float


def likely(one: Envelope, two: Envelope) -> list[Peak]:
    """The likeliest first: a single one if it stands out, else five. Twenty minutes at a time, against all of one."""
    if min(len(one), len(two)) < LEAST_OVERLAP * A_SECOND:
        return []
    size = 1 << (len(one) + min(_CHUNK, len(two)) - 1).bit_length()
    whole = np.fft.rfft(one / (float(one.std()) or 1), size)
    found: list[Peak] = []
    for begin in range(0, max(1, len(two) - _CHUNK + _HOP), _HOP):
        part = two[begin : begin + _CHUNK]
        loud = float(part.std())
        if loud > 0 and len(part) >= LEAST_OVERLAP * A_SECOND:
            both = np.fft.irfft(whole * np.conj(np.fft.rfft(part / loud, size)), size)
            found += _peaks(both, len(one), len(part), begin)
    best: list[Peak] = []
    for peak in sorted(found, key=lambda peak: -peak.score):
        if all(abs(peak.later - other.later) * A_SECOND > _ITS_OWN for other in best):
            best.append(peak)
    if len(best) > 1 and best[0].score > _STANDS_OUT * best[1].score:
        return best[:1]
    return best[:_PEAKS]


def _peaks(both: NDArray[np.floating], long: int, part: int, begin: int) -> list[Peak]:
    """The highest places of a correlation, each over the square root of how much overlaps there."""
    score = np.concatenate([both[len(both) - part + 1 :], both[:long]])
    lags = np.arange(-(part - 1), long, dtype=np.int32)
    overlap = np.minimum(long, lags + part) - np.maximum(0, lags)
    least = int(LEAST_OVERLAP * A_SECOND)
    score = np.where(overlap >= least, score / np.sqrt(np.maximum(overlap, least)), -np.inf)
    found = []
    for _ in range(_PEAKS):
        n = int(np.argmax(score))
        if not score[n] > 0:
            break
        lag = int(lags[n])
        middle = (max(0, -lag) + min(part, long - lag)) / 2
        found.append(Peak(float(score[n]), (lag - begin) / A_SECOND, (begin + middle) / A_SECOND))
        score[max(0, n - _ITS_OWN) : n + _ITS_OWN + 1] = -np.inf
    return found
