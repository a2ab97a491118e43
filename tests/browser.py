"""Chromium for the tests that look at pages as a reader does: opened, measured, printed. Skips where there is none.

`browser` and `axe` are fixtures for the whole run; import them into a test module to use them. The first drives
the chromedriver on PATH, so no browser is fetched.
"""

from __future__ import annotations

import base64
import io
import shutil
import subprocess
from collections.abc import Iterator
from pathlib import Path
from typing import Any

import pypdf
import pytest
from selenium import webdriver
from selenium.webdriver.chrome.service import Service

BROWSERS = ("chromium", "chromium-browser", "google-chrome", "google-chrome-stable")
# ISO 216 A4 and ANSI/ASME Y14.1 Letter (A), in millimetres and inches.
PAPERS = {"A4": (210 / 25.4, 297 / 25.4), "Letter": (8.5, 11.0)}
FLAGS = (
    "--headless=new",
    "--no-sandbox",
    "--disable-gpu",
    "--disable-dev-shm-usage",
    "--no-first-run",
    "--disable-background-networking",
    "--disable-component-update",
    "--disable-sync",
    "--hide-scrollbars",
)


class Browser:
    """A headless Chromium with a width, a colour scheme and a printer."""

    def __init__(self, driver: webdriver.Chrome) -> None:
        self._driver = driver

    def open(self, page: Path, *, width: int = 1280, scheme: str = "light") -> None:
        """Open a page from disk at a width in CSS pixels, in light or dark mode."""
        features = [{"name": "prefers-color-scheme", "value": scheme}]
        self._command("Emulation.setEmulatedMedia", features=features)
        self._command(
            "Emulation.setDeviceMetricsOverride", width=width, height=800, deviceScaleFactor=1, mobile=False
        )
        self.console()  # what earlier pages said
        self._driver.get(page.as_uri())

    def visit(self, address: str, *, width: int = 390, height: int = 844, scheme: str = "light") -> None:
        """Open a page of a server as a phone or tablet with a touch screen does."""
        features = [{"name": "prefers-color-scheme", "value": scheme}]
        self._command("Emulation.setEmulatedMedia", features=features)
        self._command(
            "Emulation.setDeviceMetricsOverride", width=width, height=height, deviceScaleFactor=1, mobile=True
        )
        self._command("Emulation.setTouchEmulationEnabled", enabled=True)
        self.console()
        self._driver.get(address)

    def touch(self, selector: str) -> None:
        """Press the middle of an element with a finger, where it is on the screen."""
        x, y = self.ask(
            "const e = document.querySelector(arguments[0]); e.scrollIntoView({block: 'center'});"
            "const r = e.getBoundingClientRect(); return [r.x + r.width / 2, r.y + r.height / 2]",
            selector,
        )
        self._command("Input.dispatchTouchEvent", type="touchStart", touchPoints=[{"x": x, "y": y}])
        self._command("Input.dispatchTouchEvent", type="touchEnd", touchPoints=[])

    def key(self, key: str) -> None:
        """Press and release a key of a keyboard, a number pad or a pedal."""
        text = {"Enter": "\r"}.get(key, key if len(key) == 1 else "")
        self._command("Input.dispatchKeyEvent", type="keyDown", key=key, text=text)
        self._command("Input.dispatchKeyEvent", type="keyUp", key=key)

    def write(self, words: str) -> None:
        """Put words where the cursor is, as the keyboard on a phone's screen does."""
        self._command("Input.insertText", text=words)

    def network(self, *, away: bool) -> None:
        """Take the network away, or give it back."""
        self._command("Network.enable")
        self._command(
            "Network.emulateNetworkConditions",
            offline=away,
            latency=0,
            downloadThroughput=-1,
            uploadThroughput=-1,
        )

    def ask(self, script: str, *arguments: object) -> Any:
        """What a script returns in the page."""
        return self._driver.execute_script(script, *arguments)

    def console(self) -> list[str]:
        """What the page wrote to the console since it was opened, as far as it is a complaint."""
        return [str(entry["message"]) for entry in self._driver.get_log("browser")]  # type: ignore[no-untyped-call]

    def printed(self, paper: str) -> pypdf.PdfReader:
        """The page printed on a paper of `PAPERS`, without backgrounds, as printers do by default."""
        width, height = PAPERS[paper]
        answer = self._command("Page.printToPDF", paperWidth=width, paperHeight=height, printBackground=False)
        return pypdf.PdfReader(io.BytesIO(base64.b64decode(answer["data"])))

    def picture(self, height: int = 800) -> bytes:
        """The top of the page as PNG."""
        width = self.ask("return innerWidth")
        clip = {"x": 0, "y": 0, "width": width, "height": height, "scale": 1}
        answer = self._command("Page.captureScreenshot", clip=clip, captureBeyondViewport=True)
        return base64.b64decode(answer["data"])

    def _command(self, name: str, **arguments: object) -> dict[str, Any]:
        answer: dict[str, Any] = self._driver.execute_cdp_cmd(name, arguments)
        return answer


@pytest.fixture(scope="session")
def browser(tmp_path_factory: pytest.TempPathFactory) -> Iterator[Browser]:
    """The browser, or a skip that says what is missing."""
    chromium = next(filter(None, map(shutil.which, BROWSERS)), None)
    chromedriver = shutil.which("chromedriver")
    if chromium is None or chromedriver is None:
        pytest.skip("no chromium with a chromedriver on PATH")
    options = webdriver.ChromeOptions()
    options.binary_location = chromium
    options.set_capability("goog:loggingPrefs", {"browser": "ALL"})
    for flag in (*FLAGS, f"--user-data-dir={tmp_path_factory.mktemp('chromium')}"):
        options.add_argument(flag)
    driver = webdriver.Chrome(options=options, service=Service(chromedriver))
    try:
        yield Browser(driver)
    finally:
        driver.quit()


@pytest.fixture(scope="session")
def axe(tmp_path_factory: pytest.TempPathFactory) -> str:
    """axe-core, a general-purpose checker of accessibility (WCAG 2.2 A and AA, and its own good practice)."""
    npm = shutil.which("npm")
    if npm is None:
        pytest.skip("needs npm, which is not installed")
    folder = tmp_path_factory.mktemp("axe")
    words = [npm, "install", "--silent", "--no-audit", "--no-fund", "axe-core@4"]
    ran = subprocess.run(words, cwd=folder, capture_output=True, text=True)
    if ran.returncode:
        pytest.skip(f"npm cannot install axe-core: {(ran.stderr or ran.stdout)[-200:]}")
    return (folder / "node_modules" / "axe-core" / "axe.min.js").read_text(encoding="utf-8")
