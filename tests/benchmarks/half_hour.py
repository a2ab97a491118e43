"""A day at the bench that gives a draft of half an hour: the plan, the log, the takes and numbered footage.

Three cameras that agree in nothing: `top` runs all day at 25 frames a second and begins new files where it likes,
`side` counts drop-frame timecode at 29.97 in a larger picture, `macro` has 59.94, another shape, and a clock that is
3.2 s behind. Each camera beeps at moments and at a pitch of its own. All places are exact fractions of seconds on the
bench's clock, and what this file says of a frame is counted from the log's times and the cameras' rates alone.
"""

from __future__ import annotations

import json
from collections.abc import Iterator
from concurrent.futures import ProcessPoolExecutor
from dataclasses import dataclass, field
from datetime import UTC, datetime, timedelta
from fractions import Fraction
from functools import lru_cache
from math import ceil, floor
from multiprocessing import get_context
from pathlib import Path

import numpy as np
import segno
from numpy.typing import NDArray
from timecode import Timecode

from tests.conftest import JobFolder
from tests.media import kit
from tests.media.test_joined_files import split
from tests.test_narration import as_wav, noise

FIRST = datetime(2026, 11, 7, 15, 0, 0, tzinfo=UTC)
"""Bench time 0."""
CYCLES = 4
OUT = Fraction(30000, 1001)
"""The draft's rate."""
BEEP_LASTS = 0.06
BEHIND = Fraction(16, 5)


@dataclass(frozen=True)
class Camera:
    """How a camera films. `base` is added to its numbers, so that a frame tells its camera."""

    rate: Fraction
    base: int
    width: int
    height: int
    pitch: int
    gaps: tuple[float, float]
    """Between the beginnings of two beeps, in seconds, at least and at most."""


CAMERAS = {
    "top": Camera(Fraction(25), 0, 320, 180, 1000, (1.1, 2.6)),
    "side": Camera(Fraction(30000, 1001), 200_000, 640, 360, 1470, (0.9, 2.1)),
    "macro": Camera(Fraction(60000, 1001), 500_000, 480, 360, 2310, (0.7, 1.9)),
}


@dataclass(frozen=True)
class Recording:
    """One recording: `begin` is its first frame on the bench's clock. `zero` is the number on that frame."""

    camera: str
    name: str
    begin: Fraction
    frames: int
    label: str | None = None
    files: tuple[tuple[str, int], ...] = ()
    """Where it was split: each file with the frame it begins with."""

    @property
    def rate(self) -> Fraction:
        return CAMERAS[self.camera].rate

    @property
    def zero(self) -> int:
        return CAMERAS[self.camera].base + floor(self.begin * self.rate)

    def frame_at(self, bench: Fraction) -> int:
        """The frame on screen at that moment; a log is written in milliseconds, so a millisecond is forgiven."""
        return floor((bench - self.begin + Fraction(1, 1000)) * self.rate)


@dataclass(frozen=True)
class Step:
    """A step and its marks: kind and moment on the bench's clock, and the clip and label where it is written so."""

    id: str
    kind: str
    camera: str
    facts: str
    beats: int
    marks: tuple[tuple[str, Fraction], ...]
    by_label: bool = False

    def at(self, kind: str) -> Fraction:
        """When it was marked, for the last time."""
        return next(moment for name, moment in reversed(self.marks) if name == kind)


@dataclass(frozen=True)
class Day:
    """All of it."""

    steps: tuple[Step, ...]
    recordings: tuple[Recording, ...]
    takes: dict[str, NDArray[np.floating]] = field(default_factory=dict)

    def of(self, clip: str) -> tuple[Recording, int]:
        """The recording that a file belongs to, and the file's first frame in it."""
        for one in self.recordings:
            for name, first in one.files or ((one.name, 0),):
                if clip.endswith("/" + name):
                    return one, first
        raise KeyError(clip)

    def running(self, camera: str, bench: Fraction) -> Recording:
        """The camera's recording at that moment."""
        return next(
            r
            for r in self.recordings
            if r.camera == camera and r.begin <= bench < r.begin + r.frames / r.rate
        )


@lru_cache
def beeps(camera: str) -> tuple[Fraction, ...]:
    """When a camera's beeps begin, to the millisecond, for two hours."""
    low, high = CAMERAS[camera].gaps
    gaps = np.random.default_rng(CAMERAS[camera].pitch).integers(int(low * 1000), int(high * 1000), 9000)
    return tuple(Fraction(int(at), 1000) for at in np.cumsum(gaps) if at < 7_200_000)


def day() -> Day:
    """Eight kinds of steps, four times over, each at another place between two frames."""
    steps: list[Step] = []
    recordings: list[Recording] = []
    at = Fraction(5)

    def film(camera: str, begin: Fraction, end: Fraction) -> Recording:
        """From a whole second on that camera's clock before `begin` to some time after `end`."""
        late = BEHIND if camera == "macro" else Fraction(0)
        first = Fraction(floor(begin - late - 2)) + late
        number = 1 + sum(r.camera == camera for r in recordings)
        label = str(Timecode("29.97", f"{10 + number:02d}:59:5{number};17")) if camera == "side" else None
        suffix = "mov" if label else "mp4"
        count = ceil((end + 3 - first) * CAMERAS[camera].rate)
        recordings.append(Recording(camera, f"{camera}-{number}.{suffix}", first, count, label))
        return recordings[-1]

    def step(kind: str, camera: str, facts: str, beats: int, *lengths: tuple[str, int]) -> None:
        """Marks after so many milliseconds each; in a side camera's clip they are labels, so whole frames."""
        nonlocal at
        begin = at + Fraction(37 + 411 * len(steps) % 977, 1000)
        moments, now = [], begin
        for name, after in lengths:
            now += Fraction(after, 1000)
            moments.append((name, now))
        if camera != "top":
            recording = film(camera.split(", ")[-1], begin, now)
        if camera == "side":
            moments = [
                (name, recording.begin + recording.frame_at(when) / recording.rate) for name, when in moments
            ]
        steps.append(Step(f"s{len(steps):02d}", kind, camera, facts, beats, tuple(moments), camera == "side"))
        at = now + 3

    for cycle in range(CYCLES):
        step("keep", "top", "", 3, ("start", 0), ("keep", 12_000), ("done", 108_000))
        step("keep", "macro", "", 2, ("start", 0), ("keep", 8_137), ("done", 88_013))
        step("angles", "top, side", "", 15, ("start", 0), ("done", 110_000 if cycle % 2 else 150_000))
        until = at + 70
        step(
            "must",
            "top",
            "- must show: the joint | macro | 12 s\n",
            4,
            *(("start", 0), ("keep", 20_000), ("start", 15_211), ("done", 30_000)),
        )
        film("macro", steps[-1].at("keep") - 3, min(until, steps[-1].at("keep") + 22))
        step("hold", "side", "", 1, ("start", 0), ("keep", 0), ("done", 9_000))
        step("wait", "top", "", 6, ("start", 0), ("wait", 40_000), ("start", 61_000), ("done", 30_000))
        if cycle % 2 == 0:
            step("curing", "top", "- work: curing\n", 2, ("start", 0), ("done", 200_000))
        step("keep", "side", "", 2, ("start", 0), ("keep", 6_000), ("done", 96_000))

    rate = CAMERAS["top"].rate
    kept = [s for s in steps if s.kind == "keep" and s.camera == "top"]
    inside = [15 * floor((s.at("keep") + 41) * rate / 15) for s in kept[1:3]]  # on key frames, within a keep
    files = tuple((f"top-000{n}.mov", first) for n, first in enumerate((0, *inside), 1))
    recordings.append(Recording("top", "top.mov", Fraction(0), ceil((at + 4) * rate), files=files))

    takes: dict[str, NDArray[np.floating]] = {}
    for number, one in enumerate(steps):
        if one.kind == "hold":
            takes[f"{one.id}.1"] = noise(9.4 + number / 100, number)
        elif one.kind == "keep" and one.camera == "top":
            takes[f"{one.id}.2"] = noise(6.3 + number / 100, number)
    return Day(tuple(steps), tuple(recordings), takes)


def build(job: JobFolder, made: Day) -> None:
    """Write the job folder; the footage by two processes."""
    job.write("job.md", _plan(made))
    job.write("bench.jsonl", _log(made))
    for beat, sound in made.takes.items():
        job.write(f"takes/{beat}.wav", as_wav(sound))
    footage = job.write("footage/x", b"").parent
    (footage / "x").unlink()
    largest_first = sorted(made.recordings, key=lambda one: -one.frames)
    with ProcessPoolExecutor(2, mp_context=get_context("spawn")) as pool:
        for done in [pool.submit(film_it, footage, one) for one in largest_first]:
            done.result()


def film_it(footage: Path, one: Recording) -> None:
    """The recording's file or files."""
    camera = CAMERAS[one.camera]
    clock = FIRST + timedelta(seconds=float(one.begin - (BEHIND if one.camera == "macro" else 0)))
    tags = {"creation_time": clock.strftime("%Y-%m-%dT%H:%M:%S.000000Z")}
    whole = footage / one.name
    kit.encode(
        whole,
        _pictures(one, camera),
        camera.rate,
        sound=_sound(one, camera),
        timecode=one.label,
        key_every=15,
        tags=tags,
    )
    if one.files:
        edges = [Fraction(first) / camera.rate for _, first in one.files[1:]]
        stamps = [clock + timedelta(seconds=floor(edge)) for edge in (Fraction(0), *edges)]
        told = [{"creation_time": stamp.strftime("%Y-%m-%dT%H:%M:%S.000000Z")} for stamp in stamps]
        split(whole, [footage / name for name, _ in one.files], edges, told)
        whole.unlink()


def _pictures(one: Recording, camera: Camera) -> Iterator[NDArray[np.uint8]]:
    return (coded(one.zero + n, camera.width, camera.height) for n in range(one.frames))


def coded(number: int, width: int, height: int) -> NDArray[np.uint8]:
    """A grey picture with its number in the middle as a QR code, small enough for a badge beside it."""
    code = segno.make(f"F{number:06d}", error="m", micro=False, version=1, mask=3, boost_error=False)
    rows = np.array([list(row) for row in code.matrix], np.uint8)
    scale = height * 5 // 6 // (len(rows) + 8)
    dark = np.kron(np.pad(rows, 4), np.ones((scale, scale), np.uint8))
    picture = np.full((height, width), 128, np.uint8)
    top, left = (height - len(dark)) // 2, (width - len(dark)) // 2
    picture[top : top + len(dark), left : left + len(dark)] = 255 - 255 * dark
    return picture


def _sound(one: Recording, camera: Camera) -> NDArray[np.float32]:
    """The camera's beeps over a little noise."""
    sound = np.random.default_rng(one.zero).normal(0, 0.002, int(one.frames / one.rate * kit.SAMPLE_RATE))
    tone = 0.5 * np.sin(
        2 * np.pi * camera.pitch * np.arange(int(BEEP_LASTS * kit.SAMPLE_RATE)) / kit.SAMPLE_RATE
    )
    for at in beeps(one.camera):
        first = round((at - one.begin) * kit.SAMPLE_RATE)
        if 0 <= first < len(sound) - len(tone):
            sound[first : first + len(tone)] += tone
    return sound.astype(np.float32)


def _plan(made: Day) -> str:
    beat = "> I take the next screw out and lay it on the sheet, and then I look at what lies under it once more.\n"
    steps = "".join(
        f"## Part {one.id} {{#{one.id}}}\n- camera: {one.camera}\n{one.facts}" + "\n".join([beat] * one.beats)
        for one in made.steps
    )
    return (
        "---\ntitle: Half an hour\nframe rate: 29.97\nsize: 320x180\nutc offset: +00:00\n"
        "limits: {lower third: 0 s, chapters: 1}\ncameras:\n  top: {view: overhead}\n  side: {view: side}\n"
        f"  macro: {{view: macro, clock: 3.2 s behind}}\n---\n# All\n{steps}"
    )


def _log(made: Day) -> str:
    lines = []
    for step in made.steps:
        for kind, moment in step.marks:
            when = (FIRST + timedelta(microseconds=round(moment * 10**6))).isoformat(timespec="milliseconds")
            if step.by_label:
                recording = made.running("side", moment)
                when = f"{recording.name} @ {label_of(recording, moment)}"
            lines.append(json.dumps({"time": when, "kind": kind, "step": step.id}))
    return "\n".join(lines) + "\n"


def label_of(one: Recording, bench: Fraction) -> str:
    """The drop-frame label of the frame that begins then, by the general library `timecode`."""
    frame = (bench - one.begin) * one.rate
    assert frame.denominator == 1
    first = Timecode("29.97", one.label, force_non_drop_frame=False)
    return str(first + int(frame)) if frame else str(first)
