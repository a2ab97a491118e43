"""The plan as it is seen at the bench, and what was remarked there."""

from __future__ import annotations

import json
from collections.abc import Callable

from episodekit.bench.job_sheet import job_sheet
from episodekit.job.reader import read_plan
from tests.conftest import LAMP, ROOT, JobFolder, Run

SAMPLE = (ROOT / "sample_jobs" / "clear-shell" / "job.md").read_bytes()


def test_sheet_holds_every_step_in_the_order_of_the_plan() -> None:
    plan, _ = read_plan(SAMPLE)
    assert plan is not None
    sheet = job_sheet(plan)
    assert [step.id for step in sheet.steps] == [step.id for step in plan.all_steps()]
    assert (sheet.title, sheet.device) == (plan.front.title, "Mossgate Pocket 8")
    assert {step.section for step in sheet.steps if step.id in ("battery", "flex")} == {"Teardown"}
    assert [step.id for step in sheet.steps if step.optional] == ["larkspur-read"]


def test_step_says_what_hurts_what_to_film_and_what_comes_off() -> None:
    plan, _ = read_plan(SAMPLE)
    assert plan is not None
    steps = {step.id: step for step in job_sheet(plan).steps}
    assert any("plastic tools only" in caution for caution in steps["battery"].cautions)
    assert steps["battery"].cautions[-1] == "Local codes and licensed practice come first."
    assert steps["rear-screws"].parts == ("rear cover", "7 x M1.6x5.5 tri-wing")
    shot = steps["battery"].shots[0]
    assert (shot.shot, shot.what, shot.camera, shot.length, shot.must) == (
        "battery/1",
        "the plug lifting off the board",
        "macro",
        "4 s",
        True,
    )
    assert (steps["screen"].bench, steps["screen"].cameras) == ("18 min", ("top",))


def test_point_of_no_return_says_all_that_must_be_done_and_filmed_by_then() -> None:
    plan, _ = read_plan(SAMPLE)
    assert plan is not None
    screen = next(step for step in job_sheet(plan).steps if step.id == "screen")
    assert screen.no_return
    assert screen.after == ("old-battery",)
    # The plug is under the screen's own steps: screen needs old-battery, which needs battery.
    assert screen.film == ("battery/1", "screen/1")
    assert screen.needs == (
        "Pry out the old battery: done",
        "Filmed: the plug lifting off the board (macro, 4 s)",
        "Ready to film: the gasket letting go (macro, 5 s)",
    )


def test_sheet_names_goods_of_a_step_and_notes_and_b_roll() -> None:
    text = LAMP.replace(
        "reads:", "free goods:\n  iron: {from: Ashbourne Tools, what: a soldering iron}\nreads:"
    )
    text = text.replace(
        "- no return\n", "- no return\n- uses: iron\n- b-roll: the lamp on its shelf | top | 6 s\n"
    )
    text = (
        text.replace("- needs: board\n", "- needs: board, board, nowhere\n", 1)
        + "\nAsk for the tweezers back.\n"
    )
    plan, _ = read_plan(text.encode())
    assert plan is not None
    steps = {step.id: step for step in job_sheet(plan).steps}
    assert steps["solder"].after == ("board",)
    assert steps["solder"].tools == ("a soldering iron",)
    assert [(shot.what, shot.must) for shot in steps["solder"].shots] == [("the lamp on its shelf", False)]
    assert "Ask for the tweezers back." in steps["tallow-read"].notes
    json.dumps([vars(step) for step in steps.values()], default=vars)


def test_steps_that_need_each_other_are_no_trouble() -> None:
    plan, _ = read_plan(
        b"# A\n## B {#b}\n- needs: c\n- no return\n> x\n## C {#c}\n- needs: b, c\n- no return\n> y\n"
    )
    assert plan is not None
    assert [step.after for step in job_sheet(plan).steps] == [("c",), ("b",)]


def test_remarks_of_the_log_stand_in_the_shot_list_and_the_plan(
    job: JobFolder, run: Callable[..., Run]
) -> None:
    rows = (
        "0:00,start,screws,", "0:04,note,,one head is worn", "0:06,retake,,", "0:08,reading,,0.4 Nm <b>",
        "0:09,done,,", "0:10,note,,between steps", "0:11,problem,board,the joint is cracked", "0:12,problem,board,",
    )  # fmt: skip
    lines = [f"2026-11-07T10:0{row}" if row[1] == ":" else row for row in rows]
    table = "".join(line.replace(",", "-05:00,", 1) + "\n" for line in lines)
    job.write("bench.csv", "time,kind,step,text\n" + table)
    assert run("plan", job.root).status == 0
    data = json.loads((job.root / "out" / "plan.json").read_text())
    remarks = {step["id"]: [(one["kind"], one["text"]) for one in step["remarks"]] for step in data["steps"]}
    assert remarks["screws"] == [("note", "one head is worn"), ("reading", "0.4 Nm <b>")]
    assert remarks["board"] == [("problem", "the joint is cracked")]
    page = (job.root / "out" / "shot-list.html").read_text()
    assert "Bench reading: 0.4 Nm &lt;b&gt;" in page
    assert "between steps" not in page
