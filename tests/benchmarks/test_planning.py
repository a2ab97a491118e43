"""How planning grows with the length of a job: time and memory at 50, 500 and 5,000 steps, and the exponent; and with
that of a read."""

from __future__ import annotations

import math
import statistics
import time
import tracemalloc

import pytest

from episodekit.formats.bench_jsonl import read_bench_jsonl
from episodekit.job.reader import read_plan
from episodekit.pack.description import check_description, describe
from episodekit.pipeline import compile_episode
from episodekit.slots.contract import check_words
from episodekit.slots.phrases import says_free, says_paid
from tests.test_bench_log import clip
from tests.test_read_words import DEAL

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


@pytest.mark.benchmark
@pytest.mark.parametrize(
    "words", ["not sponsor ", "free of ", "nobody gave me ", "link ", "i paid for this ", "code "]
)
def test_the_words_of_a_read_are_judged_in_a_time_that_grows_with_them(words: str) -> None:
    """A judgement that compared each word with all before it would take 16 times as long for four times as many."""
    long, short = (min(judged(words, count) for _ in range(3)) for count in (200_000, 50_000))
    print(f"\n200 kB of '{words}': {long:.2f} s of CPU, {long / short:.1f} times as long as 50 kB")
    assert long < 8 * short


def judged(words: str, count: int) -> float:
    """CPU seconds to judge a read in which one beat has so many characters, and another many more words."""
    text = DEAL.replace("It takes", f"{words * (count // len(words))} It takes").replace(
        "That bet. This", words * (count // 22)
    )
    plan, _ = read_plan(text.encode())
    assert plan is not None
    began = time.process_time()
    says_paid(plan.read_texts["ledgerleaf"].beats[1].text)
    says_free(plan.read_texts["ledgerleaf"].beats[1].text)
    check_words(plan)
    check_description(plan, describe(plan, ()))
    return time.process_time() - began
