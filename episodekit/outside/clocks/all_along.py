"""Did two clips hear the same all along? Asked of clips that no clock puts near each other.

A match tells that a stretch is the same. In one room so is the rest, and what is sudden and loud in one clip is in the
other too. What a device or a speaker played in two hours agrees while it is played, however loud, neither before nor
after; and if it is played throughout, the knocks of each hour are missing in the other.
"""

from __future__ import annotations

import numpy as np

from episodekit.footage.model import Clip
from episodekit.outside.clocks.coarse import A_SECOND
from episodekit.outside.clocks.hearing import RATE, Ears, Envelope, Heard
from episodekit.outside.clocks.matching import Match, window_at
from episodekit.sync.agreeing import AGREE, CHANCE

VERSION = "sound all along 1"
"""Part of the name of an answer that is kept."""

LEAST = 15.0
"""Seconds that both must have heard: less may lie in a tune as a whole. Common practice, no source."""

_LONG = 3.0
"""Seconds of a window. Measured in made rooms, noisy and echoing ones too: nine in ten such windows agree, or more."""

_MOST = 120
"""Windows, and sudden sounds, that are looked at."""

_SUDDEN = 8.0
"""Times the usual change of loudness, by its median."""

_MISSED = 0.2
"""The share of sudden sounds that may be missing in the other clip: a camera that is touched hears that alone. Measured
in made rooms: 0.12 at most in one hour, a third and more where a voice was played throughout two. Notes that are louder
than all knocks hide these."""

_ALONE = 2
"""So many missing are no accident."""


def heard_all_along(one: Clip, two: Clip, match: Match, ears: Ears) -> bool:
    """The same of two clips. Raises MediaError if the cache cannot be written."""
    first, second = ears.heard(one), ears.heard(two)
    return first is not None and second is not None and all_along(first, second, match)


def all_along(one: Heard, two: Heard, match: Match) -> bool:
    """Whether what agrees reaches from where both rolled first to where they did last, and nothing loud is missing."""
    shift, pace = float(match.shift), float(match.pace)
    begin, end = max(0.0, -shift / pace), min(len(two.sound) / RATE, (len(one.sound) / RATE - shift) / pace)
    if end - begin < LEAST or not _throughout(one, two, match, begin, end):
        return False
    ours = one.envelope[int((shift + begin * pace) * A_SECOND) : int((shift + end * pace) * A_SECOND)]
    theirs = two.envelope[int(begin * A_SECOND) : int(end * A_SECOND)]
    of_one, missed_by_two = _missed(ours, theirs, 1 / pace)
    of_two, missed_by_one = _missed(theirs, ours, pace)
    missed = missed_by_one + missed_by_two
    return missed < _ALONE or missed <= _MISSED * (of_one + of_two)


def _throughout(one: Heard, two: Heard, match: Match, begin: float, end: float) -> bool:
    """Whether windows agree from the beginning to the end of what both may have heard."""
    starts = np.linspace(begin, end - _LONG, min(_MOST, int((end - begin) / _LONG)))
    agree = []
    for n, start in enumerate(starts):
        middle = float(start) + _LONG / 2
        later = float(match.shift) + middle * float(match.pace - 1)
        window = window_at(one.sound, two.sound, float(start), _LONG, later)
        if window.later is not None and abs(window.later - later) <= AGREE:
            agree.append(n)
    if not agree:
        return False
    within = agree[-1] - agree[0] + 1
    return bool((1 - len(agree) / (within + 1)) ** (len(starts) - within) >= CHANCE)


def _missed(one: Envelope, two: Envelope, pace: float) -> tuple[int, int]:
    """How many sudden sounds one has, and how many of these two has not, of what begins and ends together.

    `pace` is values of two for one of one.
    """
    usual = 1.4826 * float(np.median(np.abs(one - np.median(one))))
    sudden: list[int] = []
    places = np.flatnonzero(one > _SUDDEN * usual)
    for n in places[np.argsort(-one[places], kind="stable")]:
        if all(abs(n - other) > A_SECOND // 5 for other in sudden):
            sudden.append(int(n))
            if len(sudden) == _MOST:
                break
    near = np.max([np.roll(two, by) for by in (-2, -1, 0, 1, 2)], axis=0)
    limit = float(np.quantile(near, 0.9))
    at = [min(round(n * pace), len(near) - 1) for n in sudden]
    return len(sudden), sum(bool(near[n] <= limit) for n in at)
