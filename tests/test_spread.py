"""The likely run time holds nine times in ten, and is shown where a creator looks for it.

A narrator is imagined who is off as the range says: half of the error his own for all beats, the rest by chance.
The episode is compiled again with what he would have said, so the range is held against the whole road.
"""

from __future__ import annotations

import json
import random
from collections.abc import Callable

import pytest

from episodekit.base.time import Ms
from episodekit.formats.bench_jsonl import read_bench_jsonl
from episodekit.job.reader import read_plan
from episodekit.outside.dictionary import load_dictionary
from episodekit.pipeline import compile_episode
from episodekit.timeline.spread import runtime_range, spoken_range
from tests.conftest import LAMP, ROOT, JobFolder, Run
from tests.test_bench_log import clip, line

NINE_IN_TEN = 1.645  # standard deviations to either side, of a normal distribution
SAMPLE = (ROOT / "sample_jobs" / "lathe-controller" / "job.md").read_text(encoding="utf-8")
SHOWN = LAMP.replace("macro | 3 s", "macro | 40 s")


@pytest.mark.parametrize(
    "text",
    [LAMP, SHOWN, SAMPLE, LAMP.replace("0:45-1:30", "1:10-2:00"), LAMP.replace("0:45-1:30", "5:00-6:00")],
    ids=["lamp", "long view", "lathe", "lengthened", "too short"],
)
def test_the_likely_run_time_holds_nine_times_in_ten(text: str) -> None:
    plan, _ = read_plan(text.encode())
    assert plan is not None
    dictionary = load_dictionary()
    made = compile_episode(plan, dictionary=dictionary)
    low, high = runtime_range(made.steps, plan, made.runtime)
    assert low <= made.runtime <= high
    beats = [beat for laid in made.steps for beat in laid.time.beats]
    chance = random.Random(11)
    inside = []
    for _ in range(200):
        own = chance.gauss(0, 0.5)
        said = {}
        for beat in beats:
            sigma = (beat.high - beat.low) / 2 / NINE_IN_TEN
            said[beat.id] = Ms(round(max(1, beat.length + sigma * (own + chance.gauss(0, 0.866)))))
        inside.append(low <= compile_episode(plan, takes=said, dictionary=dictionary).runtime <= high)
    assert sum(inside) / len(inside) >= 0.84, "binomial: 0.9 of 200 tries is 0.84 or more 997 times in 1,000"


@pytest.mark.parametrize("filmed", [False, True], ids=["planned", "filmed"])
@pytest.mark.parametrize("target", ["0:20-0:40", "0:45-1:30", "1:00-1:05", "1:10-2:00", "2:30-3:00"])
def test_range_ends_where_words_as_long_as_that_would_end(target: str, filmed: bool) -> None:
    """Held against the whole road, with targets that are met, met by lengthening steps, and not met."""
    log = line(0, "start", "screws") + line(60, "done") + line(70, "start", "open") + line(90, "done")
    log += line(100, "start", "board") + line(110, "keep") + line(114, "start", "board") + line(130, "done")
    plan, _ = read_plan(LAMP.replace("0:45-1:30", target).encode())
    assert plan is not None
    marks = read_bench_jsonl(log.encode())[0] if filmed else ()
    clips = [clip("footage/top-1.mp4"), clip("footage/macro-1.mp4")] if filmed else ()
    made = compile_episode(plan, marks, clips)
    beats = [beat for laid in made.steps for beat in laid.time.beats]
    words = spoken_range(made.steps)
    share = (words.high - words.low) / sum(beat.high - beat.low for beat in beats)
    stated = runtime_range(made.steps, plan, made.runtime)
    for way, end in zip((-1, 1), stated, strict=True):
        said = {beat.id: Ms(round(beat.length + way * share * (beat.high - beat.low) / 2)) for beat in beats}
        truth = compile_episode(plan, marks, clips, said).runtime
        # A beat of a step with more than one may lean on the picture that is left over another.
        assert abs(end - truth) <= 500, (way, end, truth, made.runtime)


def test_steps_without_words_are_sure() -> None:
    silent = LAMP + "\n# The lamp at night {#night}\n- camera: top\n- must show: the lamp | top | 9 s\n"
    ranges = []
    for text in (LAMP, silent):
        plan, _ = read_plan(text.encode())
        assert plan is not None
        made = compile_episode(plan)
        low, high = runtime_range(made.steps, plan, made.runtime)
        ranges.append((made.runtime - low, high - made.runtime))
    assert ranges[0] == ranges[1]


def test_recorded_beats_leave_nothing_open() -> None:
    plan, _ = read_plan(LAMP.encode())
    assert plan is not None
    planned = compile_episode(plan)
    takes = {beat.id: beat.length for laid in planned.steps for beat in laid.time.beats}
    half = dict(list(takes.items())[::2])
    widths = []
    for known in ({}, half, takes):
        made = compile_episode(plan, takes=known)
        low, high = runtime_range(made.steps, plan, made.runtime)
        widths.append(high - low)
    assert widths[0] > widths[1] > widths[2] == 0


def test_the_range_is_told_on_the_pages_and_in_the_terminal(job: JobFolder, run: Callable[..., Run]) -> None:
    told = run("plan", job.root).out
    plan = json.loads((job.root / "out" / "plan.json").read_text())
    ends = [
        f"{ms // 60_000}:{ms // 1000 % 60:02}"
        for ms in (plan["runtime_low_ms"], plan["runtime_high_ms"] + 999)
    ]
    likely = f"likely {ends[0]} to {ends[1]}"
    assert likely in told
    assert likely in (job.root / "out" / "shot-list.html").read_text()
    script = (job.root / "out" / "narration.html").read_text().replace("\u00a0", " ")
    assert likely in script
    for step in plan["steps"]:
        for beat in step["beats"]:
            assert beat["low_ms"] < beat["length_ms"] < beat["high_ms"]
            assert f"about {round(beat['length_ms'] / 1000)} s" in script
            assert f"{beat['low_ms'] // 1000}–{-(-beat['high_ms'] // 1000)} s" in script
