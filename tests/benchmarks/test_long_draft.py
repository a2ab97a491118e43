"""A draft of half an hour from three cameras: every frame read back, every beep heard where its picture is.

The frames carry numbers that segno writes and zxing-cpp reads; where a frame belongs is counted here in fractions,
from the log's times and the cameras' rates alone.
"""

from __future__ import annotations

import json
from collections import Counter
from collections.abc import Callable, Iterator
from datetime import UTC, datetime, timedelta
from fractions import Fraction
from math import floor
from pathlib import Path
from statistics import median

import numpy as np
import pytest
from numpy.typing import NDArray

from tests.conftest import JobFolder, Run
from tests.media import kit

pytestmark = pytest.mark.benchmark

OUT = Fraction(30)
FIRST = datetime(2026, 11, 7, 15, 0, 0, tzinfo=UTC)
STEPS, EACH, KEPT = 20, 150, 94
"""Steps follow each other without a break, 150 s of bench time each. Of two in three 94 s are kept at normal speed; the
third is talked over, work at any speed from two cameras in turns."""
RATES = {"top": Fraction(25), "side": Fraction(30000, 1001), "macro": Fraction(60000, 1001)}
BASE = {"top": 0, "side": 200_000, "macro": 500_000}
"""Added to a camera's numbers, so that a frame tells its camera."""
BEEPS = 2
"""A beep begins at every second second of bench time, for every camera."""
SPLIT = 900
"""The overhead camera begins a new file every 15 minutes."""


def _sound(begin: int, seconds: Fraction) -> NDArray[np.float32]:
    """Beeps of 60 ms over a little noise, on the bench's clock."""
    at = np.arange(int(seconds * kit.SAMPLE_RATE)) / kit.SAMPLE_RATE + begin
    noise = np.random.default_rng(begin).normal(0, 0.002, len(at))
    return (0.5 * np.sin(2 * np.pi * 1000 * at) * (at % BEEPS < 0.06) + noise).astype(np.float32)


def _film(
    folder: Path, camera: str, number: int, begin: int, seconds: int, timecode: str | None = None
) -> str:
    """One file from `begin` seconds of bench time on; its numbers count from the camera's first frame of the day."""
    rate = RATES[camera]
    count = int(seconds * rate)
    zero = BASE[camera] + floor(begin * rate)
    stamp = (FIRST + timedelta(seconds=begin)).strftime("%Y-%m-%dT%H:%M:%S.000000Z")
    name = f"{camera}-{number}.{'mov' if timecode else 'mp4'}"

    def frames() -> Iterator[NDArray[np.uint8]]:
        return (kit.coded_frame(zero + n) for n in range(count))

    kit.encode(
        folder / name,
        frames(),
        rate,
        sound=_sound(begin, count / rate),
        timecode=timecode,
        tags={"creation_time": stamp},
    )
    return name


def _camera_of(step: int) -> str:
    return ("top", "macro", "top, side")[step % 3]


def _two_angles(step: int) -> bool:
    return "," in _camera_of(step)


def _plan() -> str:
    cameras = "  top: {view: overhead}\n  macro: {view: macro}\n  side: {view: side}\n"
    beat = "> I take the next screw out and lay it on the sheet, and then I look at what lies under it once more.\n"
    steps = "".join(
        f"## Part {step} {{#part-{step}}}\n- camera: {_camera_of(step)}\n{beat}"
        + f"\n{beat}" * (14 if _two_angles(step) else 2)
        for step in range(STEPS)
    )
    return (
        "---\ntitle: Half an hour\nframe rate: 30\nsize: 320x180\nutc offset: +00:00\n"
        f"limits: {{lower third: 0 s, chapters: 1}}\ncameras:\n{cameras}---\n# All\n{steps}"
    )


def _log() -> str:
    """Marks at odd fractions of a second, so that they fall anywhere in a frame."""
    lines = []
    for step in range(STEPS):
        begin = step * EACH + 1.037 + 0.0413 * step
        for late, kind in ((0.0, "start"), (40.0, "keep"), (40.0 + KEPT, "done")):
            if kind == "keep" and _two_angles(step):
                continue
            when = (FIRST + timedelta(seconds=begin + late)).isoformat(timespec="milliseconds")
            lines.append(json.dumps({"time": when, "kind": kind, "step": f"part-{step}"}))
    return "\n".join(lines) + "\n"


def test_no_frame_and_no_sound_of_half_an_hour_is_off_by_more_than_a_frame(
    job: JobFolder, run: Callable[..., Run]
) -> None:
    footage = job.root / "footage"
    footage.mkdir(exist_ok=True)
    begins: dict[str, int] = {}
    for number, begin in enumerate(range(0, STEPS * EACH + 2, SPLIT), 1):
        begins[_film(footage, "top", number, begin, min(SPLIT, STEPS * EACH + 2 - begin))] = begin
    for step in range(STEPS):
        for camera in ("macro", "side"):
            if camera in _camera_of(step):
                label = f"{10 + step:02d}:00:00;00" if camera == "side" else None
                begins[_film(footage, camera, step, step * EACH, EACH, label)] = step * EACH
    job.write("job.md", _plan())
    job.write("bench.jsonl", _log())
    checked = run("check", job.root)
    print(Counter(line.split()[0] for line in checked.text.splitlines() if "-" in line.split(" ")[0]))
    made = run("draft", job.root)
    assert made.status == 0, made.text
    plan = json.loads((job.root / "out" / "plan.json").read_text())
    assert plan["frames"] >= 30 * 60 * OUT

    seen = kit.numbers_in(job.root / "out" / "draft.mp4")
    assert len(seen) == plan["frames"]
    off: Counter[int] = Counter()
    unread = 0
    cameras: Counter[str] = Counter()
    wanted: list[
        tuple[int, Fraction]
    ] = []  # a beep's frame of the draft as a fraction, where it must be heard
    for segment in plan["segments"]:
        if segment["clip"] is None:
            continue
        name = segment["clip"].removeprefix("footage/")
        camera = name.partition("-")[0]
        rate, zero = RATES[camera], BASE[camera] + floor(begins[name] * RATES[camera])
        start, speed = Fraction(segment["start_seconds"]), Fraction(segment["speed"])
        for n in range(segment["frames"] - segment["hold_frames"]):
            number = seen[segment["start_frame"] + n]
            if number is None:
                unread += 1
                continue
            assert BASE[camera] <= number, f"{name} shows another camera's frame {number}"
            due = floor((start + n / OUT * speed) * rate)
            off[number - zero - due] += 1
            cameras[camera] += 1
        if speed == 1:
            length = (segment["frames"] - segment["hold_frames"]) / OUT
            bench = begins[name] + start
            first = -(-bench // BEEPS) * BEEPS
            while first < bench + length - Fraction(1, 10):
                if first - bench > Fraction(1, 20):
                    wanted.append((segment["start_frame"], segment["start_frame"] / OUT + first - bench))
                first += BEEPS
    minutes = float(len(seen) / OUT / 60)
    print(f"\n{minutes:.1f} min, {dict(cameras)} frames; off by source frames: {dict(off)}; {unread} unread")
    assert unread <= 0.001 * len(seen)
    assert set(off) <= {0, 1}, "a quarter of a frame is looked ahead, so it may be the next, never one before"
    assert set(cameras) == set(RATES)

    into = {_logged(step) for step in range(STEPS) if not _two_angles(step)}
    begun = {
        begins[s["clip"].removeprefix("footage/")] + Fraction(s["start_seconds"])
        for s in plan["segments"]
        if s["clip"] and s["speed"] == "1"
    }
    assert all(any(abs(one - at) < Fraction(1, 24) for one in begun) for at in into), (
        "a kept stretch begins elsewhere"
    )

    sound = kit.mono_sound(job.root / "out" / "draft.mp4")
    late = [(at, _late(sound, at)) for _, at in wanted]
    heard = [(at, ms) for at, ms in late if ms is not None]
    assert len(heard) >= 0.98 * len(wanted)
    early_ones = [ms for at, ms in heard if at < 300]
    late_ones = [ms for at, ms in heard if at > len(seen) / OUT - 300]
    every = [ms for _, ms in heard]
    print(
        f"{len(heard)} of {len(wanted)} beeps heard, {min(every):+.1f} to {max(every):+.1f} ms; first five minutes "
        f"{median(early_ones):+.1f}, last five {median(late_ones):+.1f} ms"
    )
    assert max(map(abs, every)) <= 1000 / OUT
    assert abs(median(late_ones) - median(early_ones)) < 3


def _logged(step: int) -> Fraction:
    """When the kept stretch of a step begins, in seconds of bench time."""
    return Fraction(round((step * EACH + 1.037 + 0.0413 * step + 40.0) * 1000), 1000)


def _late(sound: NDArray[np.float32], at: Fraction) -> float | None:
    """How many milliseconds after its place a beep begins; None if none is near."""
    around = kit.SAMPLE_RATE // 10
    middle = int(at * kit.SAMPLE_RATE)
    part = sound[max(0, middle - around) : middle + around]
    level = np.convolve(np.abs(part), np.ones(48) / 48, "same")
    if level.max() < 0.02:
        return None
    onset = int(np.argmax(level > 0.5 * level.max()))
    return (onset - min(middle, around)) / kit.SAMPLE_RATE * 1000
