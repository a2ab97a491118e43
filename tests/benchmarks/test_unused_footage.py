"""Unused footage costs nothing: two minutes out of an hour take as long as two minutes out of two.

Measured as a ratio within one run, medians of several, so that the machine's speed cancels out.
"""

from __future__ import annotations

import statistics
import time
from fractions import Fraction
from pathlib import Path

import pytest

from episodekit.base.time import Rate
from episodekit.outside.media.engine import render
from episodekit.outside.media.probing.probe import probe
from tests.media import kit

MOST = 1.3
ROUNDS = 3
RATE = Rate.parse("30")
MINUTE = 1500  # frames of the clip, at 25 a second


def wall_seconds(root: Path, name: str, starts: list[int], cache: Path) -> float:
    """Probe and render 120 s from the clip into an empty cache."""
    began = time.perf_counter()
    clip = probe(root / name, name).clip
    assert clip is not None
    segments = [kit.shot(name, Fraction(start), 300, RATE) for start in starts]
    plan = kit.timeline(RATE, segments, width=640, height=360)
    render(plan, {name: clip}, root, cache / "draft.mp4", cache / "cache", workers=2)
    return time.perf_counter() - began


@pytest.mark.benchmark
def test_two_minutes_of_an_hour_take_no_longer_than_two_minutes(tmp_path: Path) -> None:
    two = kit.coded_clip(tmp_path / "two.mp4", Fraction(25), 2 * MINUTE, key_every=50)
    names = tmp_path / "names.txt"
    names.write_text(f"file '{two}'\n" * 30)
    kit.remux(names, tmp_path / "hour.mp4", before=["-f", "concat", "-safe", "0"])
    near, far = list(range(0, 120, 10)), list(range(0, 3600, 300))
    figures: dict[str, list[float]] = {"two.mp4": [], "hour.mp4": []}
    for turn in range(ROUNDS):
        for name, starts in (("two.mp4", near), ("hour.mp4", far)):
            figures[name].append(wall_seconds(tmp_path, name, starts, tmp_path / f"{name}{turn}"))
    short, long = (statistics.median(figures[name]) for name in ("two.mp4", "hour.mp4"))
    print(
        f"\n120 s of draft: {short:.2f} s from a 2-minute clip, {long:.2f} s from an hour; {long / short:.2f} times"
    )
    assert long <= MOST * short
