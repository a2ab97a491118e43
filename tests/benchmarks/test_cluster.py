"""Two workers of a Dask cluster cut a draft in little more than half the time of one.

Both of one thread, on this machine, which therefore needs two cores to itself. Measured as a ratio within one
run, medians of five turns, after the first draft of each cluster, which loads libraries.
"""

from __future__ import annotations

import statistics
import time
from fractions import Fraction
from pathlib import Path

import pytest

from episodekit.base.time import Rate
from episodekit.outside.media.engine import render
from tests.media import kit
from tests.media.dask_cluster import dask_cluster

LEAST = 1.7
ROUNDS = 5
RATE = Rate.parse("30")


@pytest.mark.benchmark
def test_two_workers_against_one(tmp_path: Path) -> None:
    pytest.importorskip("distributed", reason="Dask is not installed")
    (tmp_path / "footage").mkdir()
    kit.coded_clip(tmp_path / "footage" / "a.mp4", Fraction(30), 3600)
    clips = kit.clips_in(tmp_path)
    # thirty pieces of ten seconds at three times the speed: decoding, scaling and encoding all have work
    segments = [
        kit.shot("footage/a.mp4", Fraction(index * 3), 300, RATE, Fraction(3, 2 if index % 2 else 1))
        for index in range(30)
    ]
    plan = kit.timeline(RATE, segments, width=1280, height=720)
    figures: dict[int, list[float]] = {1: [], 2: []}
    for folder in ("one", "two"):
        (tmp_path / folder).mkdir()
    with dask_cluster(tmp_path / "one", 1) as one, dask_cluster(tmp_path / "two", 2) as two:
        for turn in range(-1, ROUNDS):
            for workers, cluster in ((1, one), (2, two)):
                out = tmp_path / f"out-{workers}-{turn}"
                began = time.perf_counter()
                render(plan, clips, tmp_path, out / "draft.mp4", out / "cache", cluster=cluster.address)
                if turn >= 0:
                    figures[workers].append(time.perf_counter() - began)
    alone, both = (statistics.median(figures[workers]) for workers in (1, 2))
    print(f"\n300 s of draft: one worker {alone:.1f} s, two {both:.1f} s; {alone / both:.2f} times")
    assert alone >= LEAST * both
