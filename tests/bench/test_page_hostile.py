"""The bench log's page on devices that are against it: a clock that is wrong, no room, no cookies, a button that
bounces.
"""

from __future__ import annotations

import time
from typing import Any

from episodekit.outside.job_folder import compile_job, open_job
from tests.bench.test_page import bench, enter, logged, saved, until
from tests.bench.test_page_mishaps import SLEEPS, Bench, at, patched, state
from tests.browser import Browser, browser

__all__ = ["bench", "browser", "patched"]

CLOCK = """
let wrong = 5 * 3600000;
globalThis.set = (hours) => { wrong = hours * 3600000; };
const right = Date.now.bind(Date);
Date.now = () => right() + wrong;
"""


def test_a_device_whose_clock_is_wrong_by_hours_logs_the_servers(
    bench: Bench, browser: Browser, patched: Any
) -> None:
    """Wrong from the start; set while the server is away, and once more before it is back; asleep."""
    job, server = bench
    patched(SLEEPS)
    patched(CLOCK)
    enter(browser, server)
    pressed: list[tuple[float, float]] = []

    def press(key: str) -> None:
        before = time.time()
        browser.key(key)
        pressed.append((before, time.time()))

    def delivered() -> object:
        return saved(browser) and len(logged(job)) == len(pressed)

    press("1")
    until(delivered)
    for first, then in (("set(-3)", "set(2)"), ("set(-7)", ""), ("sleep(600000)", "sleep(90000)")):
        server.kill()
        browser.ask(first)
        press("4")
        until(lambda: "1 mark waits" in state(browser))
        browser.ask(then)
        server.start()
        until(delivered)
        press("5")
        until(delivered)
    for mark, (before, after) in zip(logged(job), pressed, strict=True):
        assert before - 0.05 <= at(mark) <= after + 0.05, mark


def test_a_servers_clock_that_is_set_counts_from_the_next_look_on(bench: Bench, browser: Browser) -> None:
    """A laptop that wakes up, or finds the network, and sets its clock by an hour."""
    job, server = bench
    enter(browser, server)
    until(lambda: state(browser) == "All marks are saved.")
    server.kill()
    until(lambda: "cannot be reached" in state(browser))
    server.ahead = 3600
    server.start()
    until(lambda: state(browser) == "All marks are saved.")
    before = time.time()
    browser.key("1")
    after = time.time()
    until(lambda: logged(job))
    assert before - 0.05 <= at(logged(job)[0]) - 3600 <= after + 0.05


def test_a_page_that_keeps_nothing_asks_before_it_is_left(
    bench: Bench, browser: Browser, patched: Any
) -> None:
    """A browser asks where a page cancels `beforeunload` (HTML, "unloading documents")."""
    job, server = bench
    patched("Storage.prototype.setItem = () => { throw new DOMException('full', 'QuotaExceededError'); }")
    enter(browser, server)
    leaves = "return dispatchEvent(new Event('beforeunload', { cancelable: true }))"
    assert browser.ask(leaves)
    server.kill()
    browser.key("1")
    until(lambda: "This device keeps nothing" in state(browser))
    assert not browser.ask(leaves)
    server.start()
    until(lambda: saved(browser))
    assert browser.ask(leaves)
    assert [mark["kind"] for mark in logged(job)] == ["start"]


def test_room_for_a_tick_is_not_taken_for_room_for_marks(
    bench: Bench, browser: Browser, patched: Any
) -> None:
    job, server = bench
    patched(
        "const set = Storage.prototype.setItem; Storage.prototype.setItem = function (name, value) {"
        "if (name.startsWith('bench-queue')) throw new DOMException('full', 'QuotaExceededError');"
        "set.call(this, name, value); }"
    )
    enter(browser, server)
    browser.key("ArrowRight")
    browser.key("ArrowRight")
    server.kill()
    browser.key("4")
    until(lambda: "This device keeps nothing" in state(browser))
    browser.touch("#lists input")
    trouble = "return import('/static/queue.js').then((queue) => queue.trouble())"
    assert "This device keeps nothing" in str(browser.ask(trouble))
    server.start()
    until(lambda: saved(browser))
    assert [mark["kind"] for mark in logged(job)] == ["keep"]


def test_done_that_bounces_is_one_and_done_without_a_start_is_told(bench: Bench, browser: Browser) -> None:
    """Contacts bounce for some milliseconds; a finger taps twice within half a second (common practice, no source)."""
    job, server = bench
    enter(browser, server)
    latest = "return document.querySelector('#latest').textContent"
    browser.key("1")
    browser.key("2")
    browser.key("2")
    until(lambda: saved(browser) and len(logged(job)) == 2)
    assert "Never started" not in str(browser.ask(latest))
    time.sleep(1)
    browser.key("2")
    until(lambda: saved(browser) and len(logged(job)) == 3)
    assert [(mark["kind"], mark["step"]) for mark in logged(job)] == [
        ("start", "open"),
        ("done", "open"),
        ("done", "screws"),
    ]
    assert "Never started" in str(browser.ask(latest))
    _, findings = compile_job(open_job(job.root))
    assert "LOG-NOTHING-OPEN" in {found.code for found in findings}, "the page says what the log says"
    browser.key("0")
    until(lambda: len(logged(job)) == 4)
    assert "Never started" not in str(browser.ask(latest))
    _, findings = compile_job(open_job(job.root))
    assert "LOG-NOTHING-OPEN" not in {found.code for found in findings}


def test_a_step_is_under_way_on_the_page_when_it_is_in_the_log(bench: Bench, browser: Browser) -> None:
    """Keep begins a step too; a step begun while another is open leaves that one not done."""
    job, server = bench
    enter(browser, server)
    shown = "return ['#standing', '#latest'].map((id) => document.querySelector(id).textContent)"

    def press(*keys: str) -> tuple[str, str, set[str]]:
        for key in keys:
            browser.key(key)
        until(lambda: saved(browser))
        standing, latest = browser.ask(shown)
        _, findings = compile_job(open_job(job.root))
        return standing, latest, {found.code for found in findings} & {"LOG-NOTHING-OPEN", "LOG-OVERLAP"}

    standing, latest, wrong = press("4")
    assert standing.startswith("Under way")
    assert ("Not done" in latest, wrong) == (False, set())
    standing, latest, wrong = press("ArrowRight", "1")
    assert standing.startswith("Under way")
    assert latest.startswith("Not done: “Cold open”. ")
    assert wrong == {"LOG-OVERLAP"}
    assert press("ArrowLeft")[0].startswith("Begun, not done")
    standing, latest, wrong = press("0")
    assert standing.startswith("Not begun")
    assert ("Not done" in latest, wrong) == (False, set())
    standing, latest, wrong = press("ArrowLeft", "2", "ArrowLeft")
    assert standing.startswith("Done")
    assert ("Not" in latest, wrong) == (False, set())
    time.sleep(1)  # or it would be the same press
    standing, latest, wrong = press("2")
    assert latest.startswith("Not under way: ")
    assert wrong == {"LOG-NOTHING-OPEN"}


def test_a_browser_without_a_cookie_is_told_what_to_do(bench: Bench, browser: Browser, patched: Any) -> None:
    """A request that omits credentials has its Set-Cookie passed over (Fetch, WHATWG), as cookies that are off have."""
    _, server = bench
    told = "return document.querySelector('#said').textContent"
    browser.visit(f"http://{server.address}/")
    until(lambda: "Open the address in the terminal" in str(browser.ask(told)))
    patched(
        "const ask = fetch; globalThis.fetch = (path, more) => ask(path, { ...more, credentials: 'omit' });"
    )
    browser.visit(f"http://{server.address}/enter#{server.key}")
    until(lambda: "keeps no cookies" in str(browser.ask(told)))
