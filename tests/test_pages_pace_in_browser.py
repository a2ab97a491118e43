"""The drawings of the shot list as Chromium lays them out: where marks stand, and that no two texts collide."""

from __future__ import annotations

from itertools import combinations
from pathlib import Path
from unicodedata import normalize

import pytest

from episodekit.formats.plan_document import PlanDocument
from episodekit.outside.pages import page
from tests.browser import PAPERS, Browser, browser
from tests.page_jobs import docs, files
from tests.test_pages_in_browser import COLOURS, EDGES, contrast, each_job

__all__ = ["browser", "docs", "files"]

# Boxes of the texts of the drawings: left, right, top, bottom, text.
TEXTS = """return [...document.querySelectorAll("figure > svg " + arguments[0])]
  .filter(e => e.textContent.trim() && e.getClientRects().length)
  .map(e => { const b = e.getBoundingClientRect(); return [b.left, b.right, b.top, b.bottom, e.textContent]; })"""
# Left and right of the marks of a kind as shares of the time axis, and its width in pixels.
MARKS = """const axis = document.querySelector(".lanes svg > .base").getBoundingClientRect();
  return [...document.querySelectorAll(".lanes g " + arguments[0])].map(e => { const b = e.getBoundingClientRect();
    return [(b.left - axis.left) / axis.width, (b.right - axis.left) / axis.width, axis.width]; })"""


def collisions(browser: Browser, width: int, kind: str = "text") -> list[tuple[str, str]]:
    """Texts of the drawings that overlap each other or stand outside the page."""
    boxes = browser.ask(TEXTS, kind)
    assert len(boxes) >= 4
    found = [(text, "edge") for left, right, _, _, text in boxes if left < 0 or right > width]
    for one, other in combinations(boxes, 2):
        beside = one[1] <= other[0] + 0.5 or other[1] <= one[0] + 0.5
        # A line's box is taller than its letters: a quarter of a line may overlap.
        below = one[3] - 4 <= other[2] or other[3] - 4 <= one[2]
        if not (beside or below):
            found.append((one[4], other[4]))
    return found


@pytest.mark.parametrize("width", [360, 390, 1280])
@each_job
def test_texts_of_drawings_stand_apart(
    browser: Browser, files: dict[tuple[str, str], Path], job: str, width: int
) -> None:
    browser.open(files[job, "shot-list.html"], width=width)
    assert collisions(browser, width) == []


@pytest.mark.parametrize("width", [360, 1280])
@pytest.mark.parametrize("seconds", [4, 271, 1049, 5399, 9000])
def test_stamps_of_any_run_time_stand_apart(
    browser: Browser, docs: dict[str, PlanDocument], tmp_path: Path, seconds: int, width: int
) -> None:
    path = tmp_path / "page.html"
    doc = docs["lamp"].model_copy(update={"runtime_ms": seconds * 1000})
    path.write_text(page("shot-list.html", doc), encoding="utf-8")
    browser.open(path, width=width)
    assert collisions(browser, width, ".tick") == []


@pytest.mark.parametrize("width", [360, 1280])
@pytest.mark.parametrize("job", ["filmed", "long"])
def test_pace_is_drawn_where_it_happens(
    browser: Browser, docs: dict[str, PlanDocument], files: dict[tuple[str, str], Path], job: str, width: int
) -> None:
    doc = docs[job]
    browser.open(files[job, "shot-list.html"], width=width)
    beats = [(b.start_ms, b.start_ms + b.length_ms) for step in doc.steps for b in step.beats]
    shots = [(s.start_frame, s.start_frame + s.frames) for s in doc.segments]
    for kind, whole, parts in ((".beat", doc.runtime_ms, beats), (".length", doc.frames, shots)):
        marks = browser.ask(MARKS, kind)
        assert len(marks) == len(parts)
        for (left, right, pixels), (start, end) in zip(marks, parts, strict=True):
            # To the pixel: the box of an outlined shape may hold half its outline.
            assert left == pytest.approx(start / whole, abs=1 / pixels)
            assert right == pytest.approx(end / whole, abs=1 / pixels)


@pytest.mark.parametrize("scheme", ["light", "dark"])
def test_contrast_of_every_mark_of_a_filmed_job(
    browser: Browser, files: dict[tuple[str, str], Path], scheme: str
) -> None:
    browser.open(files["filmed", "shot-list.html"], width=390, scheme=scheme)
    edges = browser.ask(EDGES)
    marks = {"beat", "over", "open", "length most", "speed", "length", "change", "aim", "join", "held"}
    assert {what for _, _, what in edges} >= {*marks, "aim over a beat"}
    for colour, ground, what in edges:
        assert contrast(colour, ground) >= 3, (what, colour, ground)
    for colour, ground, opacity, text in browser.ask(COLOURS):
        assert opacity == "1", text
        assert contrast(colour, ground) >= 4.5, (text, colour, ground)


@pytest.mark.parametrize("paper", list(PAPERS))
@pytest.mark.parametrize("job", ["lamp", "filmed"])
def test_pace_prints_on_one_sheet_and_no_head_is_left_alone(
    browser: Browser, files: dict[tuple[str, str], Path], job: str, paper: str
) -> None:
    browser.open(files[job, "shot-list.html"])
    sheets = [normalize("NFKC", sheet.extract_text()) for sheet in browser.printed(paper).pages]
    (pace,) = [text for text in sheets if "Words a minute" in text]
    assert "Longest stretches" in pace
    assert "Without an open question" in pace
    (screen,) = [text for text in sheets if "Screen order" in text]
    assert "What to film, and the words over it" in screen.partition("Screen order")[2]
