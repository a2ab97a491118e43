"""A draft that was stopped the hard way goes on where it was: six runs; a hundred are a benchmark.

What is compared with: the bytes of a run that nobody disturbed, and the raw files' SHA-256.
"""

from __future__ import annotations

import sys
from pathlib import Path

import pytest

from tests.killed import stopped_and_resumed


@pytest.mark.skipif(sys.platform == "win32", reason="SIGKILL is of Unix")
def test_drafts_killed_at_random_moments_end_as_if_nothing_had_been(tmp_path: Path) -> None:
    tried = stopped_and_resumed(tmp_path, runs=6, seed=20261107)
    assert any(one.in_the_middle for one in tried)
