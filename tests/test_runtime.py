"""The run time: kept, or refused with its reasons; what to trim; how it drifts; and the pace along it."""

from __future__ import annotations

import json
import re
import wave
from collections.abc import Callable
from pathlib import Path

import numpy as np
import pytest

from episodekit.base.time import Ms
from episodekit.bench.model import SpanKind
from episodekit.fit.model import Plays, Slate
from episodekit.formats.bench_jsonl import read_bench_jsonl
from episodekit.job.reader import read_plan
from episodekit.outside.dictionary import load_dictionary
from episodekit.pipeline import compile_episode
from episodekit.timeline.episode import Episode
from tests.conftest import LAMP, JobFolder, Run
from tests.test_bench_log import clip, line
from tests.test_fit import MACRO, TOP, codes, episode

SCENARIOS = sorted((Path(__file__).parent / "scenarios").glob("*/job.md"))
# The targets of the three invented jobs, in minutes.
TARGETS = {"drumlin-speaker": 16, "mossgate-handheld": 18, "tarnvale-lathe": 22}


def scenario(path: Path, old: str = "", new: str = "") -> Episode:
    text = path.read_text(encoding="utf-8")
    assert old in text
    plan, findings = read_plan(text.replace(old, new, 1).encode())
    assert plan is not None
    assert not [f for f in findings if f.severity == "error"]
    return compile_episode(plan, dictionary=load_dictionary())


@pytest.mark.parametrize("path", SCENARIOS, ids=lambda p: p.parent.name)
def test_scenario_meets_its_target_before_anything_is_filmed(path: Path) -> None:
    made = scenario(path)
    assert made.plan.front.runtime is not None
    assert made.runtime in made.plan.front.runtime, f"{made.runtime / 60_000:.2f} min"
    assert abs(made.runtime / 60_000 - TARGETS[path.parent.name]) < 1
    assert "FIT-RUNTIME" not in codes(made)
    assert made.trims == ()


def test_there_are_three_scenarios() -> None:
    assert {path.parent.name for path in SCENARIOS} == set(TARGETS)


@pytest.mark.parametrize("path", SCENARIOS, ids=lambda p: p.parent.name)
def test_target_that_cannot_be_met_is_refused_with_its_reasons(path: Path) -> None:
    target = next(line for line in path.read_text().splitlines() if line.startswith("runtime:"))
    made = scenario(path, target, "runtime: 0:50-1:00")
    (found,) = [f for f in made.findings if f.code == "FIT-RUNTIME"]
    assert "its target ends at 1:00" in found.message
    assert "of words" in found.message
    assert "of reads" in found.message
    assert "of must-shows" in found.message
    assert found.remedy.startswith("Trim about")


def test_trims_bring_the_episode_to_its_target() -> None:
    made = episode(text=LAMP.replace("0:45-1:30", "1:00-1:06"))
    assert made.trims
    over = made.runtime - 66_000
    words = {beat.id: beat for laid in made.steps for beat in laid.time.beats}
    saved = sum(trim.words * words[trim.beat].length / words[trim.beat].words for trim in made.trims)
    assert saved >= over
    # Never a sponsor's word, never more than a third of a beat.
    assert not any(trim.beat.startswith("tallow-read") for trim in made.trims)
    assert all(trim.words <= words[trim.beat].words // 3 for trim in made.trims)


def test_words_that_outrun_the_picture_are_trimmed_first() -> None:
    log = line(0, "start", "screws") + line(1, "done") + line(20, "start", "open") + line(60, "done")
    made = episode(log, [TOP], LAMP.replace("0:45-1:30", "1:00-1:10"))
    assert any(isinstance(part, Slate) and part.pickup for s in made.steps for part in s.fitted.parts)
    assert made.trims[0].beat.startswith("screws")


def test_open_stretches_lengthen_a_short_episode_only_a_little() -> None:
    bare = episode(text=LAMP.replace("runtime: 0:45-1:30\n", ""))
    wanted = bare.runtime // 1000 + 9
    made = episode(
        text=LAMP.replace(
            "0:45-1:30", f"0:{wanted - 60 + 0:02d}-3:00" if wanted < 60 else f"1:{wanted - 60:02d}-3:00"
        )
    )
    assert made.runtime == pytest.approx(wanted * 1000, abs=40)
    for laid in made.steps:
        assert (laid.fitted.frames - laid.fitted.planned) / 25 <= 5.04
        assert laid.step.read is None or laid.fitted.frames == laid.fitted.planned


def test_each_step_says_what_to_do() -> None:
    log = (
        line(0, "start", "screws")
        + line(599, "done")
        + line(600, "start", "board")
        + line(610, "keep")
        + line(612, "start", "board")
        + line(640, "done")
        + line(650, "start", "solder")
        + line(652, "done")
    )
    made = episode(log, [clip("footage/top-1.mp4", 700)])
    answers = {laid.step.id: laid.answer for laid in made.steps}
    assert answers["screws"].startswith("ramp 4x; cut 9 min ")
    assert "pickup needed: 3 s of The cracked joint" in answers["board"]
    assert "hold 3 s; pickup needed: " in answers["solder"]
    assert answers["open"].startswith("film ")


def test_dropped_waits_are_told_apart_from_cut_work() -> None:
    log = line(0, "start", "screws") + line(90, "wait") + line(450, "start", "screws") + line(480, "done")
    said = next(laid.answer for laid in episode(log, [TOP]).steps if laid.step.id == "screws")
    assert re.fullmatch(r"ramp 4x; cut 1 min \d\d? s of work, drop 6 min of waiting", said), said


def test_wait_that_plays_is_told_with_its_speed() -> None:
    log = line(0, "start", "screws") + line(2, "wait") + line(400, "done")
    made = episode(log, [TOP])
    said = next(laid.answer for laid in made.steps if laid.step.id == "screws")
    fitted = next(laid.fitted for laid in made.steps if laid.step.id == "screws")
    wait = next(part for part in fitted.parts if isinstance(part, Plays) and part.kind is SpanKind.WAIT)
    assert f"waiting at {float(wait.speed):.1f}x".replace(".0x", "x") in said
    left = 398 - (wait.end - wait.start)
    assert ("of waiting" in said) == (left > 2)


@pytest.mark.parametrize("target", ["0:30-0:40", "0:45-1:30", "4:00-5:00"])
def test_remedies_of_one_run_do_not_contradict_each_other(target: str) -> None:
    log = line(0, "start", "screws") + line(300, "done") + line(310, "start", "open") + line(312, "done")
    log += line(320, "keep", "result") + line(380, "done")
    made = episode(log, [TOP], LAMP.replace("0:45-1:30", target))
    told = {f.code: f.remedy for f in made.findings if f.code.startswith("FIT-")}
    assert set(told) == {"FIT-RUNTIME", "FIT-PICKUP", "FIT-LEFT-OUT", "FIT-LONGER"}
    others = " ".join(f.remedy for f in made.findings if f.code in set(told) - {"FIT-RUNTIME"})
    if target == "4:00-5:00":
        assert told["FIT-RUNTIME"].startswith("Add about")
        assert "trim" not in others
        assert "open stretch" not in others
        assert "say more" in told["FIT-LEFT-OUT"]
    else:
        assert told["FIT-RUNTIME"].startswith("Trim about")
        assert "or trim the words" in told["FIT-PICKUP"]
        assert "say more" not in others


def test_drift_tells_planned_filmed_and_recorded_apart() -> None:
    plan, _ = read_plan(LAMP.encode())
    assert plan is not None
    log = line(0, "start", "screws") + line(5, "keep") + line(45, "done")
    marks, _ = read_bench_jsonl(log.encode())
    takes = {"screws.1": Ms(50_000)}
    planned = compile_episode(plan).drift
    filmed = compile_episode(plan, marks, [TOP, MACRO]).drift
    recorded = compile_episode(plan, marks, [TOP, MACRO], takes).drift
    assert (planned.filmed, planned.recorded) == (None, None)
    assert filmed.planned == recorded.planned == planned.planned
    assert filmed.filmed == recorded.filmed
    assert filmed.filmed is not None
    assert recorded.recorded is not None
    assert recorded.recorded > filmed.filmed > planned.planned


def test_recorded_take_sets_the_length_of_its_beat() -> None:
    plan, _ = read_plan(LAMP.encode())
    assert plan is not None
    made = compile_episode(plan, takes={"solder.1": Ms(21_000)})
    beat = next(b for laid in made.steps for b in laid.time.beats if b.id == "solder.1")
    assert beat.length == 21_000


def test_pace_finds_the_longest_stretches() -> None:
    text = (
        LAMP.replace(
            "- must show: the cracked joint | macro | 3 s", "- must show: the cracked joint | macro | 20 s"
        )
        .replace("- answer dead: a cracked solder joint\n", "")
        .replace("## Four screws {#screws}\n", "## Four screws {#screws}\n- answer dead: heat\n")
    )
    made = episode(text=text.replace("runtime: 0:45-1:30\n", ""))
    board = next(laid for laid in made.steps if laid.step.id == "board")
    start = sum(s.fitted.frames for s in made.steps[: made.steps.index(board)]) * 40
    beat = board.time.beats[0]
    assert made.pace.silence.start == start + beat.start + beat.length
    assert made.pace.silence.length > 12_000
    assert made.pace.picture.length >= 20_000
    # The only question is answered in the second step; from there to the end none is open.
    assert made.pace.no_question.end == made.runtime
    assert made.pace.no_question.start > 0


EXTREMES: dict[str, tuple[str, str]] = {
    "no narration": ("---\ntitle: A\nruntime: 1:00-2:00\n---\n# A\n- must show: it | | 3 s\n", ""),
    "three hours and one sentence": (
        "---\ntitle: A\nruntime: 1:00-2:00\n---\n# A\n- bench: 3 h\n> One sentence.\n",
        line(0, "start", "a") + line(10_800, "done"),
    ),
    "a target of one second": (LAMP.replace("0:45-1:30", "0:01-0:01"), ""),
    "a target of a day": (LAMP.replace("0:45-1:30", "23:00:00-24:00:00"), ""),
    "nothing but wait": (LAMP, line(0, "wait", "screws") + line(500, "done")),
    "a keep of ten minutes": (LAMP, line(0, "keep", "screws") + line(599, "done")),
    "a hundred marks in a second": (LAMP, "".join(line(n / 100, "start", "screws") for n in range(100))),
}


@pytest.mark.parametrize("name", EXTREMES)
def test_extremes_give_findings_and_a_sound_timeline(name: str) -> None:
    text, log = EXTREMES[name]
    made = episode(log, [TOP, clip("footage/top-2.mp4", 9000)] if "hours" in name else [TOP], text)
    assert made.timeline.frames > 0
    assert all(segment.frames > 0 for segment in made.timeline.segments)
    assert sum(laid.fitted.frames for laid in made.steps) == made.timeline.frames


def test_scenario_is_planned_by_the_command(tmp_path: Path, run: Callable[..., Run]) -> None:
    folder = tmp_path / "speaker"
    folder.mkdir()
    (folder / "job.md").write_bytes(SCENARIOS[0].read_bytes())
    assert run("plan", folder).status == 0


def test_recorded_takes_in_the_folder_re_time_the_episode(job: JobFolder, run: Callable[..., Run]) -> None:
    run("plan", job.root)
    planned = json.loads((job.root / "out" / "plan.json").read_text())
    rate = 16_000
    quiet = np.random.default_rng(1).normal(0, 3, rate // 2)
    # A voice-like sound: a tone that swells four times a second, 14 s long, with room noise at both ends.
    at = np.arange(14 * rate) / rate
    sound = 6000 * np.sin(2 * np.pi * 180 * at) * (0.6 + 0.4 * np.sin(2 * np.pi * 4 * at))
    path = job.write("takes/solder.1.wav", b"")
    with wave.open(str(path), "wb") as file:
        file.setnchannels(1)
        file.setsampwidth(2)
        file.setframerate(rate)
        file.writeframes(np.concatenate([quiet, sound, quiet]).astype("<i2").tobytes())
    assert run("plan", job.root).status == 0
    plan = json.loads((job.root / "out" / "plan.json").read_text())
    beat = next(b for s in plan["steps"] for b in s["beats"] if b["id"] == "solder.1")
    assert beat["length_ms"] == pytest.approx(14_000, abs=400)
    assert plan["drift"]["planned_ms"] == planned["runtime_ms"]
    assert plan["drift"]["recorded_ms"] == plan["runtime_ms"] != planned["runtime_ms"]


@pytest.mark.parametrize("rate", ["23.976", "25", "29.97", "30"])
@pytest.mark.parametrize("path", SCENARIOS, ids=lambda p: p.parent.name)
def test_no_card_of_an_animatic_flashes_by(path: Path, rate: str) -> None:
    text = re.sub(r"^frame rate:.*\n", "", path.read_text(encoding="utf-8"), flags=re.M)
    made = episode(text=text.replace("---\n", f"---\nframe rate: {rate}\n", 1))
    fps = made.timeline.rate.exact
    assert min(segment.frames / fps for segment in made.timeline.segments) >= 0.45


def test_what_trimming_cannot_give_is_named() -> None:
    log = line(0, "keep", "screws") + line(60, "done")
    made = episode(log, [TOP], LAMP.replace("0:45-1:30", "0:30-0:40"))
    (found,) = [f for f in made.findings if f.code == "FIT-RUNTIME"]
    assert "That saves 0:" in found.remedy
    assert "'Four screws' beyond its words" in found.remedy
    assert "the read 'tallow'" in found.remedy


@pytest.mark.parametrize("target", ["1:35-1:50", "1:45-2:00", "1:55-2:00", "2:05-2:20", "2:40-3:00"])
def test_open_stretch_that_is_advised_is_just_enough(target: str) -> None:
    """Steps whose footage has run out cannot run on without words, so the others have to for longer."""
    log = line(0, "start", "screws") + line(2, "done") + line(10, "start", "open") + line(20, "done")
    log += line(30, "start", "board") + line(40, "keep") + line(44, "done")
    log += line(50, "start", "solder") + line(90, "done")

    def compiled(seconds: int) -> Episode:
        text = LAMP.replace("0:45-1:30", f"{target}\nlimits: {{open stretch: {seconds} s}}")
        return episode(log, [TOP, clip("footage/macro-1.mp4")], text)

    (found,) = [f for f in compiled(2).findings if f.code == "FIT-RUNTIME"]
    told = re.search(r"open stretch: (\d+) s", found.remedy)
    meets = [n for n in range(3, 31) if "FIT-RUNTIME" not in {f.code for f in compiled(n).findings}]
    assert (int(told[1]) if told else None) == (meets[0] if meets else None)


def test_slates_are_never_bought_as_time_without_words() -> None:
    log = line(0, "start", "screws") + line(2, "done")
    made = episode(log, [TOP], LAMP.replace("0:45-1:30", "2:00-3:00"))
    laid = next(laid for laid in made.steps if laid.step.id == "screws")
    assert laid.fitted.frames == laid.fitted.planned
    assert "FIT-LONGER" not in {f.code for f in made.findings if "Four screws" in f.message}


def test_filmed_work_that_finds_no_room_is_told() -> None:
    log = line(0, "start", "screws") + line(30, "keep") + line(90, "done")
    made = episode(log, [TOP], LAMP.replace("runtime: 0:45-1:30", "runtime: 0:30-0:40"))
    assert any(f.code == "FIT-LEFT-OUT" and "Four screws" in f.message for f in made.findings)


def test_hold_beyond_its_limit_is_told_as_a_pickup() -> None:
    planned = next(laid for laid in episode().steps if laid.step.id == "screws").fitted.planned
    seconds = planned / 25 - 4  # 4 s short: 3 s may be held, and a slate of 1 s would flash by
    made = episode(line(0, "start", "screws") + line(seconds, "done"), [TOP])
    laid = next(laid for laid in made.steps if laid.step.id == "screws")
    assert "pickup needed: 1 s" in laid.answer
    assert "FIT-PICKUP" in codes(made)
