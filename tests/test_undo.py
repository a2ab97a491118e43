"""What stands in a log: withdrawn marks, copies, torn lines, and kinds that last no time."""

from __future__ import annotations

import json
from collections.abc import Sequence

import pytest
from hypothesis import given
from hypothesis import strategies as st

from episodekit.base.findings import Finding
from episodekit.bench.model import Kind, Mark
from episodekit.bench.undo import standing
from episodekit.formats.bench_csv import read_bench_csv
from episodekit.formats.bench_jsonl import mark_line, read_bench_jsonl
from episodekit.outside.job_folder import open_job
from tests.conftest import JobFolder
from tests.test_bench_log import codes, read, shape

SECOND = "2026-11-07T10:00:{:02d}.000-05:00"


def line(second: int, kind: str, step: str = "", id: str = "", of: str = "", text: str = "") -> str:
    return mark_line(id=id, time=SECOND.format(second), kind=kind, step=step, text=text, of=of) + "\n"


def stands(log: str) -> tuple[list[str], list[Finding]]:
    """Kind and second of the marks that stand, and all findings."""
    marks, wrong = read_bench_jsonl(log.encode())
    kept, found = standing(marks, [told.at for told in wrong])
    return [f"{mark.kind} {mark.when.second}" for mark in kept], [*wrong, *found]  # type: ignore[union-attr]


def test_undo_by_id_withdraws_that_mark_and_no_other() -> None:
    log = line(0, "start", "board", "a-1") + line(4, "done", "", "b-1") + line(5, "undo", "", "a-2", of="a-1")
    assert stands(log) == (["done 4"], [])


def test_undo_without_id_withdraws_the_last_mark_that_still_stands() -> None:
    log = line(0, "start", "board") + line(4, "keep") + line(6, "wait") + line(7, "undo") + line(8, "undo")
    assert stands(log) == (["start 0"], [])


def test_an_undo_may_be_withdrawn_and_then_the_mark_stands_again() -> None:
    log = (
        line(0, "start", "board", "a-1")
        + line(4, "keep", "", "a-2")
        + line(5, "undo", "", "a-3", of="a-2")
        + line(6, "undo", "", "a-4", of="a-3")
    )
    assert stands(log)[0] == ["start 0", "keep 4"]
    again = log + line(7, "undo", "", "a-5", of="a-4")
    assert stands(again)[0] == ["start 0"]
    assert stands(log + line(7, "undo")) == (["start 0"], [])


def test_two_devices_may_withdraw_the_same_mark() -> None:
    log = (
        line(0, "start", "board", "a-1")
        + line(1, "undo", id="a-2", of="a-1")
        + line(2, "undo", id="b-1", of="a-1")
    )
    assert stands(log) == ([], [])
    # One of the two undos is withdrawn, the other still holds.
    assert stands(log + line(3, "undo", id="b-2", of="b-1")) == ([], [])


WRONG = {
    "an id that is not there": (line(0, "done") + line(1, "undo", of="a-9"), "LOG-UNDO", 2),
    "its own id": (line(0, "done") + line(1, "undo", id="a-1", of="a-1"), "LOG-UNDO", 2),
    "a mark below it": (line(1, "undo", of="a-1") + line(2, "done", id="a-1"), "LOG-UNDO", 1),
    "nothing above it": (line(1, "undo"), "LOG-UNDO", 1),
    "a line just above that cannot be read": (line(0, "done") + "{}\n" + line(2, "undo"), "LOG-UNDO", 3),
    "of for another kind": (line(0, "done", of="a-1"), "LOG-FIELD", 1),
    "an id with a space": (line(0, "done", id="a 1"), "LOG-FIELD", 1),
    "an id without end": (line(0, "done", id="a" * 65), "LOG-FIELD", 1),
    "an id twice": (line(0, "keep", id="a-1") + line(2, "wait", id="a-1"), "LOG-TWICE", 2),
}


@pytest.mark.parametrize("name", WRONG)
def test_what_withdraws_nothing_is_told(name: str) -> None:
    log, code, number = WRONG[name]
    kept, findings = stands(log)
    assert [(f.code, f.at.line) for f in findings if f.code != "LOG-KIND"] == [(code, number)]
    assert "undo" not in " ".join(kept)
    assert all(found.remedy for found in findings)


def test_of_two_marks_with_one_id_the_first_counts_but_what_hides_stays() -> None:
    private = '{"id": "a-1", "time": "2026-11-07T10:00:09Z", "kind": "private", "box": "whole picture"}\n'
    log = line(0, "keep", id="a-1") + line(2, "wait", id="a-1") + private
    kept, findings = stands(log)
    assert kept == ["keep 0", "private 9"]
    assert codes(findings) == ["LOG-TWICE", "LOG-TWICE"]


def test_undo_in_a_spreadsheet() -> None:
    table = (
        "time,kind,step,id,of\n"
        "2026-11-07T10:00:00Z,start,board,a-1,\n2026-11-07T10:00:05Z,done,,,\n2026-11-07T10:00:06Z,undo,,,a-1\n"
    )
    marks, findings = read_bench_csv(table.encode())
    assert not findings
    assert [mark.kind for mark in standing(marks)[0]] == [Kind.DONE]
    plain, _ = read_bench_csv(b"time,kind\n2026-11-07T10:00:00Z,wait\n2026-11-07T10:00:06Z,undo\n")
    assert standing(plain) == ((), ())


def test_undone_mark_is_out_of_the_job(job: JobFolder) -> None:
    log = (
        line(0, "start", "board", "a-1")
        + line(5, "start", "screws", "a-2")
        + line(6, "undo", "", "a-3", of="a-1")
    )
    job.write("bench.jsonl", log + line(9, "done", "", "a-4"))
    opened = open_job(job.root)
    assert [(mark.kind, mark.step) for mark in opened.marks] == [(Kind.START, "screws"), (Kind.DONE, "")]


def test_problems_readings_and_chirps_last_no_time() -> None:
    log = (
        line(0, "start", "board")
        + line(3, "problem", "", text="pad lifted")
        + line(4, "reading", "board", text="3.2 ohm")
        + line(5, "chirp")
        + line(9, "done")
    )
    spans, findings = read(log)
    assert [(step, start, end) for step, _, start, end in shape(spans)] == [("board", 0, 9)]
    assert not findings


def test_one_wrong_hour_is_told_once_however_many_marks_follow() -> None:
    log = line(0, "start", "board") + line(55, "note") + "".join(line(n, "note") for n in range(1, 41))
    (found,) = (f for f in read(log + line(50, "done"))[1] if f.code == "LOG-UNORDERED")
    assert (found.at.line, found.message) == (3, "This mark and 40 below it are earlier than line 2.")


def test_times_rise_on_each_device_by_itself() -> None:
    log = (
        line(10, "start", "board", "phone-1")
        + line(4, "note", "", "tablet-1")
        + line(12, "note", "", "phone-2")
        + line(3, "note", "", "tablet-2")
        + line(15, "done", "", "phone-3")
    )
    assert [(f.code, f.at.line) for f in read(log)[1]] == [("LOG-UNORDERED", 4)]


WHOLE = line(0, "start", "board", "phone-1") + line(5, "reading", "board", "phone-2", text="3.2 Ω across R14")
LAST = line(9, "done", "", "phone-3", text='zwölf: \\ and "')


@pytest.mark.parametrize("kept", range(len(LAST.encode())))
def test_line_torn_at_any_byte_takes_no_mark_with_it(kept: int) -> None:
    """However much of the last line reached the disk, it is closed with a line break and the mark comes again."""
    torn = WHOLE.encode() + LAST.encode()[:kept]
    marks, findings = read_bench_jsonl(torn + (b"\n" if kept else b"") + LAST.encode())
    whole = 1 if kept == len(LAST.encode()) - 1 else 0  # only the line break was missing
    assert [mark.id for mark in marks] == ["phone-1", "phone-2", *["phone-3"] * (1 + whole)]
    assert codes(findings) == (["LOG-TORN"] if kept and not whole else [])
    assert all(found.severity == "note" for found in findings)


def test_room_that_was_made_and_not_filled_is_a_torn_line() -> None:
    torn = WHOLE.encode() + LAST.encode()[:20] + bytes(4096) + b"\n" + LAST.encode()
    assert codes(read_bench_jsonl(torn)[1]) == ["LOG-TORN"]
    empty = WHOLE.encode() + bytes(300) + b"\n" + LAST.encode()
    marks, findings = read_bench_jsonl(empty)
    assert (len(marks), codes(findings)) == (3, ["LOG-TORN"])
    # What stands where the program wrote nothing may have been typed by hand, and may have hidden something.
    assert codes(read_bench_jsonl(bytes(300))[1]) == ["LOG-LINE"]


def test_torn_line_that_may_have_hidden_something_stops_the_draft() -> None:
    log = WHOLE + '{"id": "x", "time": "2026-11-07T10:00:09Z", "kind": "private", "box": "60% 5'
    assert codes(read_bench_jsonl(log.encode())[1]) == ["LOG-PRIVATE"]
    # A note may speak of what is private without hiding anything.
    note = line(9, "note", "", "phone-9", text="private call, cut it out")
    assert codes(read_bench_jsonl((WHOLE + note[:-6]).encode())[1]) == ["LOG-TORN"]


def test_mark_typed_by_hand_and_cut_off_is_an_error_still() -> None:
    assert codes(read_bench_jsonl((WHOLE + '{"time": "2026-11-07T10:0').encode())[1]) == ["LOG-LINE"]


# Which marks stand, the long way: from the last mark to the first, since only what stands below can withdraw.
def by_definition(marks: Sequence[Mark]) -> list[int]:
    def target(number: int, above: Sequence[Mark]) -> int | None:
        mark = marks[number]
        if mark.of:
            return next((n for n in range(number) if marks[n].id == mark.of), None)
        left = by_definition(above)
        return left[-1] if left else None

    gone: set[int] = set()
    for number in reversed(range(len(marks))):
        if marks[number].kind is Kind.UNDO and number not in gone:
            found = target(number, marks[:number])
            if found is not None:
                gone.add(found)
    return [n for n, mark in enumerate(marks) if n not in gone and mark.kind is not Kind.UNDO]


@given(st.lists(st.one_of(st.none(), st.just(0), st.integers(1, 9)), max_size=9))
def test_standing_marks_are_those_of_the_definition(log: list[int | None]) -> None:
    """None is a mark, 0 an undo of the latest, n an undo of the n-th mark."""
    text = ""
    for number, of in enumerate(log, start=1):
        kind = "note" if of is None else "undo"
        text += line(number, kind, id=f"a-{number}", of=f"a-{of}" if of else "")
    marks, wrong = read_bench_jsonl(text.encode())
    assert not wrong
    kept, _ = standing(marks)
    assert [mark.id for mark in kept] == [marks[n].id for n in by_definition(marks)]


def test_ten_thousand_undos_are_no_trouble() -> None:
    log = "".join(line(1, "note", id=f"a-{n}") for n in range(5000)) + line(2, "undo") * 5000
    assert stands(log) == ([], [])
    chain = line(1, "note", id="a-0") + "".join(
        line(1, "undo", id=f"a-{n}", of=f"a-{n - 1}") for n in range(1, 5001)
    )
    assert stands(chain)[0] == ["note 1"]


def test_a_written_line_reads_back_as_it_was() -> None:
    text = 'a "quote", a \\ and ünïcode'
    made = mark_line(id="p-1", time="2026-11-07T10:00:00.120-05:00", kind="note", step="board", text=text)
    assert "\n" not in made
    assert json.loads(made) == {
        "id": "p-1",
        "time": "2026-11-07T10:00:00.120-05:00",
        "kind": "note",
        "step": "board",
        "text": text,
    }
    (mark,), findings = read_bench_jsonl(made.encode())
    assert (mark.id, mark.device, mark.text, findings) == ("p-1", "p", text, ())
