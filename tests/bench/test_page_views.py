"""Each view of the bench log's page, on a phone and on a tablet, by day and by night: looked at by axe-core, its
letters measured, its title whole.
"""

from __future__ import annotations

import math
from collections.abc import Iterator
from itertools import pairwise

import pytest

from tests.bench.kit import Server
from tests.bench.test_page import bench, enter, name, saved, until
from tests.browser import Browser, axe, browser
from tests.conftest import JobFolder

__all__ = ["axe", "bench", "browser"]


def views(browser: Browser, server: Server, **more: object) -> Iterator[str]:
    """Lead the page from view to view of a job, and name each when it is there."""

    def shown(selector: str) -> None:
        until(lambda: browser.ask("return document.querySelector(arguments[0])", selector))

    browser.visit(f"http://{server.address}/enter#no-key", **more)  # type: ignore[arg-type]
    until(lambda: "not good" in str(browser.ask("return document.querySelector('#said').textContent")))
    yield "entrance"
    enter(browser, server, **more)
    until(lambda: saved(browser))
    yield "step"
    count = int(str(browser.ask("return document.querySelectorAll('#jump option').length")))
    for number in range(1, count):
        browser.key("ArrowRight")
        yield f"step {number + 1}"
    for _ in range(count):
        browser.key("ArrowLeft")
    browser.key("1")
    browser.touch("#press-problem")
    shown("#words[open]")
    yield "problem"
    browser.touch("#text")
    browser.write("the head of the second screw is stripped")
    browser.touch("#words button")
    browser.touch("#clock")
    shown("#watch[open]")
    until(lambda: browser.ask("return document.querySelector('#digits').textContent"))
    yield "clock"
    browser.touch("#enough")
    browser.touch("#keys")
    shown("#table[open]")
    yield "keys"
    browser.touch("#table form button")
    browser.network(away=True)
    try:
        browser.key("4")
        browser.key("1")
        until(
            lambda: (
                "cannot be reached" in str(browser.ask("return document.querySelector('#state').textContent"))
            )
        )
        yield "offline"
    finally:
        browser.network(away=False)
    until(lambda: saved(browser))
    browser.ask(  # a mark that no server takes
        "const job = document.documentElement.dataset.job; localStorage.setItem(`bench-queue-${job}-dgone`,"
        "JSON.stringify([{ id: 'dgone-1', at: 0, kind: 'note', step: '', text: 'from long ago' }]));"
        "location.reload()"
    )
    shown("#refused:not([hidden])")
    yield "refused"
    browser.touch("#seen")
    for _ in range(count):
        browser.key("1")
        browser.key("2")
    until(lambda: saved(browser))
    yield "end"
    browser.ask("document.querySelector('details').open = true; scrollTo(0, 1e6)")
    yield "log"


@pytest.mark.parametrize("scheme", ["light", "dark"])
@pytest.mark.parametrize(("width", "height"), [(390, 844), (1024, 768)])
def test_no_view_stands_in_anybodys_way(
    width: int, height: int, scheme: str, axe: str, bench: tuple[JobFolder, Server], browser: Browser
) -> None:
    _, server = bench
    seen = {}
    for view in views(browser, server, width=width, height=height, scheme=scheme):
        browser.ask(axe)
        seen[view] = browser.ask(
            "return axe.run().then((told) => told.violations.map((v) => v.id + ': ' + v.nodes.map((n) => n.html)))"
        )
        assert browser.ask("return document.documentElement.scrollWidth") <= width, view
    assert len(seen) > 10
    assert {view: told for view, told in seen.items() if told} == {}


def letters(browser: Browser, selector: str) -> float:
    """How high the capitals of an element are, in CSS pixels."""
    return float(
        browser.ask(
            "const style = getComputedStyle(document.querySelector(arguments[0]));"
            "const pen = document.createElement('canvas').getContext('2d');"
            "pen.font = [style.fontWeight, style.fontSize, style.fontFamily].join(' ');"
            "return pen.measureText('H').actualBoundingBoxAscent",
            selector,
        )
    )


@pytest.mark.parametrize(
    ("width", "height", "mm", "farthest"),
    [(390, 844, 64.6, 600), (1024, 768, 197, 2000), (768, 1024, 147.8, 2000)],
)
def test_buttons_are_readable_from_where_they_are_pressed(
    width: int, height: int, mm: float, farthest: float, bench: tuple[JobFolder, Server], browser: Browser
) -> None:
    """ISO 9241-3 (quoted): 16 minutes of arc at least; height = 2 x distance x tan(angle / 2).

    A phone is pressed from 60 cm (common practice, no source); a tablet stands where it is read from two metres, so its
    two great buttons are, too. 1024 px are 197 mm at 132 to the inch and two dots each way (from memory).
    """
    _, server = bench
    enter(browser, server, width=width, height=height)
    for selector in ("#name", "#press-start", "#press-done"):
        distance = 2000 if selector == "#name" else farthest
        needed = 2 * distance * math.tan(math.radians(16 / 60) / 2)
        assert letters(browser, selector) * mm / width >= needed, selector
    for kind in ("retake", "keep", "wait", "problem", "note", "reading"):
        needed = 2 * 600 * math.tan(math.radians(16 / 60) / 2)
        assert letters(browser, f"#press-{kind}") * mm / width >= needed, kind
    overfull = browser.ask(
        "return [...document.querySelectorAll('#board button')].filter((b) => b.scrollWidth > b.clientWidth).length"
    )
    assert overfull == 0


def test_which_button_is_next_is_seen_from_afar(bench: tuple[JobFolder, Server], browser: Browser) -> None:
    _, server = bench
    enter(browser, server)

    def filled() -> list[str]:
        return list(
            browser.ask(
                "const own = (b) => getComputedStyle(b).backgroundColor;"
                "const plain = own(document.querySelector('#press-retake'));"
                "const filled = [...document.querySelectorAll('#marks button')].filter((b) => own(b) !== plain);"
                "return filled.map((b) => b.id)"
            )
        )

    assert filled() == ["press-start"]
    browser.key("1")
    assert filled() == ["press-done"]
    browser.key("5")
    assert filled() == ["press-done"]
    browser.key("2")
    assert filled() == ["press-start"], "of the next step"
    browser.key("ArrowLeft")
    assert filled() == [], "a step that is done asks for nothing"
    for _ in range(6):
        browser.key("1")
        browser.key("2")
    until(
        lambda: (
            "Every step is done." in str(browser.ask("return document.querySelector('#wall').textContent"))
        )
    )


TITLES = {
    "Four screws": "Free the shoulder flex",
    "Look at the board": "Measure the potentiometer",
    "Solder the joint": "Warm the gasket, and lift the screen at its corners",
    "Result": "Unterspannungsabschaltungsrelais",
}


def test_words_that_run_from_right_to_left_keep_to_themselves(
    bench: tuple[JobFolder, Server], browser: Browser
) -> None:
    """In the log: time, kind, title, note, whose device, from left to right; one opens an isolate it does not close."""
    job, server = bench
    job.write("job.md", "# Work\n## \u0643\u0627\u0628\u0644 \u2067\u0645\u0631\u0646 {#flex}\n")
    enter(browser, server, width=1024)
    browser.touch("#press-note")
    browser.touch("#text")
    browser.write("\u062d\u0627\u062f 12 \u2067\u0645")
    browser.touch("#words button")
    until(lambda: saved(browser))
    browser.ask("document.querySelector('details').open = true")
    for selector in ("#log li", "#latest"):
        ends = browser.ask(
            """const words = document.querySelector(arguments[0]).firstChild;
            return words.data.split(" \u00b7 ").map((part) => {
              const range = document.createRange(), from = words.data.indexOf(part);
              range.setStart(words, from);
              range.setEnd(words, from + part.length);
              const { left, right } = range.getBoundingClientRect();
              return [left, right];
            })""",
            selector,
        )
        assert len(ends) == 4
        assert all(before[1] <= after[0] for before, after in pairwise(ends)), ends


def test_a_title_shrinks_before_a_word_is_broken(bench: tuple[JobFolder, Server], browser: Browser) -> None:
    """A word that is not broken lies in one box (CSSOM View, Range.getClientRects)."""
    job, server = bench
    plan = (job.root / "job.md").read_text()
    for before, after in TITLES.items():
        plan = plan.replace(f"# {before} {{", f"# {after} {{")
    job.write("job.md", plan)
    enter(browser, server)
    for width in (360, 390, 1024):
        browser.visit(f"http://{server.address}/", width=width)
        until(lambda: browser.ask("return document.querySelector('#name')?.textContent"))
        for title in TITLES.values():
            browser.key("ArrowRight")
            assert name(browser) == title
            boxes, right, above = browser.ask(
                "const line = document.querySelector('#name').firstChild, found = [];"
                "for (const word of line.data.matchAll(/\\S+/g)) { const range = document.createRange();"
                "range.setStart(line, word.index); range.setEnd(line, word.index + word[0].length);"
                "found.push(range.getClientRects().length); }"
                "const all = document.createRange(); all.selectNode(line); const box = all.getBoundingClientRect();"
                "return [found, box.right, document.querySelector('#board').getBoundingClientRect().top - box.bottom]"
            )
            assert right <= width
            assert above >= 0, "the title is above the buttons"
            assert max(boxes) == 1 or (title == TITLES["Result"] and width < 400), (title, width)
