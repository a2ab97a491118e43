"""Sound against sound: when one clip began, by another that heard the same room.

Coarse (`coarse.py`): the ups and downs of the loudness, correlated. Fine (here): windows of the sound itself,
correlated with all frequencies alike, and the straight line that most of them lie on: shift and pace. A clock that
ticks in two clips of different hours correlates well coarsely; it is told by its ticks fitting as well a tick later.
"""

from __future__ import annotations

from dataclasses import dataclass
from fractions import Fraction
from pathlib import Path

import numpy as np
from numpy.typing import NDArray

from episodekit.base.time import Seconds
from episodekit.footage.model import Clip
from episodekit.outside.clocks.coarse import LEAST_OVERLAP, Peak, likely
from episodekit.outside.clocks.hearing import BAND, RATE, Ears, Heard, Sound
from episodekit.sync.agreeing import Drawn, Window, drawn

VERSION = "sound match 1"
"""Part of the name of a match that is kept: to be changed whenever the search is."""

_WINDOWS = 24
_LONGEST, _SHORTEST = 30.0, 2.0
SURE = 6.5
"""Standard deviations by which a window's peak must stand out of its correlation."""

_REACH = 0.3
"""Seconds around the expected place in which a window is looked for."""

_NEAR = 1_200.0
"""Seconds to either side of the coarse peak that are looked at first: there no clock runs out of reach."""

_LOOKS = 12
"""Windows, spread over all, of which one must fit before the others are looked at."""

_RIVAL = 0.6
"""How high another place's correlation may be next to the best one's. Measured: true matches 0.11, ticks 1.3."""

_NEARLY_ALL = _WINDOWS - 2
"""So many windows that no other peak needs to be looked at."""

_REPEATS = 16.0
"""Seconds to either side in which another place is looked for: a clock repeats itself after one, a chirp after four."""

_APART = 0.05
"""Seconds around a peak that are its own: echoes."""

Float = NDArray[np.float32]


@dataclass(frozen=True)
class Match:
    """Other's first frame lies `shift` seconds after one's first frame; a second of other lasts `pace` of one.

    `windows` of `of` agreed, from `first` to `last`, places in other. Between these it is `near` off at most, plus
    or minus, and beyond them by `steep` more for every second. The way of the sound through the room counts as off:
    a metre is 3 ms.
    """

    shift: Seconds
    pace: Fraction
    windows: int
    of: int
    first: Seconds
    last: Seconds
    near: Seconds
    steep: Fraction

    @property
    def within(self) -> Seconds:
        """How far off `shift` may be, plus or minus."""
        return self.within_at(Seconds(0))

    def within_at(self, at: Seconds) -> Seconds:
        """How far off the place in one may be that a place in other is."""
        return self.near + self.steep * max(self.first - at, at - self.last, Seconds(0))


def matched(one: Clip, other: Clip, root: Path, ears: Ears | None = None) -> Match | None:
    """Where other lies by what both heard; None if they did not surely hear the same for eight seconds.

    `ears` keep what was heard when many clips are matched. Raises MediaError if the cache cannot be written.
    """
    ears = ears or Ears(root)
    first, second = ears.heard(one), ears.heard(other)
    return None if first is None or second is None else match(first, second)


def match(one: Heard, two: Heard) -> Match | None:
    """The same of two sounds."""
    found: list[tuple[Drawn, int, float]] = []
    for peak in likely(one.envelope, two.envelope):
        fits = _fine(one.sound, two.sound, peak)
        if fits is not None:
            found.append(fits)
            if fits[0].windows >= _NEARLY_ALL:
                break
    best = max(found, key=lambda fits: fits[0].windows, default=None)
    if best is None or _rivalled(one.sound, two.sound, best[0], best[2]):
        return None
    line, of, _ = best
    return Match(
        _exact(line.offset), 1 + _exact(line.drift), line.windows, of,
        _exact(line.first), _exact(line.last), _exact(line.near), _exact(line.steep),
    )  # fmt: skip


def _exact(value: float) -> Fraction:
    return Fraction(round(value * 1_000_000_000), 1_000_000_000)


def _fine(one: Sound, two: Sound, peak: Peak) -> tuple[Drawn, int, float] | None:
    """The line of the windows near a coarse peak, then of those of all that both heard; of how many, and how long."""
    begin, end = _both(one, two, peak.later)
    close = max(begin, peak.at - _NEAR), min(end, peak.at + _NEAR)
    flat = Drawn(peak.later, 0.0, 0, begin, end, 0.0, 0.0)
    found = _line(one, two, flat, *close)
    if found is None or close == (begin, end):
        return found
    return _line(one, two, found[0], *_both(one, two, found[0].later((begin + end) / 2))) or found


def _both(one: Sound, two: Sound, later: float) -> tuple[float, float]:
    """The part of the second sound, in seconds, that the first heard too."""
    return max(0.0, -later), min(len(two) / RATE, len(one) / RATE - later)


def _line(
    one: Sound, two: Sound, expected: Drawn, begin: float, end: float
) -> tuple[Drawn, int, float] | None:
    """The line that windows from `begin` to `end` of the second sound lie on, near the one that is expected."""
    room = end - begin
    long = min(_LONGEST, max(_SHORTEST, room / 6))
    if room < LEAST_OVERLAP:
        return None
    starts = np.linspace(begin, end - long, _WINDOWS)
    found: list[Window] = []
    # Every fifth one of 24, around and around, comes to all of them, spread evenly from the first few on.
    for count, n in enumerate(np.arange(_WINDOWS) * 5 % _WINDOWS):
        if count == _LOOKS and all(window.later is None for window in found):
            return None
        start = float(starts[n])
        found.append(window_at(one, two, start, long, expected.later(start + long / 2)))
    line = drawn(sorted(found, key=lambda w: w.at), long)
    return None if line is None else (line, _WINDOWS, long)


def window_at(one: Sound, two: Sound, begin: float, long: float, later: float) -> Window:
    """A window of the second sound, from `begin` on, and where it is in the first if that surely stands out."""
    at, shift, size = round(begin * RATE), round(later * RATE), round(long * RATE)
    reach = round(_REACH * RATE)
    here, there = _cut(one, at + shift, size), _cut(two, at, size)
    loud = float(here.std()), float(there.std())
    both = _in_phase(here, there, -reach, reach)
    n = int(np.argmax(both))
    spread = float(both.std())
    if not 0 < n < len(both) - 1 or both[n] - both.mean() <= SURE * spread:
        return Window(begin + long / 2, None, loud)
    left, top, right = (float(value) for value in both[n - 1 : n + 2])
    bend = left - 2 * top + right
    delay = shift + n - reach + (0.5 * (left - right) / bend if bend else 0.0)
    return Window(begin + long / 2, delay / RATE, loud)


def _cut(sound: Sound, begin: int, size: int) -> Float:
    """A part of a sound; silence where there is none."""
    part = np.zeros(size, np.float32)
    held = sound[max(0, begin) : max(0, begin + size)]
    at = max(0, -begin)
    part[at : at + len(held)] = held[: size - at]
    return part


def _in_phase(one: Float, two: Float, first: int, last: int) -> Float:
    """How well two windows agree in phase at all frequencies, for each delay from `first` to `last` samples."""
    size = 1 << (max(len(one), len(two)) + max(0, -first)).bit_length()
    cross = np.fft.rfft(one, size) * np.conj(np.fft.rfft(two, size))
    low, high = (round(hertz * size / RATE) for hertz in BAND)
    level = np.abs(cross[low:high])
    cross[low:high] /= level + float(level.max()) * 1e-9 + 1e-20
    cross[:low] = cross[high:] = 0
    both = np.fft.irfft(cross, size)
    return np.asarray(both[np.arange(first, last + 1)], np.float32)


def _rivalled(one: Sound, two: Sound, line: Drawn, long: float) -> bool:
    """Whether another place fits about as well: what both heard repeats itself, as ticks and chirps do."""
    size, reach, own = round(long * RATE), round(_REPEATS * RATE), round(_APART * RATE)
    delays = np.arange(-reach, reach + 1)
    total, held = np.zeros(len(delays)), np.zeros(len(delays))
    for at in np.linspace(line.first, line.last, _LOOKS):
        begin = round((at - long / 2) * RATE)
        there = begin + round(line.later(float(at)) * RATE)
        total += _in_phase(_cut(one, there - reach, size + 2 * reach), _cut(two, begin, size), 0, 2 * reach)
        # what the first sound has of the window there, of which the beginning or the end may be missing
        held += np.clip(
            (np.minimum(len(one), there + delays + size) - np.maximum(0, there + delays)) / size, 0, 1
        )
    fit = np.where(held > _LOOKS / 3, total / np.maximum(held, 1), 0)
    best = float(fit[reach - own : reach + own + 1].max())
    fit[reach - own : reach + own + 1] = 0
    return bool(fit.max() > _RIVAL * best)
