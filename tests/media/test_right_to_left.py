"""Words that run from right to left, or both ways on a line, come out as Chromium draws them in the same font.

Chromium orders by Unicode UAX #9 and shapes by itself; what is compared is where along the line there is ink.
"""

from __future__ import annotations

import base64
import io
import shutil
import subprocess
from pathlib import Path

import numpy as np
import pytest
from numpy.typing import NDArray
from PIL import Image

from episodekit.outside.media.lettering import Style, ink, set_text
from tests.browser import Browser, browser

__all__ = ["browser"]

LINES = {
    "Arabic": "افصل البطارية قبل الفتح",
    "Hebrew": "נתקו את הסוללה לפני הפתיחה",
    "Arabic with figures and Latin": "البطارية 18650 بجهد 3.7 V فقط",
    "Hebrew inside English": "Unplug the סוללה first, then wait 5 min",
    "combining marks": "Café naïve a\u0301\u0323 o\u0308",
}
PIXELS = 40


@pytest.fixture(scope="module")
def font() -> Path:
    """A font that holds Arabic and Hebrew letters."""
    told = ""
    if shutil.which("fc-match"):
        words = ["fc-match", "--format=%{file}", "DejaVu Sans:style=Book"]
        told = subprocess.run(words, capture_output=True, text=True, check=True).stdout
    if not told.endswith("DejaVuSans.ttf"):
        pytest.skip("needs the DejaVu Sans font (Debian: fonts-dejavu-core)")
    return Path(told)


def profile(coverage: NDArray[np.float32]) -> NDArray[np.float32]:
    """Ink in each column from the first to the last that holds any."""
    columns = coverage.sum(0)
    inked = np.flatnonzero(columns > 20)
    found: NDArray[np.float32] = columns[inked[0] : inked[-1] + 1]
    return found


def alike(one: NDArray[np.float32], other: NDArray[np.float32]) -> float:
    """The correlation of two profiles, the second stretched to the first's length, smoothed over three pixels."""
    at = np.linspace(0, len(other) - 1, len(one))
    stretched = np.interp(at, np.arange(len(other)), other)
    smooth = [np.convolve(p, np.ones(3) / 3, "same") for p in (one, stretched)]
    return float(np.corrcoef(*smooth)[0, 1])


@pytest.mark.parametrize("name", LINES)
def test_line_is_drawn_as_a_browser_draws_it(name: str, font: Path, browser: Browser, tmp_path: Path) -> None:
    text = LINES[name]
    made = set_text((text,), Style(font, PIXELS, PIXELS), 1200, 200, 1)
    assert made.whole
    assert len(made.lines) == 1
    ours = profile(np.asarray(ink(made), np.float32))

    page = tmp_path / "line.html"
    face = base64.b64encode(font.read_bytes()).decode("ascii")
    page.write_text(
        f"<!doctype html><meta charset=utf-8><style>@font-face{{font-family:F;src:url(data:font/ttf;base64,{face})}}"
        f"p{{font:{PIXELS}px F;margin:40px;white-space:nowrap}}</style><p dir=auto>{text}</p>",
        encoding="utf-8",
    )
    browser.open(page)
    browser.ask("return document.fonts.ready.then(() => document.fonts.check('40px F'))")
    shot = Image.open(io.BytesIO(browser.picture())).convert("L")
    theirs = profile(255 - np.asarray(shot, np.float32)[:160])

    assert abs(len(ours) - len(theirs)) <= 0.02 * len(theirs)
    assert alike(theirs, ours) > 0.9
    assert alike(theirs, ours[::-1]) < 0.8, "the comparison would not tell a line that runs the wrong way"
