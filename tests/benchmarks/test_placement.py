"""How the placement's time grows with the boundaries, for three reads and up to six ad breaks."""

from __future__ import annotations

import random
from math import log
from statistics import median
from time import process_time

import pytest

from episodekit.slots.model import BreakTerms, Problem, ReadTerms, Span
from episodekit.slots.search import search

RATE = 30
CONTRACTS = (
    ("a window each", ((0.02, 0.25), (0.4, 0.6), (0.6, 1))),
    ("no windows", ((0, 1), (0, 1), (0, 1))),
)


def episode(boundaries: int, seed: int, windows: tuple[tuple[float, float], ...]) -> Problem:
    """Beats of 3 to 9 s, one in six risky; reads of 50 s that keep a minute from each other and from breaks."""
    chance = random.Random(seed)
    frames = tuple(RATE * chance.randint(3, 9) for _ in range(boundaries))
    total = sum(frames)
    classes = tuple(
        frozenset(name for name in ("hazard", "caution", "cell") if chance.random() < 0.06) for _ in frames
    )
    points = [
        tuple(30 * (chance.random() < 0.4) + 40 * (chance.random() < 0.1) + 20 for _ in range(boundaries + 1))
        for _ in range(4)
    ]
    near = {"hazard": 5 * RATE, "caution": 5 * RATE}
    reads = tuple(
        ReadTerms(
            name,
            50 * RATE,
            Span(int(total * low), int(total * high) + 150 * RATE * (high == 1)),
            {**near, "cell": 30 * RATE},
            60 * RATE,
            60 * RATE,
            points[n],
        )
        for n, (name, (low, high)) in enumerate(zip("abc", windows, strict=True))
    )
    count = max(1, 6 * boundaries // 400)
    breaks = BreakTerms(
        Span(count, count),
        Span(240 * RATE, 360 * RATE),
        Span(60 * RATE, 10**9),
        near,
        60 * RATE,
        points[3],
        100,
        0,
    )
    return Problem(frames, classes, (False, *(True,) * boundaries), reads, breaks)


@pytest.mark.benchmark
@pytest.mark.parametrize(("name", "windows"), CONTRACTS)
def test_time_grows_no_faster_than_the_cube_of_the_boundaries(
    name: str, windows: tuple[tuple[float, float], ...]
) -> None:
    taken: dict[int, float] = {}
    for boundaries in (100, 200, 400):
        runs = []
        for seed in range(7):
            problem = episode(boundaries, seed, windows)
            start = process_time()
            made = search(problem)
            runs.append(process_time() - start)
            assert made is not None
        taken[boundaries] = median(runs)
        print(
            f"\n{name}: {boundaries} boundaries: median {taken[boundaries]:.2f} s of CPU, worst {max(runs):.2f} s",
            end="",
        )
    exponent = log(taken[400] / taken[100]) / log(4)
    print(f"\n{name}: exponent {exponent:.2f}")
    assert exponent < 3
