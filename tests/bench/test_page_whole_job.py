"""The sample's whole day at the bench, logged in Chromium by finger and by key: what was pressed is what is cut."""

from __future__ import annotations

import shutil
import time
from collections.abc import Callable, Iterator
from dataclasses import dataclass, field
from datetime import datetime
from pathlib import Path

import pytest

from episodekit.outside.job_folder import compile_job, open_job
from tests.bench.kit import Server
from tests.bench.test_page import enter, logged, name, saved, until
from tests.browser import Browser, browser
from tests.conftest import ROOT, JobFolder, Run

__all__ = ["browser"]

# What is pressed at each step, words after a colon; and what of it must be in the cut.
DAY = (
    ("drift", "start done", "work"),
    ("baseline", "start reading:41 Mbit/s at 5 m done", "work"),
    ("rear-screws", "start keep done", "work keep"),
    ("battery", "start keep start done", "work keep work"),
    ("flex", "start note:pulled with the latch shut retake keep start done", "work keep work"),
    ("old-battery", "start problem:it bends at one corner keep start done", "work keep work"),
    ("screen", "start wait start keep start done", "work wait work keep work"),
    ("shell", "start keep start done", "work keep work"),
    ("test", "start wait reading:drift 1.2 % done", "work wait"),
    ("seal", "start retake undo done", "work"),  # an elbow on Retake voids nothing once it is undone
    ("result", "start done undo keep start done", "work keep work"),  # done too early
    ("larkspur-read", "start note: done", "work"),  # a note may stay without words
)
KEYS = {
    kind: str(n)
    for n, kind in enumerate(["start", "done", "retake", "keep", "wait", "problem", "note", "reading"], 1)
} | {"undo": "0"}


@pytest.fixture
def clear_shell(tmp_path: Path) -> Iterator[tuple[JobFolder, Server]]:
    folder = JobFolder(tmp_path / "clear-shell")
    folder.root.mkdir()
    shutil.copy(ROOT / "sample_jobs" / "clear-shell" / "job.md", folder.root)
    server = Server(folder.root).start()
    yield folder, server
    server.close()


def presses(day: str) -> list[tuple[str, str | None]]:
    """Each press with the words that are typed after it, None where none are asked for."""
    found: list[tuple[str, str | None]] = []
    for word in day.split():
        kind, colon, text = word.partition(":")
        if kind in KEYS:
            found.append((kind, text if colon else None))
        else:
            before, told = found[-1]
            found[-1] = (before, f"{told} {word}")
    return found


@dataclass
class Hand:
    """Presses as a finger or a key does, and remembers when."""

    browser: Browser
    pressed: list[tuple[str, str, float, float]] = field(default_factory=list)

    def press(self, kind: str, words: str | None) -> None:
        before = time.time()
        self.down(kind)
        self.pressed.append((kind, words or "", before, time.time()))
        if words is not None:
            self.write(words)

    def down(self, kind: str) -> None:
        raise NotImplementedError

    def write(self, words: str) -> None:
        raise NotImplementedError


class Finger(Hand):
    def down(self, kind: str) -> None:
        self.browser.touch("#undo" if kind == "undo" else f"#press-{kind}")

    def write(self, words: str) -> None:
        if words:
            self.browser.touch("#text")
            self.browser.write(words)
        self.browser.touch("#words button")


class Keyboard(Hand):
    def down(self, kind: str) -> None:
        self.browser.key(KEYS[kind])

    def write(self, words: str) -> None:
        for key in ["Enter", *words, "Enter"]:
            self.browser.key(key)


@pytest.mark.parametrize(("hand", "width"), [(Finger, 390), (Keyboard, 1024)])
def test_the_whole_sample_is_logged(
    hand: Callable[[Browser], Hand],
    width: int,
    clear_shell: tuple[JobFolder, Server],
    browser: Browser,
    run: Callable[..., Run],
) -> None:
    job, server = clear_shell
    enter(browser, server, width=width)
    by = hand(browser)
    titles = []
    for step, day, _ in DAY:
        titles.append(name(browser))
        for kind, words in presses(day):
            by.press(kind, words)
        if step == "old-battery":  # somebody pulled the page down
            until(lambda: saved(browser))
            browser.ask("location.reload()")
            until(lambda: browser.ask("return document.querySelector('#name')?.textContent"))
    until(lambda: saved(browser) and len(logged(job)) == len(by.pressed))
    marks = logged(job)
    assert [(mark["kind"], mark.get("text", "")) for mark in marks] == [one[:2] for one in by.pressed]
    for mark, (_, _, before, after) in zip(marks, by.pressed, strict=True):
        at = datetime.fromisoformat(mark["time"]).timestamp()
        assert before - 0.05 <= at <= after + 0.05, "the time is that of the press"
    assert len({mark["id"] for mark in marks}) == len(marks)
    assert [mark["time"] for mark in marks] == sorted(mark["time"] for mark in marks)

    episode, findings = compile_job(open_job(job.root))
    assert episode is not None
    assert not [found for found in findings if found.code.startswith("LOG-")]
    plan = [step for section in episode.plan.sections for step in section.steps]
    assert [(step.id, step.title) for step in plan] == [
        (step, title) for (step, _, _), title in zip(DAY, titles, strict=True)
    ], "done leads to the next step"
    for step, _, kinds in DAY:
        assert " ".join(span.kind for span in episode.spans if span.step == step) == kinds, step
        assert all(span.end for span in episode.spans)
    told = run("check", job.root)
    assert told.status == 0, told.text
