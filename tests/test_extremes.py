"""Impossible, empty and extreme jobs end in words a creator can act on: never a traceback, never a negative length."""

from __future__ import annotations

import json
import re
from collections.abc import Callable

import pytest

from tests.conftest import JobFolder, Run

HEAD = "---\ntitle: A\nsize: 320x180\nruntime: {}\ncameras: {{top: {{view: overhead}}}}\n---\n"
ONE_SENTENCE = (
    "# Cure {#cure}\n- camera: top\n- bench: 3 h\n- work: curing\n> It cures, and nobody watches.\n"
)
SILENT = "# See {#see}\n- camera: top\n- must show: the thing | top | 4 s\n"
LONG_VIEW = (
    ONE_SENTENCE + "\n# See {#see}\n- must show: the long way round | top | 2 min\n> It is very long.\n"
)
WORDLESS = ONE_SENTENCE + "\n# Look {#look}\n- camera: top\n- bench: 5 min\n"

THREE_HOURS = (
    '{"time": "2026-11-07T10:00:00-05:00", "kind": "start", "step": "cure"}\n'
    '{"time": "2026-11-07T13:00:00-05:00", "kind": "done"}\n'
)
NO_TIME = THREE_HOURS.replace("13:00:00", "10:00:00")

JOBS = {
    # job.md, bench.jsonl, what is said, and what must not be
    "no narration": (HEAD.format("0:02-0:20") + SILENT, "", "", "FIT-RUNTIME"),
    "no narration and far too short": (
        HEAD.format("5:00-6:00") + SILENT,
        "",
        "its target starts at 5:00. It holds no words, 0:04 of must-shows. Add about 740 words or lower the target.",
        "0:00",
    ),
    "three hours with one sentence": (
        HEAD.format("10:00-12:00") + ONE_SENTENCE,
        "",
        "Add about 1500 words or lower the target.",  # 592 s at 150 words a minute are 1,480
        "open stretch",
    ),
    "a little too short": (
        HEAD.format("0:12-0:20") + ONE_SENTENCE,
        "",
        "let steps run on without words (`limits: {open stretch: 9 s}`), or lower the target.",
        ", ,",
    ),
    "one minute for two minutes of must-shows": (
        HEAD.format("0:55-1:00") + LONG_VIEW,
        "",
        "the largest parts are 'the long way round' (2:00)",
        "-",
    ),
    "a step without words beside one with words": (
        HEAD.format("0:01-0:20") + WORDLESS,
        "",
        "JOB-NO-PICTURE",
        "-",
    ),
    "a log and no footage": (
        HEAD.format("0:01-0:20") + ONE_SENTENCE,
        THREE_HOURS,
        "No clip covers 'Cure' as logged.",
        "LOG-UNLOGGED",
    ),
    "a log in which no time passes": (
        HEAD.format("0:01-0:20") + ONE_SENTENCE,
        NO_TIME,
        "No time passes between the marks of 'Cure'.",
        "is not logged",
    ),
    "a target met to the second but not to the tenth": (
        HEAD.format("0:01-0:02") + SILENT.replace("4 s", "2.4 s"),
        "",
        "The episode runs 0:02.4; its target ends at 0:02.",
        "runs 0:02;",
    ),
}


@pytest.mark.parametrize("name", JOBS)
def test_extreme_jobs_are_told_in_words(name: str, job: JobFolder, run: Callable[..., Run]) -> None:
    text, log, said, unsaid = JOBS[name]
    job.write("job.md", text)
    if log:
        job.write("bench.jsonl", log)
    checked = run("check", job.root)
    assert checked.status == 0, checked.text
    assert said in checked.out
    findings = [re.sub(r"^\S+ \w+ \S+ ", "", line) for line in checked.out.splitlines()]
    assert not any(unsaid in line for line in findings if unsaid != "-")
    assert run("plan", job.root).status == 0
    plan = json.loads((job.root / "out" / "plan.json").read_text())
    lengths = [value for key, value in _values(plan) if key.endswith("_ms") and value is not None]
    assert min(lengths) >= 0
    assert plan["runtime_low_ms"] <= plan["runtime_ms"] <= plan["runtime_high_ms"]
    for page in ("shot-list.html", "narration.html"):
        told = (job.root / "out" / page).read_text()
        assert not re.search(r"\b1 (words|shots|beats|steps|pieces|warnings|errors|chapters)\b", told)
        assert not re.search(
            r"(?<![\d:.])-\d", re.sub(r"<(style|script).*?</\1>|<[^>]*>", "", told, flags=re.S)
        )
    done = run("draft", job.root)
    assert done.status == 0, done.text
    assert "1 pieces" not in done.out


def _values(node: object) -> list[tuple[str, int | None]]:
    """All numbers of the plan with their names."""
    if isinstance(node, dict):
        own = [(key, value) for key, value in node.items() if isinstance(value, int) or value is None]
        return own + [pair for value in node.values() for pair in _values(value)]
    return [pair for value in node for pair in _values(value)] if isinstance(node, list) else []
