"""Forty pairs of one room, forty of strangers, and two clips of three hours."""

from __future__ import annotations

from pathlib import Path

import pytest

from episodekit.outside.clocks.matching import matched
from tests.sync.pairs import KINDS, strangers
from tests.sync.test_matching import off_by

pytestmark = pytest.mark.benchmark


def test_forty_pairs_within_20_ms(tmp_path: Path) -> None:
    worst = dict.fromkeys(KINDS, 0.0)
    for number in range(40):
        error, match = off_by(number, tmp_path)
        assert match is not None, number
        assert error < 0.020, number
        assert error <= match.near <= match.within, number
        worst[KINDS[number % 5]] = max(worst[KINDS[number % 5]], error)
    print({kind: f"{error * 1000:.2f} ms" for kind, error in worst.items()})


def test_not_one_of_forty_strangers(tmp_path: Path) -> None:
    placed = [number for number in range(40) if matched(*strangers(number, tmp_path), tmp_path) is not None]
    assert not placed
