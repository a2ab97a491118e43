"""The bench log's page when things go wrong: no network, no storage, a second tab, another job, a sleep, an
elbow on the wrong button. Chromium is the browser; the server is the real one.
"""

from __future__ import annotations

import json
import math
import time
from collections.abc import Iterator
from datetime import datetime
from pathlib import Path
from typing import Any

import numpy as np
import pytest
from scipy.signal import chirp as sweep
from scipy.signal.windows import tukey

from episodekit.outside.job_folder import open_job
from tests.bench.kit import Server
from tests.bench.test_page import bench, enter, logged, saved, until
from tests.browser import Browser, browser
from tests.conftest import LAMP, JobFolder

__all__ = ["bench", "browser"]

Bench = tuple[JobFolder, Server]


def state(browser: Browser) -> str:
    return str(browser.ask("return document.querySelector('#state').textContent"))


def at(mark: dict[str, str]) -> float:
    return datetime.fromisoformat(mark["time"]).timestamp()


def left_behind(browser: Browser, marks: list[Any], job: str = "") -> None:
    """What a page that is gone left in the browser."""
    browser.ask(
        "const job = arguments[1] || document.documentElement.dataset.job;"
        "localStorage.setItem(`bench-queue-${job}-dgone`, JSON.stringify(arguments[0]))",
        marks,
        job,
    )


@pytest.fixture
def patched(browser: Browser) -> Iterator[Any]:
    """Runs a script in each page before the page's own."""
    added: list[str] = []

    def patch(script: str) -> None:
        told = browser._command("Page.addScriptToEvaluateOnNewDocument", source=script)
        added.append(told["identifier"])

    yield patch
    for name in added:
        browser._command("Page.removeScriptToEvaluateOnNewDocument", identifier=name)


def test_presses_while_words_are_asked_for_are_marks(bench: Bench, browser: Browser) -> None:
    job, server = bench
    enter(browser, server)
    browser.key("6")
    browser.ask(
        "const field = document.querySelector('#text'); field.value = 'head is stripped';"
        "field.dispatchEvent(new Event('input'))"
    )
    browser.key("2")
    browser.touch("#press-note")
    browser.touch("#press-keep")
    until(lambda: len(logged(job)) == 4)
    marks = logged(job)
    assert [mark["kind"] for mark in marks] == ["problem", "done", "note", "keep"]
    assert marks[0]["text"] == "head is stripped"


def test_keys_write_only_in_the_field(bench: Bench, browser: Browser) -> None:
    job, server = bench
    enter(browser, server)
    browser.key("7")
    browser.key("Enter")
    assert browser.ask("return document.activeElement.id") == "text"
    browser.key("1")
    browser.key("2")
    assert browser.ask("return document.querySelector('#text').value") == "12"
    browser.touch("#words button")
    until(lambda: saved(browser) and logged(job))
    (note,) = logged(job)
    assert (note["kind"], note["text"]) == ("note", "12")


def test_keys_still_work_after_a_tick_and_a_jump(bench: Bench, browser: Browser) -> None:
    job, server = bench
    enter(browser, server)
    browser.ask(
        "const jump = document.querySelector('#jump'); jump.focus(); jump.value = '2';"
        "jump.dispatchEvent(new Event('change'))"
    )
    browser.key("1")
    browser.touch("#lists input")
    assert browser.ask("return document.querySelector('#lists input').checked")
    browser.key("4")
    until(lambda: len(logged(job)) == 2)
    assert [(mark["kind"], mark["step"]) for mark in logged(job)] == [("start", "board"), ("keep", "board")]
    time.sleep(2.5)  # another look at the server's marks
    assert browser.ask("return document.activeElement.matches('#lists input:checked')"), "the focus stays"


def test_a_key_is_set_by_pressing_it_and_does_one_thing(bench: Bench, browser: Browser) -> None:
    job, server = bench
    enter(browser, server)
    browser.touch("#keys")
    for number, key in ((1, "b"), (0, "2")):  # Done to b; Start to what Done had
        browser.ask(f"document.querySelectorAll('#bound button')[{number}].click()")
        browser.key(key)
    browser.ask("document.querySelector('#table').close(); document.activeElement.blur()")
    for key in ("2", "b", "1"):
        browser.key(key)
    until(lambda: len(logged(job)) == 2)
    time.sleep(0.3)
    assert [mark["kind"] for mark in logged(job)] == ["start", "done"]
    browser.ask("location.reload()")
    until(lambda: browser.ask("return document.querySelector('#name')?.textContent"))
    browser.key("2")
    until(lambda: len(logged(job)) == 3)
    browser.ask("document.querySelector('#usual').click()")


def test_without_a_network_marks_wait_with_the_time_of_the_press(bench: Bench, browser: Browser) -> None:
    job, server = bench
    enter(browser, server)
    pressed = []
    browser.network(away=True)
    try:
        for key in "134":
            before = time.time()
            browser.key(key)
            pressed.append((before, time.time()))
            time.sleep(0.2)
        until(lambda: "3 marks wait. The bench log cannot be reached." in state(browser))
        assert not logged(job)
        time.sleep(0.5)
    finally:
        browser.network(away=False)
    until(lambda: saved(browser))
    assert len(logged(job)) == 3
    for mark, (before, after) in zip(logged(job), pressed, strict=True):
        assert before - 0.05 <= at(mark) <= after + 0.05


def test_a_long_queue_goes_in_pieces_and_junk_is_passed_over(bench: Bench, browser: Browser) -> None:
    """Two hundred long notes are 800 kB; a message may have 64 kB."""
    job, server = bench
    enter(browser, server)
    now = time.time() * 1000
    marks: list[Any] = [
        {"id": f"dgone-{n}", "at": now + n, "kind": "note", "step": "", "text": "Ω" * 2000}
        for n in range(200)
    ]
    left_behind(browser, [None, 7, *marks, {"id": 3}])
    browser.ask("localStorage.setItem('bench-keys', '[]'); localStorage.setItem('bench-queue-x', '{')")
    browser.ask("location.reload()")
    until(lambda: len(logged(job)) == 200, 30)
    assert [mark["id"] for mark in logged(job)] == [mark["id"] for mark in marks]
    until(lambda: saved(browser))


def test_a_refused_mark_is_shown_until_it_was_seen(bench: Bench, browser: Browser) -> None:
    job, server = bench
    enter(browser, server)
    now = time.time() * 1000
    evil = "<img src=x onerror='document.title=1'>"
    left_behind(
        browser,
        [
            {"id": "dgone-1", "at": now, "kind": "nonsense", "step": "", "text": evil},
            {"id": "dgone-2", "at": now, "kind": "keep", "step": "", "text": ""},
        ],
    )
    for _ in range(2):  # also after it was told
        browser.ask("location.reload()")
        until(lambda: browser.ask("return document.querySelector('#refused:not([hidden])')?.textContent"))
        told = str(browser.ask("return document.querySelector('#not-taken').textContent"))
        assert evil in told
        assert "no known kind" in told
    assert [mark["id"] for mark in logged(job)] == ["dgone-2"]
    browser.touch("#seen")
    assert browser.ask("return document.querySelector('#refused').hidden")
    assert browser.ask("return document.querySelectorAll('img').length") == 0


def test_a_second_tab_leaves_the_first_ones_marks_alone(bench: Bench, browser: Browser) -> None:
    job, server = bench
    enter(browser, server)
    driver = browser._driver
    first = driver.current_window_handle
    address = driver.current_url
    server.kill()
    browser.key("1")
    server.start()
    until(lambda: saved(browser))
    browser.ask(  # the page takes itself for hidden when another tab is in front, and then closes the field
        "Object.defineProperty(document, 'hidden', { get: () => false })"
    )
    browser.key("7")
    driver.switch_to.new_window("tab")
    try:
        driver.get(address)
        until(lambda: browser.ask("return document.querySelector('#name')?.textContent"))
        browser.ask("document.querySelector('#press-keep').click()")
        until(lambda: len(logged(job)) == 2)
        time.sleep(1.5)
        assert [mark["kind"] for mark in logged(job)] == ["start", "keep"], (
            "the note still waits for its words"
        )
        log = str(browser.ask("return document.querySelector('#log').textContent"))
        assert "start" in log
        assert "not of this device" in log
    finally:
        driver.close()
        driver.switch_to.window(first)
    browser.ask("document.querySelector('#text').value = 'torn flex'")
    browser.touch("#words button")
    until(lambda: len(logged(job)) == 3)
    assert logged(job)[2]["text"] == "torn flex"
    assert len({mark["id"].split("-")[0] for mark in logged(job)}) == 2, "each tab is a device"


def test_marks_of_one_job_never_reach_another_at_the_same_address(
    bench: Bench, browser: Browser, tmp_path: Path
) -> None:
    job, server = bench
    other = JobFolder(tmp_path / "other")
    other.write("job.md", LAMP.replace("Can this desk lamp", "Can that desk lamp"))
    enter(browser, server)
    server.kill()
    browser.key("1")
    browser.key("4")
    second = Server(other.root, port=server.port).start()
    try:
        enter(browser, second)
        browser.key("5")
        until(lambda: len(logged(other)) == 1)
        time.sleep(1)
        assert [mark["kind"] for mark in logged(other)] == ["wait"]
        # and a page that was left open is told so
        theirs = browser.ask(
            "return fetch('/marks', { headers: { 'X-Bench-Job': 'bench-0' } }).then((a) => a.status)"
        )
        assert theirs == 409
    finally:
        second.close()
    server.start()
    enter(browser, server)
    until(lambda: len(logged(job)) == 2)
    assert [mark["kind"] for mark in logged(job)] == ["start", "keep"]


def test_a_device_that_keeps_nothing_says_so(bench: Bench, browser: Browser, patched: Any) -> None:
    job, server = bench
    patched("Storage.prototype.setItem = () => { throw new DOMException('full', 'QuotaExceededError'); }")
    enter(browser, server)
    server.kill()
    browser.key("1")
    until(lambda: "This device keeps nothing" in state(browser))
    server.start()
    until(lambda: saved(browser))
    assert [mark["kind"] for mark in logged(job)] == ["start"]


SLEEPS = """
let lag = 0;
globalThis.sleep = (ms) => { lag += ms; };
const own = performance.now.bind(performance);
performance.now = () => own() - lag;
const stamp = Object.getOwnPropertyDescriptor(Event.prototype, 'timeStamp').get;
Object.defineProperty(Event.prototype, 'timeStamp', { get() { return stamp.call(this) - lag; } });
"""


@pytest.mark.parametrize("away", [False, True])
def test_a_device_that_slept_still_knows_the_time(
    away: bool, bench: Bench, browser: Browser, patched: Any
) -> None:
    """The clock behind performance.now() may stand still in sleep (High Resolution Time, W3C, leaves it open)."""
    job, server = bench
    patched(SLEEPS)
    enter(browser, server)
    browser.key("1")
    until(lambda: saved(browser) and logged(job))
    if away:
        server.kill()
    browser.ask("sleep(600000)")
    before = time.time()
    browser.key("2")
    after = time.time()
    if away:
        until(lambda: "1 mark waits" in state(browser))
        server.start()
    until(lambda: len(logged(job)) == 2)
    assert before - 0.05 <= at(logged(job)[1]) <= after + 0.05


def test_undo_is_of_this_device_also_after_a_reload(bench: Bench, browser: Browser) -> None:
    job, server = bench
    enter(browser, server)
    browser.key("1")
    browser.key("3")
    until(lambda: len(logged(job)) == 2)
    browser.ask("location.reload()")
    until(lambda: "retake" in str(browser.ask("return document.querySelector('#latest')?.textContent")))
    browser.touch("#undo")
    until(lambda: len(logged(job)) == 3)
    assert "start" in str(browser.ask("return document.querySelector('#latest').textContent"))
    assert [mark.kind for mark in open_job(job.root).marks] == ["start"]


def test_chirps_sound_as_defined_and_are_logged_when_they_do(bench: Bench, browser: Browser) -> None:
    """Against scipy.signal's linear sweep and Tukey window."""
    job, server = bench
    enter(browser, server)
    wave = np.array(
        browser.ask("return import('/static/chirp.js').then((module) => [...module.samples(48000)])")
    )
    times = np.arange(24000) / 48000
    expected = sweep(times, 1500, 0.5, 6000, phi=-90) * tukey(24000, 0.1)
    assert np.abs(wave - expected).max() < 1e-6
    begun = time.time()
    browser.touch("#clock")
    until(lambda: len([mark for mark in logged(job) if mark["kind"] == "chirp"]) >= 4, 20)
    browser.touch("#enough")
    ended = time.time()
    chirps = [at(mark) for mark in logged(job) if mark["kind"] == "chirp"]
    gaps = np.diff(chirps)
    assert begun < chirps[0]
    assert chirps[-1] < ended
    assert gaps.min() > 0.5, "one has ended before the next begins"
    assert np.ptp(gaps) > 0.008, "the gaps are not even"
    time.sleep(2)
    assert len([mark for mark in logged(job) if mark["kind"] == "chirp"]) == len(chirps), "closed is silent"


def test_without_a_wake_lock_a_film_keeps_the_screen_on(bench: Bench, browser: Browser, patched: Any) -> None:
    """Blink asks of a silent film that it covers a fifth of the window (video_wake_lock.cc, kSizeThreshold)."""
    patched("delete Navigator.prototype.wakeLock")
    _, server = bench
    enter(browser, server)
    browser.touch("#after")
    until(lambda: "blank film" in str(browser.ask("return document.querySelector('#awake').textContent")))
    playing, width, height, sound = browser.ask(
        "const film = document.querySelector('#film'); const box = film.getBoundingClientRect();"
        "return [!film.paused && film.currentTime > 0, box.width / innerWidth, box.height / innerHeight,"
        "film.webkitAudioDecodedByteCount > 0]"
    )
    assert playing
    assert width * height > 0.75
    assert sound


@pytest.mark.parametrize(("width", "height"), [(390, 844), (1024, 768)])
def test_what_an_elbow_presses_is_in_view_large_and_apart(
    width: int, height: int, bench: Bench, browser: Browser
) -> None:
    """On every step without scrolling: nine buttons whole, 72 px high, 10 px apart (common practice, no source)."""
    _, server = bench
    enter(browser, server, width=width, height=height)
    for _ in range(5):
        boxes = browser.ask(
            "return [...document.querySelectorAll('#marks button, #undo')].map((b) => b.getBoundingClientRect())"
            ".map((r) => [r.left, r.top, r.right, r.bottom])"
        )
        assert len(boxes) == 9
        for n, (left, top, right, bottom) in enumerate(boxes):
            assert left >= 0
            assert top >= 0
            assert right <= width
            assert bottom <= height
            assert bottom - top >= 72
            for other in boxes[n + 1 :]:
                apart = max(other[0] - right, left - other[2], other[1] - bottom, top - other[3])
                assert apart >= 9.9
        warned = browser.ask(
            "const box = document.querySelector('#cautions'); if (box.hidden) return null;"
            "const r = box.getBoundingClientRect(), board = document.querySelector('#board').getBoundingClientRect();"
            "return [document.querySelector('header').getBoundingClientRect().bottom <= r.top, r.bottom <= board.top]"
        )
        assert warned in (None, [True, True]), "cautions are in view"
        browser.key("ArrowRight")


def test_the_title_is_readable_from_two_metres(bench: Bench, browser: Browser) -> None:
    """ISO 9241-3 (quoted): capitals of 16 minutes of arc at least; height = 2 x distance x tan(angle / 2).

    A phone's 390 px are 64.6 mm (1170 dots at 460 to the inch: from memory).
    """
    _, server = bench
    enter(browser, server)
    size, capital = browser.ask(
        "const style = getComputedStyle(document.querySelector('#name'));"
        "const pen = document.createElement('canvas').getContext('2d');"
        "pen.font = [style.fontWeight, style.fontSize, style.fontFamily].join(' ');"
        "return [parseFloat(style.fontSize), pen.measureText('H').actualBoundingBoxAscent]"
    )
    needed = 2 * 2000 * math.tan(math.radians(16 / 60) / 2)
    assert needed == pytest.approx(9.31, abs=0.01)
    assert capital * 64.6 / 390 >= needed, (size, capital)


def test_the_page_stands_alone(bench: Bench, browser: Browser) -> None:
    """No request leaves the server, and nothing that the Content Security Policy forbids is tried."""
    _, server = bench
    enter(browser, server)
    time.sleep(0.5)
    asked = browser.ask("return performance.getEntriesByType('resource').map((one) => one.name)")
    assert asked
    assert all(name.startswith(f"http://{server.address}/") for name in asked)
    assert not [said for said in browser.console() if "favicon" not in said]
    assert (
        json.loads(browser.ask("return JSON.stringify([...document.querySelectorAll('[style]')].length)"))
        == 0
    )
