"""The HTML pages as a reader meets them: Chromium opens, measures and prints them, pypdf reads the prints.

Contrast is computed by the formulas of WCAG 2.2 ("relative luminance", "contrast ratio") from the colours
that Chromium computed; success criteria 1.4.3 (text 4.5:1), 1.4.11 (non-text 3:1), 2.5.8 (target size 24 px).
"""

from __future__ import annotations

import re
from pathlib import Path
from typing import Any
from unicodedata import normalize

import pytest

from episodekit.formats.plan_document import PlanDocument
from tests.browser import PAPERS, Browser, browser
from tests.page_jobs import JOBS, PAGES, docs, files, squeezed

__all__ = ["browser", "docs", "files"]

each_page = pytest.mark.parametrize("name", PAGES)
each_job = pytest.mark.parametrize("job", list(JOBS))


@each_page
@pytest.mark.parametrize("width", [360, 390, 1280])
@each_job
def test_nothing_overflows_and_nothing_complains(
    browser: Browser, files: dict[tuple[str, str], Path], job: str, name: str, width: int
) -> None:
    browser.open(files[job, name], width=width)
    assert browser.ask("return innerWidth") == width
    assert browser.ask("return document.scrollingElement.scrollWidth") <= width
    # Nothing that is read may be cut off at the right, wherever it stands.
    outside = browser.ask(
        """return [...document.querySelectorAll("body *:not(svg):not(svg *)")]
             .filter(e => e.getBoundingClientRect().right > innerWidth + 1).map(e => e.outerHTML.slice(0, 80))"""
    )
    assert outside == []
    assert browser.console() == []
    assert "owned" not in browser.ask("return document.title.replace(\"document.title='owned'\", '')")


# Every text with its colour and the colour behind it; svg text lies on the page or on a child's own ground.
COLOURS = """
const ground = e => { for (; e; e = e.parentElement) {
    const c = getComputedStyle(e).backgroundColor; if (!c.endsWith(", 0)")) return c; } return "none"; };
const texts = document.createTreeWalker(document.body, NodeFilter.SHOW_TEXT), seen = new Map();
for (let node; node = texts.nextNode();) {
  const e = node.parentElement;
  if (!node.data.trim() || e.closest("script, style, title, desc") || !e.getClientRects().length) continue;
  const style = getComputedStyle(e);
  seen.set([e.closest("svg") ? style.fill : style.color, ground(e), style.opacity].join(";"), node.data.slice(0, 40));
}
return [...seen].map(([key, text]) => [...key.split(";"), text]);
"""
# The edges that carry meaning: tick boxes, caution boxes, the bars of the strip, the marks of the pace.
EDGES = """
const pairs = [];
for (const e of document.querySelectorAll(".shot input, .caution, .once-only, .paid, .ad")) {
  const behind = e.parentElement.closest(".set-up, .once-only, .ad") || document.body;
  pairs.push([getComputedStyle(e).borderTopColor, getComputedStyle(behind).backgroundColor, e.className]);
}
for (const e of document.querySelectorAll(".bar, .line, .ad-line, .once, .flag"))
  pairs.push([getComputedStyle(e).stroke, getComputedStyle(document.body).backgroundColor, e.getAttribute("class")]);
for (const e of document.querySelectorAll(".done"))
  pairs.push([getComputedStyle(e).fill, getComputedStyle(document.querySelector(".bar")).fill, "done"]);
const fill = e => getComputedStyle(e).fill, stroke = e => getComputedStyle(e).stroke;
const ground = getComputedStyle(document.body).backgroundColor;
for (const e of document.querySelectorAll(".lanes :is(.beat, .over, .open, .most, .speed)"))
  pairs.push([fill(e), ground, e.getAttribute("class")]);
for (const e of document.querySelectorAll(".lanes :is(.length, .change, .base, .aim, .join, .held)"))
  pairs.push([stroke(e), ground, e.getAttribute("class")]);
for (const e of document.querySelectorAll(".lanes .aim"))
  pairs.push([stroke(e), fill(document.querySelector(".beat")), "aim over a beat"]);
return pairs;
"""


def channels(colour: str) -> list[float]:
    """Red, green and blue of a computed colour, 0 to 255; refuses one that lets others shine through."""
    match = re.fullmatch(r"rgb\((\d+), (\d+), (\d+)\)", colour)
    assert match, f"{colour} is not an opaque sRGB colour"
    return [int(value) for value in match.groups()]


def luminance(colour: str) -> float:
    """Relative luminance, WCAG 2.2."""
    parts = [value / 255 for value in channels(colour)]
    red, green, blue = (c / 12.92 if c <= 0.04045 else ((c + 0.055) / 1.055) ** 2.4 for c in parts)
    return 0.2126 * red + 0.7152 * green + 0.0722 * blue


def contrast(one: str, other: str) -> float:
    """Contrast ratio, WCAG 2.2."""
    lighter, darker = sorted((luminance(one), luminance(other)), reverse=True)
    return (lighter + 0.05) / (darker + 0.05)


def test_contrast_formula_gives_known_ratios() -> None:
    # Black on white is 21:1 by definition; #767676 on white, 4.54:1, is the customary grey (from memory).
    assert contrast("rgb(0, 0, 0)", "rgb(255, 255, 255)") == pytest.approx(21)
    assert contrast("rgb(118, 118, 118)", "rgb(255, 255, 255)") == pytest.approx(4.54, abs=0.005)


@each_page
@pytest.mark.parametrize("scheme", ["light", "dark"])
@pytest.mark.parametrize("width", [390, 1280])
def test_contrast_in_both_schemes(
    browser: Browser, files: dict[tuple[str, str], Path], name: str, scheme: str, width: int
) -> None:
    browser.open(files["long", name], width=width, scheme=scheme)
    texts = browser.ask(COLOURS)
    assert len(texts) >= 5
    for colour, ground, opacity, text in texts:
        assert opacity == "1", text
        assert contrast(colour, ground) >= 4.5, (text, colour, ground)
    edges = browser.ask(EDGES)
    assert edges
    for colour, ground, what in edges:
        assert contrast(colour, ground) >= 3, (what, colour, ground)
    paper = browser.ask("return getComputedStyle(document.body).backgroundColor")
    assert (luminance(paper) > 0.5) == (scheme == "light")


def test_targets_are_large_and_focus_shows(browser: Browser, files: dict[tuple[str, str], Path]) -> None:
    browser.open(files["lamp", "shot-list.html"], width=360)
    sizes: list[list[Any]] = browser.ask(
        """return [...document.querySelectorAll("label, nav a, .shot > a")].map(e => {
             const box = e.getBoundingClientRect(); return [e.innerText, box.width, box.height]; })"""
    )
    assert sizes
    for text, width, height in sizes:
        assert width >= 24, text
        assert height >= 24, text
    # Gloves: the tick's whole row is its target; 44 px is WCAG 2.2, 2.5.5 (AAA).
    rows = browser.ask(
        "return [...document.querySelectorAll('label')].map(e => e.getBoundingClientRect().height)"
    )
    assert min(rows) >= 44
    style = browser.ask(
        """const e = document.querySelector(".shot input"); e.focus({focusVisible: true});
           const s = getComputedStyle(e); return [s.outlineStyle, parseFloat(s.outlineWidth)]"""
    )
    assert style == ["solid", 3]


def test_ticks_are_kept_on_the_device(browser: Browser, files: dict[tuple[str, str], Path]) -> None:
    path = files["lamp", "shot-list.html"]
    browser.open(path)
    browser.ask("localStorage.clear(); document.querySelectorAll('label')[2].click()")
    browser.open(path)
    ticked = browser.ask("return [...document.querySelectorAll('.shot input')].map(e => e.checked)")
    browser.ask("localStorage.clear()")
    assert [n for n, on in enumerate(ticked) if on] == [2]


@each_page
@pytest.mark.parametrize("paper", list(PAPERS))
def test_prints_on_the_paper_asked_for(
    browser: Browser, files: dict[tuple[str, str], Path], name: str, paper: str
) -> None:
    browser.open(files["lamp", name])
    printed = browser.printed(paper)
    for sheet in printed.pages:
        size = (float(sheet.mediabox.width) / 72, float(sheet.mediabox.height) / 72)
        assert size == pytest.approx(PAPERS[paper], abs=0.02)  # 0.5 mm
    last = len(printed.pages)
    assert f"{last} / {last}" in printed.pages[-1].extract_text()


@pytest.mark.parametrize("paper", list(PAPERS))
def test_printed_rows_are_whole_under_repeated_heads(
    browser: Browser, docs: dict[str, PlanDocument], files: dict[tuple[str, str], Path], paper: str
) -> None:
    browser.open(files["long", "shot-list.html"])
    # NFKC: print sets "fi" as one letter.
    sheets = [squeezed(normalize("NFKC", sheet.extract_text())) for sheet in browser.printed(paper).pages]
    assert len(sheets) > 10
    screen = next(n for n, text in enumerate(sheets) if "Screen order" in text)
    assert [
        n for n, text in enumerate(sheets) if "Length of each shot" in text and "Longest stretches" in text
    ]
    ends = next(n for n, text in enumerate(sheets) if re.search(r" Reads \d", text))
    head = "What to film, and the words over it"
    shots = {shot.number: shot for shot in docs["long"].shots}
    # What stands under the table, on its last sheet, names steps too.
    table = [
        sheets[screen].partition("Screen order")[2],
        *sheets[screen + 1 : ends],
        sheets[ends].partition(" Reads ")[0],
    ]
    assert [n for n in range(screen, ends) if head not in sheets[n]] == []
    for step in docs["long"].steps:
        if step.read:
            continue
        # Each title runs from "S007" to "E007": a sheet that shows one end shows the other as often.
        number = step.id[1:].zfill(3)
        for text in sheets:
            assert text.count(f"S{number} ") == text.count(f"E{number}"), step.id
        # In the screen order all rows of a step, its cautions with them, are on one sheet.
        marks = [f"{number}a.", f"{number}b.", f"E{number}"]
        marks += [shots[n].what.split()[0] for n in step.shots if shots[n].kind == "must show"]
        places = [{n for n, text in enumerate(table) if mark in text} for mark in marks]
        assert len(places[0]) == 1
        assert all(place == places[0] for place in places), step.id
        for said in step.cautions:
            assert squeezed(said) in table[min(places[0])]


def test_print_is_black_on_white_whatever_the_screen_is(
    browser: Browser, files: dict[tuple[str, str], Path]
) -> None:
    browser.open(files["lamp", "shot-list.html"], scheme="dark")
    content = "".join(
        sheet.get_contents().get_data().decode("latin-1")  # type: ignore[union-attr]
        for sheet in browser.printed("A4").pages
    )
    fills = {tuple(map(float, match)) for match in re.findall(r"([\d.]+) ([\d.]+) ([\d.]+) rg\b", content)}
    assert (0.0, 0.0, 0.0) in fills
    # Greys only: no colour carries meaning on paper, and no dark ground is printed.
    assert all(max(fill) - min(fill) < 0.06 for fill in fills), fills
