"""From the page at the bench to the cut: steps are logged and the page's own clock is filmed, in Chromium; the draft
shows the frames of those instants, for two cameras whose clocks run apart.
"""

from __future__ import annotations

from fractions import Fraction
from pathlib import Path

from tests.browser import Browser, browser
from tests.sync.page_to_cut import frames_off

__all__ = ["browser"]


def test_steps_logged_on_the_page_are_cut_to_the_frame(tmp_path: Path, browser: Browser) -> None:
    off = frames_off((Fraction(25), Fraction(30000, 1001)), tmp_path, browser)
    assert max(map(abs, off)) <= 1
