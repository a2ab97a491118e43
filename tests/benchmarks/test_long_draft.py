"""A draft of half an hour from three cameras: every frame read back, every beep heard where its picture is.

The frames carry numbers that segno writes and zxing-cpp reads. Where a frame belongs is counted in fractions from the
log's times and the cameras' rates (`half_hour.py`), labels by the general library `timecode`.
"""

from __future__ import annotations

import json
import os
import time
from collections import Counter
from collections.abc import Callable, Iterable, Iterator
from concurrent.futures import ProcessPoolExecutor
from dataclasses import dataclass
from fractions import Fraction
from itertools import pairwise
from math import floor
from multiprocessing import get_context
from pathlib import Path
from statistics import median

import av
import numpy as np
import pytest
from numpy.typing import NDArray

from tests.benchmarks import half_hour
from tests.benchmarks.half_hour import BEEP_LASTS, CAMERAS, OUT, Day, Step
from tests.conftest import JobFolder, Run
from tests.media import kit

pytestmark = pytest.mark.benchmark

FRAME_MS = float(1000 / OUT)


@dataclass(frozen=True)
class Shown:
    """A segment of plan.json that shows footage: `bench` is where it begins on the bench's clock, `began` where its
    recording does, whose first frame has the number `zero`.
    """

    step: Step
    camera: str
    at: int
    moving: int
    hold: int
    speed: Fraction
    first: Fraction
    """Of the clip's recording, in frames since its number zero: the exact place where it begins."""
    zero: int
    bench: Fraction
    began: Fraction


def test_no_frame_and_no_sound_of_half_an_hour_is_off_by_more_than_a_frame(
    job: JobFolder, run: Callable[..., Run]
) -> None:
    made = half_hour.day()
    began = time.monotonic()
    half_hour.build(job, made)
    filmed = time.monotonic()
    drafted = run("draft", job.root)
    assert drafted.status == 0, drafted.text
    cut = time.monotonic()
    draft = job.root / "out" / "draft.mp4"
    plan = json.loads((job.root / "out" / "plan.json").read_text())
    seen = numbers(draft)
    shown = list(_shown(plan, made))
    minutes = float(len(seen) / OUT / 60)
    print(
        f"\n{minutes:.1f} min; filmed in {filmed - began:.0f} s, cut in {cut - filmed:.0f} s, "
        f"read in {time.monotonic() - cut:.0f} s"
    )
    assert minutes >= 30
    assert len(seen) == plan["frames"]

    _judge_frames(shown, seen)
    _judge_slates(plan, seen)
    for step in made.steps:
        parts = [one for one in shown if one.step is step]
        if step.kind in {"keep", "hold", "must"}:
            _judge_keep(step, [one for one in parts if _is_kept(one)], seen, made)
        if step.kind == "angles":
            _judge_angles(parts)
        if step.kind == "wait":
            off = [one for one in parts if step.at("wait") + 1 < one.bench < step.marks[2][1] - 1]
            assert not off, "a wait is seen"
        if step.kind == "curing":
            assert any(one.speed >= 8 for one in parts)
    holds = [one.hold for one in shown if one.step.kind == "hold"]
    print(f"held for {holds} frames where words outran the picture")
    assert all(holds)
    joints = [(a, b) for a, b in pairwise(shown) if a.step is b.step and _goes_on(a, b)]
    assert len(joints) == 2, "the two joints of the overhead camera's files lie in what is kept"

    _judge_sound(shown, seen, kit.mono_sound(draft))


def _shown(plan: dict, made: Day) -> Iterable[Shown]:
    by_id = {step.id: step for step in made.steps}
    for segment in plan["segments"]:
        if segment["clip"] is None:
            continue
        recording, joined = made.of(segment["clip"])
        start = Fraction(segment["start_seconds"]) + joined / recording.rate
        yield Shown(
            by_id[segment["step"]],
            recording.camera,
            segment["start_frame"],
            segment["frames"] - segment["hold_frames"],
            segment["hold_frames"],
            Fraction(segment["speed"]),
            start * recording.rate,
            recording.zero,
            recording.begin + start,
            recording.begin,
        )


def _judge_frames(shown: Iterable[Shown], seen: list[int | None]) -> None:
    """Each moving frame is the one that plan.json's segment has on screen then, each held one the last that moved."""
    off: Counter[int] = Counter()
    cameras: Counter[str] = Counter()
    unread = held = exact = 0
    for one in shown:
        rate = CAMERAS[one.camera].rate
        ahead = min(one.speed / OUT, 1 / rate) / 4  # as DEVELOPERS.md defines which frame is shown
        for n in range(one.moving):
            number = seen[one.at + n]
            if number is None:
                unread += 1
                continue
            assert number >= CAMERAS[one.camera].base, f"{one} shows another camera's frame {number}"
            place = n / OUT * one.speed
            off[number - one.zero - floor(one.first + place * rate)] += 1
            exact += number - one.zero == floor(one.first + (place + ahead) * rate)
            cameras[one.camera] += 1
        last = seen[one.at + one.moving - 1]
        for n in range(one.moving, one.moving + one.hold):
            assert seen[one.at + n] == last, f"{one} does not hold its last picture"
            held += 1
    print(
        f"frames of {dict(cameras)}, {held} held; {exact} are exactly the one defined, {unread} unread; "
        f"beside the frame on screen when they begin: {dict(off)}"
    )
    assert exact == sum(cameras.values())
    assert unread <= 0.001 * sum(cameras.values())
    assert set(cameras) == set(CAMERAS)
    # A quarter of a frame is looked ahead, so it may be the one that begins next, never the one before.
    assert set(off) <= {0, 1}


def _judge_slates(plan: dict, seen: list[int | None]) -> None:
    for segment in plan["segments"]:
        if segment["clip"] is None:
            at = segment["start_frame"]
            assert not any(seen[at : at + segment["frames"]])


def _is_kept(one: Shown) -> bool:
    kept = one.step.at("keep")
    until = next(moment for _, moment in one.step.marks if moment > kept)
    return one.speed == 1 and kept - Fraction(1, 20) <= one.bench < until


def _judge_keep(step: Step, parts: list[Shown], seen: list[int | None], made: Day) -> None:
    """It begins with the logged frame, goes on without losing one, over joints too, and ends before the logged end."""
    assert parts, step
    camera = "macro" if step.kind == "must" else step.camera
    assert {one.camera for one in parts} == {camera}
    kept = step.at("keep")
    until = next(moment for _, moment in step.marks if moment > kept)
    recording = made.running(camera, kept)
    first = recording.frame_at(kept)
    assert seen[parts[0].at] == recording.zero + first, (
        f"{step} begins with another frame than the logged one"
    )
    place = parts[0].at
    for one in parts:
        assert one.at == place, "a kept stretch is interrupted"
        for n in range(one.at, one.at + one.moving):
            number = seen[n]
            if number is not None:
                due = first + (n - parts[0].at) / OUT * recording.rate
                assert 0 <= number - recording.zero - floor(due) <= 1, (step, n)
        place += one.moving
    played = (place - parts[0].at) / OUT
    assert abs(played - (until - kept)) <= 1 / OUT + 1 / recording.rate


def _judge_angles(parts: list[Shown]) -> None:
    """The picture changes between the two cameras, and no moment of the bench is lost or seen twice."""
    assert {one.camera for one in parts} == {"top", "side"}
    for one, two in pairwise(parts):
        if one.speed == two.speed and one.camera != two.camera:
            end = one.bench + one.moving / OUT * one.speed
            assert abs(two.bench - end) <= Fraction(1, 25)


def _goes_on(one: Shown, two: Shown) -> bool:
    rate = CAMERAS[one.camera].rate
    behind = two.bench - one.bench - one.moving / OUT * one.speed
    return one.camera == two.camera and one.speed == two.speed == 1 and abs(behind) < 1 / rate


@dataclass(frozen=True)
class Beep:
    """One that should be heard: `at` in seconds of the draft, by plan.json; `bench` when it was recorded."""

    camera: str
    at: float
    bench: Fraction
    shown: Shown


def _judge_sound(shown: list[Shown], seen: list[int | None], sound: NDArray[np.float32]) -> None:
    """Where work plays at normal speed, or up to twice as fast, its microphone's beeps are heard with the frames that
    were filmed meanwhile, and no other camera's are.
    """
    wanted: list[Beep] = []
    never: list[Beep] = []
    for one, bench in zip(shown, _filmed_at(shown), strict=True):
        heard = "top" if one.step.kind == "angles" else one.camera
        for camera in CAMERAS if one.speed <= 2 else ():
            for beep in half_hour.beeps(camera):
                into = (beep - bench) / one.speed
                if Fraction(1, 50) < into < one.moving / OUT - Fraction(1, 10):
                    (wanted if camera == heard else never).append(
                        Beep(camera, float(one.at / OUT + into), beep, one)
                    )
    late = [(beep, _late(sound, beep)) for beep in wanted]
    missing = [beep for beep, ms in late if ms is None]
    wrong = [beep for beep in never if _late(sound, beep) is not None]
    print(
        f"{len(late) - len(missing)} of {len(late)} beeps heard, {len(wrong)} of {len(never)} that must not be"
    )
    assert not missing
    assert not wrong
    end = len(sound) / kit.SAMPLE_RATE
    for camera in CAMERAS:
        every = [(b.at, ms) for b, ms in late if b.camera == camera and b.shown.speed == 1 and ms is not None]
        early = [ms for at, ms in every if at < 600]
        last = [ms for at, ms in every if at > end - 600]
        low, high = min(ms for _, ms in every), max(ms for _, ms in every)
        print(
            f"{camera}: {len(every)} beeps {low:+.2f} to {high:+.2f} ms; the first ten minutes "
            f"{median(early):+.2f} ({len(early)}), the last {median(last):+.2f} ms ({len(last)})"
        )
        assert max(abs(low), abs(high)) <= 10
        assert abs(median(last) - median(early)) < 1
    faster = [ms for beep, ms in late if beep.shown.speed != 1 and ms is not None]
    print(f"sped up: {len(faster)} beeps {min(faster):+.1f} to {max(faster):+.1f} ms, {median(faster):+.1f}")
    beside = [_beside(beep, beep.at + ms / 1000, seen) for beep, ms in late if ms is not None]
    print(
        f"{beside.count(0)} of {len(beside)} while the frame filmed then is seen, the others up to "
        f"{max(beside):.1f} ms beside it"
    )
    assert max(beside) <= FRAME_MS


def _filmed_at(shown: list[Shown]) -> Iterator[Fraction]:
    """When on the bench each begins. Another angle on a step begins where the one before left off, whose sound goes
    on; its picture lies a part of a frame beside that.
    """
    before: Shown | None = None
    bench = Fraction(0)
    for one in shown:
        goes_on = before is not None and before.step is one.step and before.camera != one.camera
        if goes_on and before is not None and one.step.kind == "angles" and before.speed == one.speed:
            bench += before.moving / OUT * before.speed
        elif before is None or before.step is not one.step or one.step.kind != "angles":
            bench = one.bench
        yield bench
        before = one


def _beside(beep: Beep, heard: float, seen: list[int | None]) -> float:
    """By how many milliseconds of the draft a beep is heard before or after the frame that was filmed then is seen."""
    one = beep.shown
    due = one.zero + floor((beep.bench - one.began) * CAMERAS[one.camera].rate)
    last = max(n for n in range(one.at, one.at + one.moving) if n == one.at or (seen[n] or 0) <= due)
    first = min(n for n in range(one.at, last + 1) if seen[n] == seen[last])
    return 1000 * max(float(first / OUT) - heard, heard - float((last + 1) / OUT), 0.0)


def _late(sound: NDArray[np.float32], beep: Beep) -> float | None:
    """How many milliseconds after its place a beep begins; None if none is near.

    A beep begins where as long a window as it, shorter where it is sped up, holds most of its pitch.
    """
    rate, around, at = kit.SAMPLE_RATE, kit.SAMPLE_RATE // 12, beep.at
    window, first = int(BEEP_LASTS / beep.shown.speed * rate), round(at * rate) - around
    part = sound[max(0, first) : first + 2 * around + window]
    turning = np.exp(-2j * np.pi * CAMERAS[beep.camera].pitch * np.arange(len(part)) / rate)
    sums = np.concatenate([[0], np.cumsum(part * turning)])
    level = np.abs(sums[window:] - sums[:-window]) * 2 / window
    if level.max() < 0.03:
        return None
    return (int(np.argmax(level)) - (round(at * rate) - max(0, first))) / rate * 1000


def numbers(path: Path) -> list[int | None]:
    """The number on every frame of a video, read by as many processes as there are cores."""
    many = os.cpu_count() or 1
    with ProcessPoolExecutor(many, mp_context=get_context("spawn")) as pool:
        shares = list(pool.map(_share, [path] * many, range(many), [many] * many))
    whole: dict[int, int | None] = {}
    for share in shares:
        whole |= share
    return [whole[n] for n in range(len(whole))]


def _share(path: Path, mine: int, of: int) -> dict[int, int | None]:
    with av.open(str(path)) as container:
        return {
            n: kit.number_in(frame.reformat(format="gray").to_ndarray())
            for n, frame in enumerate(container.decode(video=0))
            if n // 500 % of == mine
        }
