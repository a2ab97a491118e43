"""How planning grows with the length of a job: time and memory at 50, 500 and 5,000 steps, and the exponent."""

from __future__ import annotations

import math
import statistics
import time
import tracemalloc

import pytest

from episodekit.formats.bench_jsonl import read_bench_jsonl
from episodekit.job.reader import read_plan
from episodekit.pipeline import compile_episode
from tests.test_bench_log import clip

SIZES = (50, 500, 5000)


def job(count: int) -> tuple[bytes, bytes]:
    """A plan of so many steps, each with words, a must-show and 20 s of logged work."""
    steps = "".join(
        f"## Step {n} {{#s{n}}}\n- bench: 5 min\n- must show: it | macro | 2 s\n"
        f"> Some words are said about step {n}, and then a few more, so that it has something to fit.\n\n"
        for n in range(count)
    )
    head = "---\ntitle: A\nruntime: 0:10-99:00:00\ncameras: {top: {view: a}, macro: {view: b}}\n---\n# A\n"
    marks = "".join(
        f'{{"time": "top-1.mp4 @ {n * 20 // 60}:{n * 20 % 60:02d}", "kind": "start", "step": "s{n}"}}\n'
        f'{{"time": "top-1.mp4 @ {(n * 20 + 19) // 60}:{(n * 20 + 19) % 60:02d}", "kind": "done"}}\n'
        for n in range(min(count, 2900))
    )
    return (head + steps).encode(), marks.encode()


def once(count: int) -> float:
    text, log = job(count)
    began = time.perf_counter()
    plan, _ = read_plan(text)
    assert plan is not None
    marks, _ = read_bench_jsonl(log)
    made = compile_episode(plan, marks, [clip("footage/top-1.mp4", 60_000)])
    took = time.perf_counter() - began
    assert len(made.steps) == count
    return took


@pytest.mark.benchmark
def test_planning_grows_linearly() -> None:
    times = {
        count: statistics.median(once(count) for _ in range(3 if count < 5000 else 1)) for count in SIZES
    }
    memory = {}
    for count in SIZES:
        tracemalloc.start()
        once(count)
        memory[count] = tracemalloc.get_traced_memory()[1]
        tracemalloc.stop()
    for count in SIZES:
        print(f"\n{count} steps: {times[count]:.2f} s, {memory[count] / 1e6:.1f} MB at most", end="")
    exponent = math.log(times[5000] / times[500]) / math.log(10)
    growth = math.log(memory[5000] / memory[500]) / math.log(10)
    print(f"\nexponent from 500 to 5,000 steps: time {exponent:.2f}, memory {growth:.2f}")
    assert exponent < 1.25
    assert growth < 1.25
