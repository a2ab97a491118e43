"""Ten thousand marks from two pages in two browsers, through kills and cuts, as the storm has it."""

from __future__ import annotations

import shutil
import sys
import time
from collections.abc import Iterator
from pathlib import Path

import pytest
from selenium import webdriver
from selenium.webdriver.chrome.service import Service

from tests.bench.kit import HOST, Server
from tests.bench.storm import Proxy, storm
from tests.browser import BROWSERS, FLAGS
from tests.conftest import JobFolder

pytestmark = [
    pytest.mark.benchmark,
    pytest.mark.skipif(sys.platform == "win32", reason="SIGKILL is of Unix"),
]

# What the page is told is written down beside the page's own code.
LISTENS = """
globalThis.acknowledged = [];
globalThis.refused = [];
const real = fetch;
globalThis.fetch = async (path, asked) => {
  const answer = await real(path, asked);
  if (asked?.method === "POST" && path === "/marks" && answer.ok) {
    const told = await answer.clone().json();
    acknowledged.push(...told.taken);
    refused.push(...told.refused);
  }
  return answer;
};
"""
PRESSES = """
const [presses, every] = arguments;
globalThis.pressed = [];
import("/static/queue.js").then((queue) => {
  globalThis.waiting = queue.waiting;
  const timer = setInterval(() => {
    const number = pressed.length + 1;
    const mark = queue.press("note", "", performance.now(), { text: `press ${number}` });
    pressed.push([mark.id, mark.at]);
    if (number === presses) clearInterval(timer);
  }, every);
});
"""


class Page:
    """A browser that stands in for a `Presser`."""

    def __init__(self, proxy: Proxy, server: Server, profile: Path) -> None:
        chromium = next(filter(None, map(shutil.which, BROWSERS)), None)
        chromedriver = shutil.which("chromedriver")
        if chromium is None or chromedriver is None:
            pytest.skip("no chromium with a chromedriver on PATH")
        options = webdriver.ChromeOptions()
        options.binary_location = chromium
        for flag in (*FLAGS, f"--user-data-dir={profile}"):
            options.add_argument(flag)
        self.driver = webdriver.Chrome(options=options, service=Service(chromedriver))
        self.driver.execute_cdp_cmd("Page.addScriptToEvaluateOnNewDocument", {"source": LISTENS})
        lines = len(server.said)
        self.driver.get(f"http://{HOST}:{proxy.port}/enter#{server.key}")
        server.wait_for("/enter#", lines)
        self.name = ""
        self.pressed: list[tuple[str, float]] = []
        self.acknowledged: list[str] = []
        self.refused: list[object] = []
        self.waits: list[float] = []
        end = time.monotonic() + 15
        while not self.driver.execute_script("return document.querySelector('#name')?.textContent"):
            assert time.monotonic() < end
            time.sleep(0.1)

    def run(self, presses: int, every: float) -> None:
        """Press, and read what the page was told, until nothing waits."""
        self.driver.execute_script(PRESSES, presses, every * 1000)
        left = 1
        while left or len(self.pressed) < presses:
            time.sleep(0.2)
            pressed, told, self.refused, left = self.driver.execute_script(
                "return [pressed.slice(arguments[0]), acknowledged.slice(arguments[1]), refused,"
                "globalThis.waiting ? waiting() : 1]",
                len(self.pressed),
                self._read,
            )
            self.pressed += [(str(name), float(at)) for name, at in pressed]
            self._read += len(told)
            known = set(self.acknowledged)  # an answer that was lost comes twice
            self.acknowledged += [name for name in told if name not in known]
            self.name = self.name or (self.pressed[0][0].split("-")[0] if self.pressed else "")

    _read = 0


@pytest.fixture
def server(job: JobFolder) -> Iterator[Server]:
    server = Server(job.root)
    yield server
    server.close()


def test_ten_thousand_marks_from_two_pages(server: Server, tmp_path: Path) -> None:
    server.start()
    proxy = Proxy(server, seed=3)
    pages: list[Page] = []
    try:
        pages += [Page(proxy, server, tmp_path / name) for name in ("left", "right")]
        seen = storm(server, proxy, pages, presses=5000, every=0.02, seed=20261125, pause=0.4)  # type: ignore[arg-type]
    finally:
        proxy.close()
        for page in pages:
            page.driver.quit()
    print(
        f"\n10,000 marks of two pages in {seen.seconds:.0f} s through {seen.kills} kills, {seen.cuts} cut connections, "
        f"{seen.torn} torn messages and answers and {seen.away} times without a network"
    )
    assert seen.kills >= 30
    assert seen.cuts >= 30
