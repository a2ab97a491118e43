"""A hundred drafts stopped with SIGKILL at random moments and resumed: each ends as one that nobody disturbed."""

from __future__ import annotations

import sys
from pathlib import Path

import pytest

from tests.killed import stopped_and_resumed


@pytest.mark.benchmark
@pytest.mark.skipif(sys.platform == "win32", reason="SIGKILL is of Unix")
def test_a_hundred_killed_drafts(tmp_path: Path) -> None:
    tried = stopped_and_resumed(tmp_path, runs=100, seed=20261208)
    middle = [one for one in tried if one.in_the_middle]
    begun = [one for one in middle if one.entries]
    print(
        f"\n{len(tried)} drafts killed after {min(t.seconds for t in tried):.2f} to "
        f"{max(t.seconds for t in tried):.2f} s: {len(middle)} in the middle, {len(begun)} of them with pieces "
        f"in the cache; all resumed to the same bytes"
    )
    assert len(middle) >= 70
    assert len(begun) >= 20
