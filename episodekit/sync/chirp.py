"""The chirp that the bench log's page plays with its clock, and which of those heard is which of those logged.

A sweep of half a second from 1.5 to 6 kHz at constant steepness, faded in and out over a twentieth of its length each
(a Tukey window of 0.1): what a phone's speaker can play and any camera's microphone hears. `templates/bench/chirp.js`
plays the same. The pauses between chirps are of random lengths, so that four in a row are like no other four.
"""

from __future__ import annotations

import math
from bisect import bisect
from collections.abc import Iterable, Sequence
from fractions import Fraction
from itertools import pairwise
from statistics import median

from episodekit.base.time import Seconds
from episodekit.bench.model import WALL, Kind, PlacedMark
from episodekit.sync.model import Clue, Rung

LOWEST, HIGHEST = 1_500.0, 6_000.0
"""Hertz at its beginning and its end."""

LENGTH = 0.5
FADED = 0.1
"""The share of the length that is faded, half of it at either end."""

WITHIN = Seconds(50, 1000)
"""How far off a chirp's place may be: the mark says when the device believed that it sounded, and speakers, wireless
ones above all, are later than they tell. Common practice, no source."""

AGREE = 0.008
"""Marks and places in the clip that are one chirp agree so well once the offset is right."""

DRIFT = 100e-6
"""How fast or slow a camera may run. Common practice, no source."""

APART, LONGEST = Seconds(30), Seconds(120)
"""Chirps further apart are of two showings of the clock, with a clue each; so are the parts of a long one."""

_SEEDS = 8

LEAST = 4
CLEARLY = 2
"""By so many more chirps than at any other offset must the log agree: else nobody can tell which is which."""

CHANCE = 0.001
"""Offsets at which as many chirps would agree by mere chance: if more, it may be the log of another day."""


def chirp(rate: int) -> tuple[float, ...]:
    """The chirp as samples between -1 and 1.

    >>> len(chirp(16_000))
    8000
    """
    count = round(LENGTH * rate)
    return tuple(
        _faded(n / (count - 1))
        * math.sin(2 * math.pi * (LOWEST + (HIGHEST - LOWEST) * n / rate / LENGTH / 2) * n / rate)
        for n in range(count)
    )


def _faded(through: float) -> float:
    """The Tukey window at a share of the length."""
    edge = min(through, 1 - through) / (FADED / 2)
    return 1.0 if edge >= 1 else 0.5 - 0.5 * math.cos(math.pi * edge)


def logged_chirps(marks: Iterable[PlacedMark]) -> tuple[Seconds, ...]:
    """When chirps were played, in seconds since 1970, sorted; those logged by a clip's own time tell nothing."""
    return tuple(
        sorted(
            one.moment.seconds
            for one in marks
            if one.mark.kind is Kind.CHIRP and one.moment.clock == WALL and one.moment.clip is None
        )
    )


def chirp_clues(clip: str, found: Sequence[Seconds], logged: Sequence[Seconds]) -> tuple[Clue, ...]:
    """A clue for each showing of the clock that the clip heard.

    `found` are places in the clip where a chirp begins, `logged` the instants of all that were played. Where the log
    fits at two offsets, as it does with few chirps or with even pauses, there is none.
    """
    played = sorted(logged)
    clues = []
    for group in _showings(sorted(found)):
        pairs = _pairs(group, played)
        if pairs:
            at, wall = (sum(values, Fraction(0)) / len(pairs) for values in zip(*pairs, strict=True))
            said = f"{len(pairs)} of {len(group)} chirps agree"
            clues.append(Clue(clip, Rung.CHIRP, at, wall, WITHIN, text=said))
    return tuple(clues)


def _showings(found: Sequence[Seconds]) -> list[list[Seconds]]:
    groups: list[list[Seconds]] = []
    for at in found:
        if groups and at - groups[-1][-1] <= APART and at - groups[-1][0] <= LONGEST:
            groups[-1].append(at)
        else:
            groups.append([at])
    return groups


def _pairs(group: Sequence[Seconds], played: Sequence[Seconds]) -> list[tuple[Seconds, Seconds]]:
    """What was heard, each with what was logged, at the one offset that fits; empty if there is none or several."""
    # Floats hold this century's microseconds, and an afternoon's chirps are a great many pairs.
    heard, walls = [float(at) for at in group], [float(wall) for wall in played]
    seeds = heard[:: max(1, len(heard) // _SEEDS)]
    fits = [
        (_agreeing(heard, walls, wall - seed, seed), wall - seed, seed) for seed in seeds for wall in walls
    ]
    if not fits:
        return []
    best, offset, _ = max(fits, key=lambda fit: len(fit[0]))
    others = max((len(fit[0]) for fit in fits if abs(fit[1] - offset) > 4 * AGREE), default=0)
    if len(best) < max(LEAST, others + CLEARLY) or 2 * len(best) <= len(group):
        return []
    if _by_chance(len(group), walls, len(best)) > CHANCE:
        return []
    return [(group[n], played[k]) for n, k in best]


def _by_chance(heard: int, walls: Sequence[float], agreeing: int) -> float:
    """At how many offsets so many of the chirps heard would agree with a log that has nothing to do with them."""
    pause = median(after - before for before, after in pairwise(walls))
    hit = min(1.0, 2 * (AGREE + DRIFT * float(LONGEST) / 2) / max(pause, 0.001))
    return heard * len(walls) * math.comb(heard - 1, agreeing - 1) * float(hit ** (agreeing - 1))


def _agreeing(
    heard: Sequence[float], walls: Sequence[float], offset: float, seed: float
) -> list[tuple[int, int]]:
    """Which chirps heard are which of the logged, by number, at an offset that is right for the one at `seed`."""
    pairs = []
    for n, at in enumerate(heard):
        k = bisect(walls, at + offset)
        for near in range(max(0, k - 1), min(len(walls), k + 1)):
            if abs(walls[near] - at - offset) <= AGREE + DRIFT * abs(at - seed):
                pairs.append((n, near))
                break
    return pairs
