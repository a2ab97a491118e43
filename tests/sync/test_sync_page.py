"""The page of clocks in Chromium: two days, three cameras and 320 marks; what is missing is known by design."""

from __future__ import annotations

from dataclasses import replace
from datetime import timedelta
from pathlib import Path

import pytest

from episodekit.bench.model import Kind
from episodekit.outside.clocks.sync_page import sync_page
from tests.browser import Browser, axe, browser
from tests.sync import busy_job

__all__ = ["axe", "browser"]

WIDTHS = (390, 1280)


@pytest.fixture(scope="module")
def page(tmp_path_factory: pytest.TempPathFactory) -> Path:
    path = tmp_path_factory.mktemp("clocks") / "sync.html"
    path.write_text(sync_page(*busy_job.job()), encoding="utf-8")
    return path


def items(browser: Browser, heading: str) -> list[str]:
    """The list under a heading, as it is read."""
    script = """const head = [...document.querySelectorAll("h2")].find((h) => h.textContent === arguments[0]);
        return [...head.nextElementSibling.children].map((item) => item.innerText.replaceAll("\\n", "; "))"""
    return list(browser.ask(script, heading))


def test_what_is_missing_is_told_as_steps(page: Path, browser: Browser) -> None:
    browser.open(page)
    assert items(browser, "Logged, no camera was running") == [
        "Step 14, Part 14 of the work, was logged, no camera was running.; "
        "Saturday 7 November 2026, 12:28:00 to 12:37:00; Saturday 7 November 2026, 12:38:00 to 12:40:00",
        "Step 20, Part 20 of the work, was logged, no camera was running for 1 min 30 s of it.; "
        "Saturday 7 November 2026, 14:04:00 to 14:05:30",
    ]
    assert items(browser, "Clips that no step uses") == ["side-lunch.mp4; Saturday 7 November 2026, 15:21:00"]
    (told,) = items(browser, "What to do")
    assert told.startswith("Nothing checks its clock, so 1 clip is not placed.")
    assert "footage/loose.mp4: Film the log's clock" in told
    assert items(browser, "Not placed") == ["loose.mp4; not placed: nothing checks its creation time"]


def test_a_title_from_right_to_left_keeps_the_words_behind_it_in_their_order(
    tmp_path: Path, browser: Browser
) -> None:
    """It opens an isolate that it does not close."""
    path = tmp_path / "sync.html"
    job = busy_job.job("\u0643\u0627\u0628\u0644 \u2067\u0645\u0631\u0646")
    path.write_text(sync_page(*job), encoding="utf-8")
    browser.open(path)
    ends = browser.ask(
        """const title = [...document.querySelectorAll("li bdi")].find((one) => one.textContent[0] === "\u0643");
           const behind = document.createRange();
           behind.selectNode(title.parentElement.nextSibling);
           return [title, behind].map((one) => one.getBoundingClientRect()).map((r) => [r.left, r.right])"""
    )
    assert ends[0][1] <= ends[1][0]


def test_each_day_is_a_strip_for_each_camera_with_its_marks(page: Path, browser: Browser) -> None:
    browser.open(page)
    days = browser.ask(
        """return [...document.querySelectorAll(".day")].map((day) => [day.querySelector("h3").textContent,
             [...day.querySelectorAll("h4")].map((h) => h.textContent),
             day.querySelector("path").getAttribute("d").split("M").length - 1])"""
    )
    lanes = ["Log", *busy_job.CAMERAS]
    assert days == [["Saturday 7 November 2026", lanes, 224], ["Sunday 8 November 2026", lanes, 96]]


@pytest.mark.parametrize("width", WIDTHS)
def test_bars_lie_where_their_times_are(width: int, page: Path, browser: Browser) -> None:
    """Steps begin 16 minutes apart; clips 20 s before them, and the hours under the strips are read as a ruler."""
    browser.open(page, width=width)
    hours, bars, red = browser.ask(
        """const day = document.querySelector(".day");
           const edge = (e) => e.getBoundingClientRect().left;
           const tick = (e) => (edge(e) + e.getBoundingClientRect().right) / 2;
           return [[...day.querySelectorAll(".hours span")].map((e) => [e.textContent, tick(e)]),
             [...day.querySelectorAll(".lane:nth-of-type(2) .bar")].map((e) => [e.title, edge(e)]),
             [...day.querySelectorAll(".bare")].map((e) => [e.title, edge(e)])]"""
    )
    (first, left), (last, right) = hours[0], hours[-1]
    minute = (right - left) / (60 * (int(last[:2]) - int(first[:2])))
    nine = left - minute * 60 * (int(first[:2]) - 9)
    assert [name for name, _ in bars] == [f"top-{n:02d}.mp4" for n in range(1, 29) if n != busy_job.BARE]
    for name, at in bars:
        n = int(name[4:6])
        late = 1.5 if n == busy_job.PART else -1 / 3
        assert abs(at - nine - minute * (16 * (n - 1) + late)) <= 1.5
    assert [name for name, _ in red] == ["s14", "s14", "s20"]
    assert abs(red[0][1] - nine - minute * 16 * 13) <= 1.5


@pytest.mark.parametrize("width", WIDTHS)
def test_each_placed_clip_is_a_row_under_its_day(width: int, page: Path, browser: Browser) -> None:
    browser.open(page, width=width)
    rows = browser.ask(
        """return [...document.querySelectorAll("tbody tr")].map((row) =>
             [...row.cells].map((cell) => cell.innerText.trim()))"""
    )
    names = [row[0] for row in rows]
    assert len(names) == 2 + 92
    assert names[0] == "Saturday 7 November 2026"
    assert "Sunday 8 November 2026" in names[names.index("top-28.mp4") : names.index("top-29.mp4")]
    found = next(row[1:] for row in rows if row[0] == "top-01.mp4")
    assert found == ["08:59:40.000", "filmed clock, within 0.0065 s", "filmed clock at 5.0 s"]


CROWDED = """const seen = [...document.querySelectorAll(".hours span")].map((e) => e.getBoundingClientRect());
    return seen.filter((one, n) => n && one.top === seen[n - 1].top && one.left < seen[n - 1].right).length"""
"""How many times under a strip run into the one before."""


@pytest.mark.parametrize("seconds", [70, 265, 300, 359, 3600])
def test_times_of_a_short_day_stand_apart_on_a_phone(seconds: int, tmp_path: Path, browser: Browser) -> None:
    job, plan, _, _ = busy_job.job()
    first = job.marks[0]
    last = replace(first, kind=Kind.DONE, when=busy_job.MORNING + timedelta(seconds=seconds))
    path = tmp_path / "sync.html"
    path.write_text(sync_page(replace(job, marks=(first, last), clips=()), plan, (), ()), encoding="utf-8")
    browser.open(path, width=390)
    assert browser.ask("return document.querySelectorAll('.hours span').length") > 1
    assert browser.ask(CROWDED) == 0
    assert browser.ask("return document.scrollingElement.scrollWidth") <= 390


@pytest.mark.parametrize("scheme", ["light", "dark"])
@pytest.mark.parametrize("width", [*WIDTHS, 700])
def test_nothing_overflows_or_stands_in_anybodys_way(
    width: int, scheme: str, page: Path, axe: str, browser: Browser
) -> None:
    browser.open(page, width=width, scheme=scheme)
    assert browser.ask("return document.scrollingElement.scrollWidth") <= width
    assert browser.ask(CROWDED) == 0, "times run into each other"
    assert browser.console() == []
    browser.ask(axe)
    look = "return axe.run().then((told) => told.violations.map((v) => v.id + ': ' + v.nodes.map((n) => n.html)))"
    assert browser.ask(look) == []
