"""Forty pairs of one room, forty of strangers."""

from __future__ import annotations

import pytest

from tests.sync.test_matching import off_by, strangers

pytestmark = pytest.mark.benchmark


def test_forty_pairs_within_20_ms() -> None:
    errors = [off_by(seed) for seed in range(100, 140)]
    print(f"worst {max(e for e in errors if e is not None) * 1000:.1f} ms, missed {errors.count(None)}")
    assert None not in errors
    assert all(error is not None and error < 0.020 for error in errors)


def test_not_one_of_forty_strangers() -> None:
    assert not any(strangers(seed) for seed in range(2000, 2040))
