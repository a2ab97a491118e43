"""An hour of two cameras from the page at the bench to the cut, and by how many frames the cut is off.

What the page paints is taken off its canvas with the machine's time of the paint, and two cameras film it by arithmetic
(`filmed_clock.py`). Frames of the work carry their own number as a code, written by segno and read by zxing-cpp; their
true instant follows from how the clip was made. The hour between passes by setting the server's clock ahead.
"""

from __future__ import annotations

import base64
import io
import json
import os
import subprocess
import sys
import time
from bisect import bisect
from collections.abc import Callable, Iterator, Sequence
from dataclasses import dataclass
from datetime import UTC, datetime
from fractions import Fraction
from math import floor
from pathlib import Path

import numpy as np
import PIL.Image

from tests.bench.kit import ROOT, Server, logged
from tests.browser import Browser
from tests.conftest import JobFolder
from tests.media import kit
from tests.sync.filmed_clock import Image, Scene, frame

DRAFT = 25
STEPS = {"lid": "left", "board": "right", "joint": "left", "base": "right"}
CLOCK_AT, FIRST_AT, SECOND_AT, LAST_AT = 0.0, 800.0, 2400.0, 3200.0
"""Seconds of the job at which the clock is filmed, two steps are logged, two more, and the clock is filmed again."""

JOB = (
    f"---\ntitle: An hour of two cameras\nframe rate: {DRAFT}\nsize: 320x180\nutc offset: +00:00\n"
    "limits: {lower third: 0 s, chapters: 1}\n"
    "cameras:\n  left: {view: overhead}\n  right: {view: macro}\n---\n# All\n"
) + "".join(
    f"## The {name} {{#{name}}}\n- camera: {camera}\n> A short line about it.\n\n"
    for name, camera in STEPS.items()
)

RECORD = """
const code = document.querySelector("#code");
window.painted = [];
new MutationObserver(() => painted.push([Date.now(), code.toDataURL()]))
  .observe(document.querySelector("#digits"), {childList: true, characterData: true, subtree: true});
"""


@dataclass(frozen=True)
class Camera:
    """It rolls from `shift` on by the server's clock, by which a second of its own lasts `pace`.

    Its file's creation time is `wrong` seconds late.
    """

    name: str
    rate: Fraction
    shift: Fraction
    pace: Fraction
    wrong: int

    def number(self, wall: Fraction) -> int:
        """The frame that was taken last at an instant."""
        return floor((wall - self.shift) / self.pace * self.rate)


SHOWN = Fraction(7, 2)
"""Seconds for which the clock is filmed each time."""

Painted = Sequence[tuple[float, Image]]


class Bench:
    """A page that logs, on a server whose clock goes on in leaps."""

    def __init__(self, browser: Browser, server: Server) -> None:
        self.browser, self.server = browser, server
        self.painted: list[tuple[float, Image]] = []

    def at(self, ahead: float) -> None:
        """Go on at so many seconds of the job."""
        self.server.close()
        self.server.ahead = ahead
        self.server.start()
        if self.server.starts == 1:
            line = next(said for said in self.server.said if "/enter#" in said)
            self.browser.visit(line.split()[-1])
        else:
            self.browser.ask("location.reload()")
        self.until("document.querySelector('#name')?.textContent")
        time.sleep(0.5)

    def film(self) -> None:
        """Show the clock for three seconds and a half, and keep what was painted."""
        self.browser.ask(RECORD)
        self.browser.touch("#clock")
        self.until("document.querySelector('#watch').open")
        time.sleep(3.5)
        for at, url in self.browser.ask("return painted"):
            picture = PIL.Image.open(io.BytesIO(base64.b64decode(url.partition(",")[2]))).convert("L")
            self.painted.append((at / 1000 + self.server.ahead, np.asarray(picture)))
        self.browser.touch("#enough")

    def log(self, seconds: float) -> None:
        """The step at hand: begun, all of it kept, done; the page goes on to the next."""
        for button in ("#press-start", "#press-keep"):
            self.browser.touch(button)
        time.sleep(seconds)
        self.browser.touch("#press-done")
        self.until("document.querySelector('#state').textContent.includes('All marks are saved')")
        time.sleep(0.3)

    def until(self, true: str) -> None:
        """Wait until something is so in the page."""
        end = time.monotonic() + 15
        while not self.browser.ask(f"return {true}"):
            assert time.monotonic() < end, f"it never came: {true}"
            time.sleep(0.05)


def roll(
    folder: Path, camera: Camera, painted: Painted, shown: Callable[[Fraction], str], last: Fraction
) -> None:
    """The camera's clip, until `last`. `shown` says what it sees at an instant: the clock, a number, or an idle bench.

    Ten seconds of idleness are encoded once and joined as often as needed.
    """
    idle = np.full((kit.HEIGHT, kit.WIDTH), 110, np.uint8)
    noise = np.random.default_rng(20261130)
    begun = [at for at, _ in painted]
    scene = Scene(camera.rate, camera.shift, camera.pace, kit.WIDTH, kit.HEIGHT, module=5)

    def screen(wall: float) -> Image:
        return painted[max(0, bisect(begun, wall) - 1)][1]

    def picture(number: int) -> Image:
        what = shown(camera.shift + camera.pace * number / camera.rate)
        if what == "clock":
            return frame(scene, number, idle, noise, screen)
        return kit.coded_frame(number) if what == "number" else idle

    def part(name: str, frames: Iterator[Image]) -> None:
        kit.encode(folder / name, frames, camera.rate, key_every=int(camera.rate), b_frames=0)

    block = int(10 * camera.rate)
    part("idle.mp4", (idle for _ in range(block)))
    whole = camera.number(last)
    parts: list[tuple[str, int]] = []
    for begin in range(0, whole, block):
        count = min(block, whole - begin)
        busy = any(
            shown(camera.shift + camera.pace * number / camera.rate)
            for number in range(begin, begin + count, 5)
        )
        if busy or count < block:
            part(f"{begin}.mp4", (picture(number) for number in range(begin, begin + count)))
        parts.append((f"{begin}.mp4" if busy or count < block else "idle.mp4", count))
    lines = (f"file {name}\nduration {float(count / camera.rate):.9f}\n" for name, count in parts)
    (folder / "list.txt").write_text("".join(lines))
    created = datetime.fromtimestamp(int(camera.shift) + camera.wrong, UTC).strftime(
        "%Y-%m-%dT%H:%M:%S.000000Z"
    )
    target = folder.parent / "lamp" / "footage" / f"{camera.name}-1.mp4"
    target.parent.mkdir(exist_ok=True)
    kit.remux(folder / "list.txt", target, "-metadata", f"creation_time={created}", before=("-f", "concat"))


def program(*words: str | Path) -> str:
    """Run the program as a creator does; what it said."""
    ran = subprocess.run(
        [sys.executable, "-m", "episodekit", *map(str, words)],
        env=os.environ | {"PYTHONPATH": str(ROOT), "PYTHONIOENCODING": "utf-8"},
        capture_output=True,
        text=True,
        encoding="utf-8",
        check=False,
    )
    assert ran.returncode in (0, 1), ran.stdout + ran.stderr
    return ran.stdout + ran.stderr


def frames_off(rates: tuple[Fraction, Fraction], folder: Path, browser: Browser) -> list[int]:
    """Log steps and film the clock on the page, roll two cameras of these rates, sync and draft: by how many frames
    each frame of the steps in the draft is off.

    The cameras run 60 millionths slow and 45 fast, and their files lie about when they began. Without the drift every
    frame would be off by more than one, whichever showing of the clock is believed, or both.
    """
    job = JobFolder(folder / "lamp")
    job.write("job.md", JOB)
    painted = _at_the_bench(job, browser)
    marks = {
        (mark["step"], mark["kind"]): _exact(datetime.fromisoformat(mark["time"]).timestamp())
        for mark in logged(job.root)
        if mark["kind"] != "chirp"
    }
    assert len(marks) == 3 * len(STEPS)
    clocks = _exact(painted[0][0]), _exact(painted[-1][0])
    cameras = {
        "left": Camera("left", rates[0], clocks[0] - Fraction(4217, 1000), 1 + Fraction(60, 1_000_000), 37),
        "right": Camera(
            "right", rates[1], clocks[0] - Fraction(9871, 1000), 1 - Fraction(45, 1_000_000), -24
        ),
    }

    def shown(wall: Fraction) -> str:
        if any(0 <= wall - at <= SHOWN for at in (clocks[0], clocks[1] - 3)):
            return "clock"
        near = any(marks[step, "start"] - 1 < wall < marks[step, "done"] + 1 for step in STEPS)
        return "number" if near else ""

    for camera in cameras.values():
        (folder / camera.name).mkdir()
        roll(folder / camera.name, camera, painted, shown, clocks[1] + 4)
    said = program("sync", job.root)
    assert said.count("filmed clock, within") == len(cameras), said
    program("draft", job.root)
    plan = json.loads((job.root / "out" / "plan.json").read_text(encoding="utf-8"))
    seen = kit.numbers_in(job.root / "out" / "draft.mp4")
    found = []
    for step, name in STEPS.items():
        camera, begun, done = cameras[name], marks[step, "keep"], marks[step, "done"]
        alone = [(camera.pace - 1) * (begun - at) * camera.rate for at in clocks]
        assert min(abs(alone[0]), abs(alone[1]), abs(alone[0] + alone[1]) / 2) > 1
        (segment,) = [one for one in plan["segments"] if one["step"] == step and one["speed"] == "1"]
        count = segment["frames"] - segment["hold_frames"]
        assert segment["clip"].endswith(f"{name}-1.mp4")
        assert abs(Fraction(count, DRAFT) - (done - begun)) <= Fraction(1, DRAFT)
        for n in range(count):
            number = seen[segment["start_frame"] + n]
            assert number is not None, (step, n)
            found.append(number - camera.number(begun + Fraction(n, DRAFT)))
    return found


def _at_the_bench(job: JobFolder, browser: Browser) -> Painted:
    server = Server(job.root)
    try:
        bench = Bench(browser, server)
        bench.at(CLOCK_AT)
        bench.film()
        for ahead in (FIRST_AT, SECOND_AT):
            bench.at(ahead)
            bench.log(2.0)
            bench.log(1.6)
        bench.at(LAST_AT)
        bench.film()
    finally:
        server.close()
    return bench.painted


def _exact(seconds: float) -> Fraction:
    return Fraction(round(seconds * 1000), 1000)
