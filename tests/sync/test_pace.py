"""A clip whose camera runs fast is cut by its own seconds; expected places are worked out by hand."""

from __future__ import annotations

from fractions import Fraction

from episodekit.footage.model import PlacedClip
from tests.sync.test_ladder import NOON, clip


def test_wall_and_clip_are_each_others_way_back() -> None:
    placed = PlacedClip(clip("top-1.mp4", 0, 1000), "top", NOON, Fraction(10_001, 10_000))
    assert placed.end == NOON + Fraction("1000.1")
    assert placed.wall(Fraction(500)) == NOON + Fraction("500.05")
    assert placed.into(NOON + Fraction("500.05")) == 500
    assert PlacedClip(clip("top-1.mp4", None), "top", None).into(NOON) is None
