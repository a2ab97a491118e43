"""The bench log's page in a real browser: words and undo, a server that dies meanwhile, and the clock that cameras
film, read by zxing-cpp from the screen.
"""

from __future__ import annotations

import io
import json
import time
from collections.abc import Callable, Iterator
from datetime import datetime
from pathlib import Path

import numpy as np
import pytest
import zxingcpp
from PIL import Image

from episodekit.outside.job_folder import open_job
from episodekit.sync.clock_code import instant
from tests.bench.kit import Server
from tests.browser import Browser, browser
from tests.conftest import LAMP, JobFolder

__all__ = ["browser"]


@pytest.fixture
def bench(tmp_path: Path) -> Iterator[tuple[JobFolder, Server]]:
    folder = JobFolder(tmp_path / "lamp")
    folder.write("job.md", LAMP.replace("frame rate: 25", "frame rate: 25\nutc offset: -05:00"))
    server = Server(folder.root).start()
    yield folder, server
    server.close()


def enter(browser: Browser, server: Server, **more: object) -> None:
    address = next(line for line in reversed(server.said) if "/enter#" in line).split()[-1]
    browser.visit(address, **more)  # type: ignore[arg-type]
    until(lambda: browser.ask("return document.querySelector('#name')?.textContent"))


def until(true: Callable[[], object], seconds: float = 15) -> object:
    end = time.monotonic() + seconds
    while time.monotonic() < end:
        found = true()
        if found:
            return found
        time.sleep(0.05)
    raise AssertionError("it never came")


def logged(job: JobFolder) -> list[dict[str, str]]:
    path = job.root / "bench.jsonl"
    return [json.loads(line) for line in path.read_text().splitlines()] if path.exists() else []


def saved(browser: Browser) -> bool:
    return "All marks are saved" in str(browser.ask("return document.querySelector('#state').textContent"))


def name(browser: Browser) -> str:
    return str(browser.ask("return document.querySelector('#name').textContent"))


def test_words_undo_and_what_a_mark_must_never_do(bench: tuple[JobFolder, Server], browser: Browser) -> None:
    job, server = bench
    enter(browser, server, width=1024, height=768)
    before = time.time()
    browser.key("7")
    pressed = time.time()
    time.sleep(0.4)
    assert not logged(job), "it waits for its words"
    evil = "<img src=x onerror='document.title=1'> R12 reads 3 Ω"
    browser.ask("document.querySelector('#text').value = arguments[0]", evil)
    browser.touch("#words button")
    until(lambda: saved(browser) and logged(job))
    (note,) = logged(job)
    assert note["text"] == evil
    stamp = np.datetime64(note["time"][:23]) - np.timedelta64(-5, "h")
    at = float((stamp - np.datetime64("1970-01-01")) / np.timedelta64(1, "ms")) / 1000
    assert before - 0.05 <= at <= pressed + 0.05, "the time is that of the press"
    assert "R12 reads" in str(browser.ask("return document.querySelector('#latest').textContent"))
    assert browser.ask("return document.querySelectorAll('img').length") == 0
    browser.key("0")
    until(lambda: len(logged(job)) == 2)
    assert logged(job)[1]["of"] == note["id"]
    assert open_job(job.root).marks == ()


def test_log_on_the_page_is_what_was_pressed_and_tells_of_lines_that_cannot_be_read(
    bench: tuple[JobFolder, Server], browser: Browser
) -> None:
    job, server = bench
    enter(browser, server)
    browser.key("1")
    until(lambda: len(logged(job)) == 1)
    with (job.root / "bench.jsonl").open("a") as log:
        log.writelines(
            f'{{"id": "c-{n}", "time": "2026-11-07T10:04:{n:02}-05:00", "kind": "chirp"}}\n'
            for n in range(40)
        )
        log.write('{"time": "2026-11-07T10:0\n')
    told = "1 line of bench.jsonl cannot be read; episodekit check says why."
    until(lambda: told in str(browser.ask("return document.querySelector('#state').textContent")))
    rows = browser.ask("return [...document.querySelectorAll('#log li')].map((row) => row.textContent)")
    assert ["start" in row for row in rows] == [True]


def test_no_mark_is_lost_while_the_server_is_away(bench: tuple[JobFolder, Server], browser: Browser) -> None:
    job, server = bench
    enter(browser, server)
    for life in range(3):
        browser.key("1")
        until(lambda: saved(browser))
        server.kill()
        for _ in range(5):
            browser.touch("#press-keep")
        until(
            lambda: "5 marks wait" in str(browser.ask("return document.querySelector('#state').textContent"))
        )
        if life == 1:  # reloading is not possible while the server is away, but what waits is on the disk
            assert browser.ask(
                "return Object.keys(localStorage).filter((k) => k.startsWith('bench-queue')).length"
            )
        server.start()
        until(lambda: saved(browser))
    marks = logged(job)
    assert [mark["kind"] for mark in marks] == (["start"] + ["keep"] * 5) * 3
    assert len({mark["id"] for mark in marks}) == 18
    assert [mark["time"] for mark in marks] == sorted(mark["time"] for mark in marks)


def test_what_a_closed_page_left_is_delivered_by_the_next(
    bench: tuple[JobFolder, Server], browser: Browser
) -> None:
    job, server = bench
    enter(browser, server)
    server.kill()
    for _ in range(4):
        browser.key("5")
    server.start()
    browser.ask("location.reload()")
    until(lambda: len(logged(job)) == 4)
    time.sleep(0.5)
    assert [mark["kind"] for mark in logged(job)] == ["wait"] * 4


def test_clock_is_read_from_the_screen(bench: tuple[JobFolder, Server], browser: Browser) -> None:
    """Each picture of the screen shows a code painted less than a third of a second before it was taken."""
    job, server = bench
    enter(browser, server)
    begun = time.time()
    browser.touch("#clock")
    until(lambda: browser.ask("return document.querySelector('#watch').open"))
    seen = []
    for _ in range(6):
        before = time.time()
        shot = np.asarray(Image.open(io.BytesIO(browser.picture(844))).convert("L"))
        after = time.time()
        (code,) = zxingcpp.read_barcodes(shot)
        ms = instant(code.text)
        assert ms is not None
        assert before * 1000 - 330 <= ms <= after * 1000 + 20
        assert (code.format, code.ec_level) == (zxingcpp.BarcodeFormat.QRCode, "Q")
        seen.append(ms)
        time.sleep(0.25)
    assert len(set(seen)) == 6
    assert seen == sorted(seen)
    until(lambda: len(logged(job)) >= 2)
    chirps = [datetime.fromisoformat(mark["time"]).timestamp() for mark in logged(job)]
    assert {mark["kind"] for mark in logged(job)} == {"chirp"}
    assert begun <= chirps[0] <= begun + 3
    assert 0.6 < chirps[1] - chirps[0] < 2.5


@pytest.mark.parametrize("width", [390, 1024])
def test_buttons_are_large_and_nothing_sticks_out(
    width: int, bench: tuple[JobFolder, Server], browser: Browser
) -> None:
    """WCAG 2.2, 2.5.5: 44 CSS pixels; an elbow wants more (common practice, no source)."""
    _, server = bench
    enter(browser, server, width=width)
    sizes = browser.ask(
        "return [...document.querySelectorAll('#marks button')].map((b) => b.getBoundingClientRect())"
        ".map((r) => [r.width, r.height])"
    )
    assert len(sizes) == 8
    assert min(min(size) for size in sizes) >= 72
    assert browser.ask("return document.documentElement.scrollWidth") <= width
    # before a device is let in, it gets no icon either
    own = [said for said in browser.console() if f":{server.port}/" in said]
    assert not [said for said in own if "favicon" not in said]
