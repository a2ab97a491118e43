"""Did two clips hear the same all along? Asked of clips that no clock puts near each other.

A match tells that a stretch is the same. In one room the rest is too, at any pause long enough for a knock. A tune, a
game or a boot sound played in two hours agrees while it is played, however loud, and neither before nor after.
"""

from __future__ import annotations

import numpy as np

from episodekit.footage.model import Clip
from episodekit.outside.clocks.hearing import RATE, Ears, Heard
from episodekit.outside.clocks.matching import Match, window_at
from episodekit.sync.agreeing import AGREE, CHANCE

VERSION = "sound all along 1"
"""Part of the name of an answer that is kept."""

LEAST = 15.0
"""Seconds that both must have heard: less may lie in a tune as a whole. Common practice, no source."""

_LONG = 3.0
"""Seconds of a window. Measured in forty rooms, noisy and echoing ones too: nine in ten such windows agree, or more."""

_MOST = 120


def heard_all_along(one: Clip, two: Clip, match: Match, ears: Ears) -> bool:
    """The same of two clips. Raises MediaError if the cache cannot be written."""
    first, second = ears.heard(one), ears.heard(two)
    return first is not None and second is not None and all_along(first, second, match)


def all_along(one: Heard, two: Heard, match: Match) -> bool:
    """Whether what agrees reaches from where both rolled first to where they did last."""

    def later(at: float) -> float:
        return float(match.shift) + at * float(match.pace - 1)

    shift = later(float(match.first + match.last) / 2)
    begin, end = max(0.0, -shift), min(len(two.sound) / RATE, len(one.sound) / RATE - shift)
    if end - begin < LEAST:
        return False
    starts = np.linspace(begin, end - _LONG, min(_MOST, int((end - begin) / _LONG)))
    agree = []
    for n, start in enumerate(starts):
        window = window_at(one.sound, two.sound, float(start), _LONG, later(start + _LONG / 2))
        if window.later is not None and abs(window.later - later(window.at)) <= AGREE:
            agree.append(n)
    if not agree:
        return False
    within = agree[-1] - agree[0] + 1
    return bool((1 - len(agree) / (within + 1)) ** (len(starts) - within) >= CHANCE)
