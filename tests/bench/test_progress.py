"""What the page says is under way, and what does not fit, is what the log is read as later."""

from __future__ import annotations

import json
import random
import shutil
import subprocess
from datetime import timedelta

import pytest

from episodekit.base.time import Ms
from episodekit.bench.spans import spans_of
from episodekit.bench.undo import standing
from episodekit.footage.clocks import place_marks
from episodekit.formats.bench_jsonl import mark_line, read_bench_jsonl
from episodekit.outside.bench_server.logged import rfc3339
from tests.conftest import ROOT

STEPS = ("open", "flex", "close")
KINDS = ("start", "done", "done", "retake", "keep", "wait", "b-roll", "note", "problem", "reading")
MORNING = 1_794_063_600_000
PAGE = ROOT / "templates" / "bench" / "progress.js"
ASKED = """
const { progress } = await import("PAGE");
let text = "";
for await (const part of process.stdin) text += part;
const { logs, steps } = JSON.parse(text);
const told = logs.map((marks) => {
  const { open, amiss } = progress(marks, steps.map((id) => ({ id })));
  return [open, marks.flatMap((mark, at) => (amiss.has(mark) ? [at + 1] : []))];
});
console.log(JSON.stringify(told));
""".replace("PAGE", PAGE.as_uri())

Line = dict[str, str | int]


def by_the_page(logs: list[list[Line]]) -> list[list[object]]:
    """Of each log the step that is open at its end, and the lines that do not fit."""
    if shutil.which("node") is None:
        pytest.skip("no node on PATH")
    asked = json.dumps({"logs": logs, "steps": STEPS})
    words = ("node", "--no-warnings", "--input-type=module", "-e", ASKED)
    ran = subprocess.run(words, input=asked, capture_output=True, text=True, check=True)
    return list(json.loads(ran.stdout))


def by_the_log(marks: list[Line]) -> list[object]:
    """The same, as `check` and `plan` read it."""
    raw = "".join(
        mark_line(
            id=str(one["id"]), time=rfc3339(Ms(int(one["at"])), timedelta(0)), kind=str(one["kind"]),
            step=str(one["step"]), of=str(one["of"]),
        ) + "\n"
        for one in marks
    )  # fmt: skip
    read, wrong = read_bench_jsonl(raw.encode())
    assert not wrong
    left, _ = standing(read)
    spans, found = spans_of(place_marks(left, ())[0], STEPS)
    wrong_lines = {one.at.line for one in found if one.code in ("LOG-NOTHING-OPEN", "LOG-OVERLAP")}
    return [next((span.step for span in spans if span.end is None), ""), sorted(wrong_lines)]


def pressed(dice: random.Random) -> list[Line]:
    """By two devices, of which one may deliver late; some marks are withdrawn, or name a step that the plan lost."""
    marks: list[Line] = []
    at = MORNING
    for number in range(dice.randrange(1, 14)):
        at += dice.randrange(60_000)
        mark: Line = {"id": f"{dice.choice('ab')}-{number}", "at": at, "kind": dice.choice(KINDS), "of": ""}
        mark["step"] = dice.choice((*STEPS, *STEPS, "lost"))
        if mark["kind"] not in ("start", "retake") and dice.random() < 0.2:
            mark["step"] = ""
        if marks and dice.random() < 0.2:
            mark |= {
                "kind": "undo",
                "step": "",
                "of": dice.choice(marks)["id"] if dice.random() < 0.7 else "",
            }
        marks.append(mark)
    if dice.random() < 0.5:
        marks.sort(key=lambda mark: "z" if mark["kind"] == "undo" else str(mark["id"])[0])
    return marks


def test_page_and_log_agree_on_what_is_open_and_what_does_not_fit() -> None:
    logs = [pressed(random.Random(seed)) for seed in range(3000)]
    for marks, page in zip(logs, by_the_page(logs), strict=True):
        assert page == by_the_log(marks), "\n".join(map(str, marks))
