"""Jobs that are hard on a page: very long, many cautions, every script, text that looks like HTML.

`docs` and `files` are fixtures for the whole run; import them into a test module to use them.
"""

from __future__ import annotations

import re
from itertools import cycle
from pathlib import Path

import pytest

from episodekit.base.time import Ms
from episodekit.formats.bench_jsonl import read_bench_jsonl
from episodekit.formats.plan_document import PlanDocument
from episodekit.formats.plan_json import document
from episodekit.job.reader import read_plan
from episodekit.outside.job_folder import compile_job, open_job
from episodekit.outside.pages import page
from episodekit.pipeline import compile_episode
from tests.conftest import LAMP
from tests.test_bench_log import clip, line

ATTACK = """<script>document.title='owned'</script>"""
SPOKEN = (
    "The fourteen screws look alike, so each goes onto the mat in the order in which it came out.",
    "هذا الشريط تحت مزلاج، ارفعه أولا ثم اسحب الشريط بهدوء.",
    "まずバッテリーを外します。プラスチックの道具だけを使ってください。",
    "Careful now 🔋⚠️👩🏽‍🔧: if it bends, smells or gets warm, it goes outside at once.",
    "Read this & that: 3 < 5, 'quoted' and \"doubly quoted\", a\u00a0hard space, {{ not.filled }}.",
)
HAZARDS = ("cell", "heat, fume", "static", "mains, capacitor", "blade, swarf, rotating, solvent")


ONE_SPACE = re.compile(r"\s+")


def squeezed(text: str) -> str:
    """Text with every run of white space as one space, as a reader sees it."""
    return ONE_SPACE.sub(" ", text).strip()


def long_job(steps: int = 80) -> str:
    """A plan of `steps` steps in sections of sixteen. Step 7 is called "S007 ... E007"."""
    spoken, hazards = cycle(SPOKEN), cycle(HAZARDS)
    lines = [
        "---",
        f"title: \"Eighty steps & one {ATTACK} 修理 🔧 '' in one very long afternoon at the bench\"",
        'device: "Quorrel <b>Nine</b> & Sons آلة"',
        "runtime: 2:00-3:00",
        "publish: 2026-12-18",
        "cameras:",
        "  top: {view: overhead}",
        '  a-camera-with-a-name-that-goes-on-and-on-without-a-single-space: {view: "<i>macro</i> & more"}',
        "reads:",
        "  plumb:",
        '    sponsor: "Plumb & <em>Line</em> Ltd"',
        '    must say: ["code <PLUMB>", "<b>this</b> | that & this"]',
        f'    never say: ["{ATTACK}", "{"unbroken" * 30}"]',
        '    code: "<PLUMB>"',
        f"    link: https://plumb.example/{'long' * 60}?a=<b>&c=d",
        "    approval: 5 working days",
        "    revisions: 2",
        "    link stays: 30 days",
        '    goods: "the <u>spirit</u> level"',
        "---",
    ]
    for number in range(1, steps + 1):
        if number % 16 == 1:
            lines.append(f"# Section {number // 16 + 1} & <img src=x onerror=alert(1)> الجزء")
        filler = "a long title " * (number % 9)
        lines += [
            f"## S{number:03d} {filler}&lt;u&gt; E{number:03d} {{#s{number}}}",
            "- camera: top",
            f"- bench: {number} min",
        ]
        if number % 3 == 0:
            lines += [f"- hazard: {next(hazards)}", "- caution: my own word, <b>mind the edge</b> & breathe"]
        if number % 5 == 0:
            lines.append("- off: lid; 14 x M1.6x4 <tri-wing>")
        if number % 10 == 0:
            lines.append("- no return")
        if number % 4 == 0:
            camera = "a-camera-with-a-name-that-goes-on-and-on-without-a-single-space"
            lines.append(f"- must show: M{number:03d} the seal & its <edge> letting go | {camera} | 4 s")
        lines += [
            f"> Beat {number:03d}a. {next(spoken)}",
            "",
            "",
            f"> Beat {number:03d}b. {next(spoken)}",
            "",
        ]
        if number % 20 == 0:
            lines += [f"A note & a <note> {number}: " + "unbroken" * 20, ""]
    lines += [
        "# A word from Plumb {#plumb-read}",
        "- read: plumb",
        "> This is paid for by Plumb & Line, who sponsor this. The code is code <PLUMB>.",
    ]
    return "\n".join(lines) + "\n"


PAGES = ("shot-list.html", "narration.html")
JOBS = {
    "lamp": LAMP,
    "long": long_job(),
    "bare": "---\ntitle: Nothing yet\n---\n# Later\n- must show: the lid | 3 s\n",
}
# Filmed and partly recorded: every speed, a held picture, a pickup, a must-show that is missing, a question that is
# answered early, one take read far too fast, and more words than the run time holds.
FILMED = """\
---
title: Glue, wait, and look again
runtime: 0:20-0:40
frame rate: 25
cameras:
  top: {view: overhead}
  macro: {view: macro}
---
# Before
## Open it {#open}
- camera: top
- ask why: Why does it hum?
> The lid has four screws, and each of them is a different length, so they go onto the mat in their order.

> It hums, and nobody knows why.

## Find it {#find}
- camera: top
- answer why: a loose core
- must show: the loose core | macro | 4 s
> There it is. The core moves when I touch it.

# Repair
## Sand it {#sand}
- camera: top
- work: repetition
> Every face is sanded, and the fourth takes as long as the other three together, because it was glued before.

## Glue it {#glue}
- camera: top
- work: curing
> Then it waits under a weight until tomorrow morning, and so do I.

## Close it {#close}
- camera: top
> Four screws, in the order in which they came out, and that is nearly all of it, but a lid that sits badly hums by
> itself, so press all corners down, turn each screw a little, and go around twice before any of them is tight.

## Listen {#listen}
- camera: top
- bench: 1 min
> Silence.
"""
FILMED_LOG = (
    (0, "start", "open"), (9, "keep", ""), (11, "start", "open"), (30, "done", ""),
    (40, "start", "find"), (60, "done", ""), (70, "start", "sand"), (190, "done", ""),
    (200, "start", "glue"), (600, "done", ""), (610, "start", "close"), (614, "done", ""),
    (620, "start", "listen"), (622, "keep", ""), (628, "done", ""),
)  # fmt: skip
JOBS = {**JOBS, "filmed": FILMED}
STATES = ("filmed", "part filmed", "to film")


@pytest.fixture(scope="session")
def docs(tmp_path_factory: pytest.TempPathFactory) -> dict[str, PlanDocument]:
    """The documents of the jobs, compiled as `plan` does; in the long one every state of filming occurs."""
    made = {}
    for name, text in JOBS.items():
        folder = tmp_path_factory.mktemp(name)
        (folder / "job.md").write_text(text, encoding="utf-8")
        episode, findings = compile_job(open_job(folder))
        assert episode is not None
        made[name] = document(episode, findings)
    plan, _ = read_plan(FILMED.encode())
    assert plan is not None
    log = "".join(line(seconds, kind, step) for seconds, kind, step in FILMED_LOG)
    marks, _ = read_bench_jsonl(log.encode())
    filmed = compile_episode(plan, marks, [clip("footage/top-1.mp4", 700)], {"open.2": Ms(900)})
    made["filmed"] = document(filmed, filmed.findings)
    states = cycle(STATES)
    steps = tuple(
        step.model_copy(update={"state": state, "fastest_speed": 0.0 if state == "to film" else 2.5})
        for step, state in zip(made["long"].steps, states, strict=False)
    )
    shots = tuple(shot.model_copy(update={"filmed": shot.number % 2 == 0}) for shot in made["long"].shots)
    made["long"] = made["long"].model_copy(update={"steps": steps, "shots": shots})
    return made


@pytest.fixture(scope="session")
def files(
    docs: dict[str, PlanDocument], tmp_path_factory: pytest.TempPathFactory
) -> dict[tuple[str, str], Path]:
    """Each page of each job on disk."""
    folder = tmp_path_factory.mktemp("pages")
    made = {}
    for job, doc in docs.items():
        for name in PAGES:
            path = folder / f"{job}-{name}"
            path.write_text(page(name, doc), encoding="utf-8", newline="")
            made[job, name] = path
    return made
