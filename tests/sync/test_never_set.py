"""A camera whose clock was never set is placed by what another camera heard too, and its other clips by that.

Every place is known from how the clips were made (`rooms.py`).
"""

from __future__ import annotations

import json
import shutil
from collections.abc import Callable, Iterator
from dataclasses import replace
from datetime import datetime, timedelta
from fractions import Fraction
from pathlib import Path

import numpy as np
import pytest

from episodekit.base.findings import Finding
from episodekit.job.reader import read_plan
from episodekit.outside.clocks.job_sync import sync_job
from episodekit.outside.job_folder import OpenJob
from episodekit.sync.chirp import chirp
from episodekit.sync.model import Clue, Rung
from tests.conftest import JobFolder, Run
from tests.media import kit
from tests.sync.filmed_clock import EPOCH
from tests.sync.rooms import RATE, Camera, Sound, bench, clip, heard, played, tune
from tests.sync.test_chirps import pauses

WALL = Fraction(1_794_000_000)
FRESH = datetime.fromisoformat("2016-01-01T00:00:00+00:00")
"""What a camera says whose battery was flat. Common practice, no source."""

PLAN = """---
title: One clock is right
frame rate: 25
size: 320x180
utc offset: +00:00
limits: {lower third: 0 s, chapters: 1}
cameras:
  top: {view: overhead}
  close: {view: macro}
  hall: {view: door}
---
# All
## Look {#look}
- camera: close
> A short line about it, and one more.
"""
SECONDS = 30
TOP, CLOSE, LATER = Camera(2.0, 60, 3e-5, noise=0.02), Camera(25.72, SECONDS, -4e-5), 600
"""The second clip of `close` rolls so many seconds after its first, when no other camera does."""

WORK = (36, 40)
"""Seconds of the room that the step took."""


def room_of(dice: np.random.Generator, notes: Sound) -> tuple[Sound, list[Fraction]]:
    """A bench with recordings and notes over it, and the page's chirps in its first seconds, with their places."""
    room = bench(dice, 65, 0.3)
    room[25 * RATE :] += played(dice, 40, 0.1)
    room[33 * RATE : 51 * RATE] += notes
    places = [Fraction(int(place * RATE), RATE) for place in pauses(11, 18, first=4.0)]
    sent = 0.4 * np.array(chirp(RATE), np.float32)
    for place in places:
        room[int(place * RATE) :][: len(sent)] += sent
    return room, places


def line(kind: str, at: Fraction, number: int = 0) -> str:
    when = (EPOCH + timedelta(microseconds=round((WALL + at) * 1_000_000))).isoformat()
    more = {"id": f"page-{number}"} if number else {}
    return json.dumps(more | {"time": when, "kind": kind, "step": "" if kind == "chirp" else "look"})


def frames(seconds: int, rate: int, first: float) -> Iterator[kit.Image]:
    """Numbers during the work, by when the clip began; grey else."""
    idle = np.full((kit.HEIGHT, kit.WIDTH), 90, np.uint8)
    for n in range(seconds * rate):
        yield kit.coded_frame(n) if WORK[0] - 1 < first + n / rate < WORK[1] + 1 else idle


@pytest.fixture(scope="module")
def made(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """Top is right; close says 2016 and heard what top heard, later nothing; hall says 2016 and is of another hour.

    There as here a device played the same.
    """
    dice = np.random.default_rng(41)
    notes = tune(dice, 18, 0.5)
    room, places = room_of(dice, notes)
    hall = bench(dice, 40)
    hall[8 * RATE : 26 * RATE] += notes
    job = JobFolder(tmp_path_factory.mktemp("never"))
    (job.root / "footage").mkdir()
    elsewhere = Camera(1.0, SECONDS)
    for name, camera, sound, at in (
        ("top-1.mp4", TOP, room, EPOCH + timedelta(seconds=int(WALL) + int(TOP.first))),
        ("close-1.mp4", CLOSE, room, FRESH + timedelta(seconds=300)),
        ("close-2.mp4", elsewhere, bench(dice, 40), FRESH + timedelta(seconds=300 + LATER)),
        ("hall-1.mp4", elsewhere, hall, FRESH + timedelta(seconds=90)),
    ):
        rate = 25 if camera is CLOSE else 2
        kit.encode(
            job.root / "footage" / name,
            frames(int(camera.seconds), rate, camera.first),
            Fraction(rate),
            sound=heard(sound, camera, dice, kit.SAMPLE_RATE),
            tags={"creation_time": at.strftime("%Y-%m-%dT%H:%M:%S.000000Z")},
        )
    lines = [line("chirp", place, n) for n, place in enumerate(places, 1)]
    lines += [
        line("start", Fraction(WORK[0])),
        line("keep", Fraction(WORK[0])),
        line("done", Fraction(WORK[1])),
    ]
    job.write("bench.jsonl", "\n".join(lines) + "\n")
    job.write("job.md", PLAN)
    return job.root


@pytest.fixture
def filmed(made: Path, job: JobFolder) -> JobFolder:
    shutil.copytree(made, job.root, dirs_exist_ok=True)
    return job


def test_its_clips_are_placed_and_cut_and_a_stranger_is_not(
    filmed: JobFolder, run: Callable[..., Run]
) -> None:
    done = run("sync", filmed.root)
    assert done.status in (0, 1), done.text
    held = {
        clip["path"].removeprefix("footage/"): clip
        for clip in json.loads((filmed.root / "out" / "sync.json").read_text())["clips"]
    }
    off = {name: Fraction(clip["start"]) - WALL for name, clip in held.items() if clip["start"] is not None}
    assert {name: clip["rung"] for name, clip in held.items()} == {
        "top-1.mp4": "chirp", "close-1.mp4": "sound", "close-2.mp4": "creation time", "hall-1.mp4": None,
    }  # fmt: skip
    assert abs(off["close-1.mp4"] - Fraction(CLOSE.first)) < Fraction(20, 1000)
    assert abs(off["close-2.mp4"] - Fraction(CLOSE.first) - LATER) < Fraction("1.2")
    assert "No clip that is placed surely heard the same." in done.text
    assert done.text.count("SYNC-NOT-PLACED") == 1
    assert "By sound alone, the clock of close is" in done.text
    page = (filmed.root / "out" / "sync.html").read_text(encoding="utf-8")
    assert page.count('class="day"') == 1
    assert "2016" not in page
    assert run("draft", filmed.root).status in (0, 1)
    plan = json.loads((filmed.root / "out" / "plan.json").read_text(encoding="utf-8"))
    seen = kit.numbers_in(filmed.root / "out" / "draft.mp4")
    (segment,) = [one for one in plan["segments"] if one["step"] == "look" and one["speed"] == "1"]
    assert segment["clip"].endswith("close-1.mp4")
    for n in range(segment["frames"] - segment["hold_frames"]):
        number = seen[segment["start_frame"] + n]
        assert number is not None
        assert abs(number - CLOSE.place(WORK[0] + n / 25) * 25) <= 1.5


def test_with_clock_in_the_plan_it_is_not_looked_for(filmed: JobFolder, run: Callable[..., Run]) -> None:
    """What a person says of a camera stands, and its clips are compared only with those near there."""
    filmed.write("job.md", PLAN.replace("view: macro", "view: macro, clock: 1 h behind"))
    said = run("sync", filmed.root).text
    assert "close-1.mp4: by hand, within 2 s" in said


HOUR = Fraction(3600)

Filmed = dict[str, tuple[Camera, Sound, datetime]]


def by_sound(
    folder: Path, dice: np.random.Generator, filmed: Filmed
) -> tuple[list[str], list[Finding], list[tuple[int, int]]]:
    """What is placed, what is told, and how far on the comparing was: top-1 filmed the clock, top-2 an hour later."""
    (folder / "footage").mkdir()
    clips = []
    for name, (camera, room, created) in filmed.items():
        made = clip(folder / "footage" / name, heard(room, camera, dice, kit.SAMPLE_RATE))
        clips.append(replace(made, path=f"footage/{name}", created=created))
    plan, _ = read_plan(PLAN.encode(), "job.md")
    assert plan is not None
    job = OpenJob(folder, plan, (), tuple(sorted(clips, key=lambda one: one.path)), (), {})
    clues = [
        Clue(f"footage/top-{n}.mp4", Rung.FILMED_CLOCK, Fraction(4), wall + 4, Fraction(6, 1000))
        for n, wall in ((1, WALL), (2, WALL + HOUR))
    ]
    told: list[tuple[int, int]] = []
    synced, findings = sync_job(
        job, plan, clues, folder / "out" / "cache", lambda done, whole: told.append((done, whole))
    )
    return [one.clip[8:] for one in synced if one.start is not None], list(findings), told


def test_clips_that_sound_puts_elsewhere_than_their_clock_are_told_and_not_placed(tmp_path: Path) -> None:
    """Two clips of a camera, 40 s apart by its clock of 2016, an hour by sound. The longer is found first, and by it
    the clock has the other where nobody else rolled. What was compared is told pair by pair.
    """
    dice = np.random.default_rng(8)
    first, second = bench(dice, 85), bench(dice, 40)
    filmed = {
        "top-1.mp4": (Camera(0.0, 80), first, EPOCH + timedelta(seconds=int(WALL))),
        "top-2.mp4": (Camera(0.0, 38), second, EPOCH + timedelta(seconds=int(WALL + HOUR))),
        "close-1.mp4": (Camera(5.0, 32), first, FRESH),
        "close-2.mp4": (Camera(2.0, 34), second, FRESH + timedelta(seconds=40)),
    }
    placed, findings, told = by_sound(tmp_path, dice, filmed)
    assert placed == ["top-1.mp4", "top-2.mp4"]
    assert [(one.code, str(one.at)[8:]) for one in findings] == [
        ("SYNC-CONFLICT", "close-1.mp4"), ("SYNC-CONFLICT", "close-2.mp4"),
    ]  # fmt: skip
    assert "it is not placed" in findings[0].message
    assert [done for done, _ in told] == [*range(1, len(told) + 1)]
    assert all(done <= whole for done, whole in told)


def test_two_files_of_one_recording_bear_each_other_out_no_more_than_one_file(tmp_path: Path) -> None:
    """The camera split its recording, and is found by that; its next clip is an hour off, so it is looked for too."""
    dice = np.random.default_rng(9)
    first, second = bench(dice, 50), bench(dice, 30)
    filmed = {
        "top-1.mp4": (Camera(0.0, 48), first, EPOCH + timedelta(seconds=int(WALL))),
        "top-2.mp4": (Camera(0.0, 28), second, EPOCH + timedelta(seconds=int(WALL + HOUR))),
        "close-1.mp4": (Camera(2.0, 22), first, FRESH),
        "close-2.mp4": (Camera(24.0, 22), first, FRESH + timedelta(seconds=22)),
        "close-3.mp4": (Camera(2.0, 20), second, FRESH + timedelta(seconds=80)),
    }
    placed, findings, _ = by_sound(tmp_path, dice, filmed)
    assert placed == ["top-1.mp4", "top-2.mp4"]
    assert [(one.code, str(one.at)[8:]) for one in findings] == [
        ("SYNC-CONFLICT", "close-1.mp4"), ("SYNC-CONFLICT", "close-3.mp4"),
    ]  # fmt: skip
