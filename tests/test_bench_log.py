"""The bench log: what marks mean, and every way a log can be wrong. The rest of the log still works."""

from __future__ import annotations

from collections.abc import Sequence
from datetime import UTC, datetime, timedelta
from fractions import Fraction
from itertools import pairwise

import pytest
from hypothesis import given
from hypothesis import strategies as st

from episodekit.base.findings import Finding
from episodekit.base.time import Rate
from episodekit.bench.model import Span
from episodekit.bench.spans import spans_of
from episodekit.footage.clocks import place_clips, place_marks
from episodekit.footage.model import Clip
from episodekit.formats.bench_csv import read_bench_csv
from episodekit.formats.bench_jsonl import read_bench_jsonl
from episodekit.job.reader import read_plan
from tests.conftest import LAMP

PLAN, _ = read_plan(LAMP.encode())
assert PLAN is not None
STEPS = [step.id for step in PLAN.all_steps()]
START = datetime(2026, 11, 7, 15, 0, 0, tzinfo=UTC)
EPOCH = int(START.timestamp())


def clip(path: str, seconds: int = 600, **more: object) -> Clip:
    values: dict[str, object] = {
        "path": path,
        "duration": Fraction(seconds),
        "rate": Rate(Fraction(25)),
        "width": 320,
        "height": 180,
        "codec": "h264",
        "identity": path,
        "created": START,
    }
    values["has_audio"] = True
    return Clip(**{**values, **more})  # type: ignore[arg-type]


def read(log: str, clips: Sequence[Clip] = ()) -> tuple[list[Span], list[Finding]]:
    """The spans of a log in JSON Lines, on the wall clock, and all findings."""
    marks, wrong = read_bench_jsonl(log.encode())
    assert PLAN is not None
    placed_clips, _ = place_clips(clips, PLAN)
    placed, lost = place_marks(marks, placed_clips)
    spans, bad = spans_of(placed, STEPS)
    return list(spans), [*wrong, *lost, *bad]


def line(seconds: float, kind: str, step: str = "") -> str:
    whole, part = divmod(round(seconds * 1000), 1000)
    time = f"2026-11-07T10:{whole // 60:02d}:{whole % 60:02d}.{part:03d}-05:00"
    return f'{{"time": "{time}", "kind": "{kind}", "step": "{step}"}}\n'


def shape(spans: Sequence[Span]) -> list[tuple[str, str, float, float | None]]:
    """Step, kind, and seconds since the first instant."""
    return [
        (
            span.step,
            span.kind.value,
            float(span.start.seconds - EPOCH),
            None if span.end is None else float(span.end.seconds - EPOCH),
        )
        for span in spans
    ]


def codes(findings: Sequence[Finding]) -> list[str]:
    return [found.code for found in findings]


def test_keep_and_wait_last_until_the_next_mark() -> None:
    log = (
        line(0, "start", "screws")
        + line(10, "keep")
        + line(14, "start", "screws")
        + line(20, "wait")
        + line(80, "start", "screws")
        + line(90, "note")
        + line(95, "done")
    )
    spans, findings = read(log)
    assert shape(spans) == [
        ("screws", "work", 0, 10),
        ("screws", "keep", 10, 14),
        ("screws", "work", 14, 20),
        ("screws", "wait", 20, 80),
        ("screws", "work", 80, 95),
    ]
    assert not findings


def test_retake_voids_the_attempt_before_it() -> None:
    log = (
        line(0, "start", "board")
        + line(5, "keep")
        + line(9, "done")
        + line(20, "start", "screws")
        + line(25, "done")
        + line(30, "retake", "board")
        + line(40, "done")
    )
    spans, findings = read(log)
    assert shape(spans) == [("screws", "work", 20, 25), ("board", "work", 30, 40)]
    assert not findings


def test_retake_of_the_open_step_needs_no_name() -> None:
    spans, findings = read(line(0, "start", "board") + line(8, "retake") + line(20, "done"))
    assert shape(spans) == [("board", "work", 8, 20)]
    assert not findings


def test_offsets_name_the_same_instant() -> None:
    log = (
        '{"time": "2026-11-07T10:00:00-05:00", "kind": "start", "step": "screws"}\n'
        '{"time": "2026-11-07T15:00:30Z", "kind": "done"}\n'
    )
    assert shape(read(log)[0]) == [("screws", "work", 0, 30)]


def test_offset_may_stand_once_in_the_plan() -> None:
    marks, wrong = read_bench_csv(
        b"time,kind,step\n2026-11-07 10:00:00,start,screws\n2026-11-07 10:00:30,done,\n"
    )
    assert not wrong
    placed, lost = place_marks(marks, [], timedelta(hours=-5))
    assert not lost
    assert [mark.moment.seconds - EPOCH for mark in placed] == [0, 30]


def test_csv_and_jsonl_read_alike() -> None:
    table = 'time;kind;step;text\n2026-11-07T10:00:00-05:00;start;screws;\n2026-11-07T10:00:30-05:00;done;;"a; b"\n'
    marks, findings = read_bench_csv(table.encode("utf-8-sig"))
    same, _ = read_bench_jsonl((line(0, "start", "screws") + line(30, "done")).encode())
    assert [(m.when, m.kind, m.step) for m in marks] == [(m.when, m.kind, m.step) for m in same]
    assert marks[1].text == "a; b"
    assert not findings


def test_place_in_a_clip_counts_from_its_start_timecode_in_drop_frame() -> None:
    # 00:59:58;10 + 51 frames = 01:00:00;01. Source: D. Heidelberger, "About Drop-Frame Timecode" (hours drop none).
    own = clip("footage/top-1.mp4", rate=Rate(Fraction(30000, 1001)), start_timecode="00:59:58;10")
    log = (
        '{"time": "top-1.mp4 @ 00:59:58;10", "kind": "start", "step": "screws"}\n'
        '{"time": "top-1.mp4 @ 01:00:00;01", "kind": "done"}\n'
    )
    spans, findings = read(log, [own])
    assert not findings
    end = spans[0].end
    assert end is not None
    assert end.seconds - spans[0].start.seconds == Fraction(51 * 1001, 30000)
    assert spans[0].start.seconds == EPOCH


def test_place_in_a_clip_as_a_player_shows_it() -> None:
    log = (
        '{"time": "footage/top-1.mp4 @ 1:12.5", "kind": "start", "step": "screws"}\n'
        '{"time": "top-1.mp4 @ 00:01:20:05", "kind": "done"}\n'
    )
    assert shape(read(log, [clip("footage/top-1.mp4")])[0]) == [("screws", "work", 72.5, 80.2)]


def test_timecode_that_runs_over_midnight() -> None:
    own = clip("footage/top-1.mp4", start_timecode="23:59:50:00")
    log = (
        '{"time": "top-1.mp4 @ 23:59:55:00", "kind": "start", "step": "screws"}\n'
        '{"time": "top-1.mp4 @ 00:00:05:00", "kind": "done"}\n'
    )
    spans, findings = read(log, [own])
    assert not findings
    assert shape(spans) == [("screws", "work", 5, 15)]


def test_clip_without_a_clock_is_its_own() -> None:
    log = (
        '{"time": "top-1.mp4 @ 0:05", "kind": "start", "step": "screws"}\n'
        + line(3, "start", "board")
        + '{"time": "top-1.mp4 @ 0:09", "kind": "done"}\n'
        + line(8, "done")
    )
    spans, findings = read(log, [clip("footage/top-1.mp4", created=None)])
    assert not findings
    assert [(s.step, s.start.clock) for s in spans] == [("screws", "footage/top-1.mp4"), ("board", "wall")]


def test_retake_in_another_clip_voids_the_attempt_before_it() -> None:
    clips = [clip("footage/top-1.mp4", created=None), clip("footage/top-2.mp4", created=None)]
    log = (
        '{"time": "top-1.mp4 @ 2 s", "kind": "start", "step": "screws"}\n'
        '{"time": "top-1.mp4 @ 5 s", "kind": "done"}\n'
        '{"time": "top-2.mp4 @ 1 s", "kind": "retake", "step": "screws"}\n'
        '{"time": "top-2.mp4 @ 4 s", "kind": "done"}\n'
    )
    spans, findings = read(log, clips)
    assert not findings
    assert [(s.start.clock, float(s.start.seconds)) for s in spans] == [("footage/top-2.mp4", 1.0)]


def test_clips_without_a_clock_play_in_the_order_of_the_log() -> None:
    clips = [clip("footage/top-1.mp4", created=None), clip("footage/top-2.mp4", created=None)]
    log = (
        '{"time": "top-2.mp4 @ 10 s", "kind": "start", "step": "screws"}\n'
        '{"time": "top-2.mp4 @ 12 s", "kind": "done"}\n'
        '{"time": "top-1.mp4 @ 1 s", "kind": "start", "step": "screws"}\n'
        '{"time": "top-1.mp4 @ 3 s", "kind": "done"}\n'
    )
    assert [s.start.clock for s in read(log, clips)[0]] == ["footage/top-2.mp4", "footage/top-1.mp4"]


def test_timecode_of_a_slow_clip() -> None:
    slow = clip("footage/top-1.mp4", rate=Rate(Fraction(10)))
    log = '{"time": "top-1.mp4 @ 00:00:01:02", "kind": "start", "step": "screws"}\n'
    spans, findings = read(log + '{"time": "top-1.mp4 @ 0:05", "kind": "done"}\n', [slow])
    assert not findings
    assert shape(spans) == [("screws", "work", 1.2, 5)]


START_OK = line(0, "start", "screws")
WRONG: dict[str, tuple[str, str, int, str]] = {
    "not JSON": ('{"time": \n' + START_OK + line(9, "done"), "LOG-LINE", 1, "delete the line"),
    "cut off": (START_OK + line(9, "done") + '{"time": "2026-11-07T10:0', "LOG-LINE", 3, "delete the line"),
    "JSON but a list": ("[1]\n" + START_OK + line(9, "done"), "LOG-LINE", 1, "{"),
    "a long line": ("x" * 30_000 + "\n" + START_OK + line(9, "done"), "LOG-LINE", 1, "short line"),
    "nested without end": (
        "[" * 15_000 + "\n" + START_OK + line(9, "done"),
        "LOG-LINE",
        1,
        "delete the line",
    ),
    "half a character": (
        '{"time": "2026-11-07T10:00:00Z", "kind": "start", "step": "\\ud800"}\n' + START_OK + line(9, "done"),
        "LOG-LINE",
        1,
        "again",
    ),
    "an unknown field": ('{"tiem": "x"}\n' + START_OK + line(9, "done"), "LOG-FIELD", 1, "'time'"),
    "a number for text": (
        START_OK.replace('"screws"', "7") + START_OK + line(9, "done"),
        "LOG-FIELD",
        1,
        '"step"',
    ),
    "a start without step": (line(0, "start") + START_OK + line(9, "done"), "LOG-FIELD", 1, "step's id"),
    "an unknown kind": (line(0, "begin", "screws") + START_OK + line(9, "done"), "LOG-KIND", 1, "start"),
    "a mistyped cutaway": (
        line(0, "broll", "screws") + START_OK + line(9, "done"),
        "LOG-KIND",
        1,
        "'b-roll'",
    ),
    "b-roll of nothing": (line(0, "b-roll") + START_OK + line(9, "done"), "LOG-NOTHING-OPEN", 1, "start"),
    "b-roll while another step is open": (
        line(0, "start", "board")
        + line(0.2, "b-roll", "screws")
        + line(0.5, "start", "screws")
        + line(9, "done"),
        "LOG-OVERLAP",
        2,
        "'board'",
    ),
    "no kind": ('{"time": "2026-11-07T10:00:00Z"}\n' + START_OK + line(9, "done"), "LOG-KIND", 1, "start"),
    "no time": ('{"kind": "start", "step": "board"}\n' + START_OK + line(9, "done"), "LOG-TIME", 1, "@"),
    "no offset": (
        '{"time": "2026-11-07T10:00:00", "kind": "start", "step": "board"}\n' + START_OK + line(9, "done"),
        "LOG-TIME",
        1,
        "utc offset",
    ),
    "years before the rest": (
        '{"time": "old.mp4 @ 0:05", "kind": "start", "step": "board"}\n' + START_OK + line(9, "done"),
        "LOG-FAR",
        1,
        "`clock:`",
    ),
    "the 31st of November": (
        '{"time": "2026-11-31T10:00:00Z", "kind": "start", "step": "board"}\n' + START_OK + line(9, "done"),
        "LOG-TIME",
        1,
        "-05:00",
    ),
    "a dropped label": (
        '{"time": "df.mp4 @ 00:01:00;00", "kind": "start", "step": "board"}\n' + START_OK + line(9, "done"),
        "LOG-TIME",
        1,
        "",
    ),
    "frame 25 at 25": (
        '{"time": "top-1.mp4 @ 00:00:01:25", "kind": "start", "step": "board"}\n'
        + START_OK
        + line(9, "done"),
        "LOG-TIME",
        1,
        "",
    ),
    "a place without a clip": (
        '{"time": "@ 0:05", "kind": "start", "step": "board"}\n' + START_OK + line(9, "done"),
        "LOG-TIME",
        1,
        "@",
    ),
    "a clip that is not there": (
        '{"time": "top-9.mp4 @ 0:05", "kind": "start", "step": "board"}\n' + START_OK + line(9, "done"),
        "LOG-CLIP",
        1,
        "'top-1.mp4'",
    ),
    "beyond the clip's end": (
        '{"time": "top-1.mp4 @ 10:05", "kind": "start", "step": "board"}\n' + START_OK + line(9, "done"),
        "LOG-BEYOND",
        1,
        "clip's name",
    ),
    "before the clip's start": (
        '{"time": "df.mp4 @ 00:00:30;00", "kind": "start", "step": "board"}\n' + START_OK + line(9, "done"),
        "LOG-BEYOND",
        1,
        "clip's name",
    ),
    "an unknown step": (line(0, "start", "screwz") + START_OK + line(9, "done"), "LOG-STEP", 1, "'screws'"),
    "an hour too early": (START_OK + line(9, "done") + line(5, "note"), "LOG-UNORDERED", 3, "clock"),
    "in a clip whose clock is behind": (
        START_OK
        + line(9, "done")
        + '{"time": "top-1.mp4 @ 0:30", "kind": "note"}\n'
        + '{"time": "df.mp4 @ 0:12", "kind": "note"}\n',
        "LOG-UNORDERED",
        4,
        "episodekit sync",
    ),
    "two steps at once": (
        line(0, "start", "board") + line(0.5, "start", "screws") + line(9, "done"),
        "LOG-OVERLAP",
        2,
        "'board'",
    ),
    "done without start": (
        line(0, "done", "board") + START_OK + line(9, "done"),
        "LOG-NOTHING-OPEN",
        1,
        "start",
    ),
    "keep without anything": (line(0, "keep") + START_OK + line(9, "done"), "LOG-NOTHING-OPEN", 1, "start"),
    "done of another step": (
        START_OK + line(5, "done", "board") + line(9, "done", "screws"),
        "LOG-NOTHING-OPEN",
        2,
        "step",
    ),
    "retake of nothing": (line(0, "retake", "screws") + line(9, "done"), "LOG-NO-ATTEMPT", 1, "start"),
    "never done": (START_OK + line(9, "done") + line(20, "start", "board"), "LOG-NOT-DONE", 3, "done"),
    "no time at all": (
        line(0, "start", "board") + line(0, "done") + START_OK + line(9, "done"),
        "LOG-NO-TIME",
        2,
        "both marks",
    ),
}


@pytest.mark.parametrize("name", WRONG)
def test_wrong_mark_is_a_finding_and_the_rest_still_works(name: str) -> None:
    log, code, number, remedy = WRONG[name]
    drop = clip("footage/df.mp4", rate=Rate(Fraction(30000, 1001)), start_timecode="00:00:59;00")
    old = clip("footage/old.mp4", created=START - timedelta(days=900))
    spans, findings = read(log, [clip("footage/top-1.mp4"), drop, old])
    found = [f for f in findings if f.code == code]
    assert [f.at.line for f in found] == [number], findings
    assert remedy in found[0].remedy
    assert ("screws", "work", 9.0) in [(s, k, e) for s, k, _, e in shape(spans)]


def test_log_that_is_not_utf8() -> None:
    raw = b'{"time": "\xff"}\n' + (START_OK + line(9, "done")).encode()
    marks, findings = read_bench_jsonl(raw)
    assert (codes(findings), len(marks)) == (["LOG-LINE"], 2)
    assert read_bench_csv(b"time,kind\n\xff,start\n")[1][0].code == "LOG-LINE"


@pytest.mark.parametrize(
    ("table", "code"),
    [
        ("time,kind,stp\n", "LOG-FIELD"),
        ("kind,step\n", "LOG-FIELD"),
        ("time,kind,step,text\n2026-11-07T10:00:00Z,start,screws,a,b\n", "LOG-LINE"),
        ("time,kind,step\n2026-11-07T10:00:00Z,begin,screws\n", "LOG-KIND"),
        ('time,kind,step\n"2026-11-07T10:00:00Z,start,screws\n', "LOG-KIND"),
    ],
)
def test_wrong_tables_are_findings(table: str, code: str) -> None:
    assert codes(read_bench_csv(table.encode())[1]) == [code]


kinds = st.sampled_from(["start", "done", "retake", "keep", "wait", "b-roll", "note"])
entries = st.lists(
    st.tuples(st.integers(0, 300), kinds, st.sampled_from(["", *STEPS, "nowhere"])), max_size=30
)


@given(entries)
def test_any_log_gives_spans_that_do_not_overlap_and_do_not_run_backwards(
    log: list[tuple[int, str, str]],
) -> None:
    spans, _ = read("".join(line(*entry) for entry in log))
    ended = sorted((s, e) for _, _, s, e in shape(spans) if e is not None)
    assert all(start < end for start, end in ended)
    assert all(before[1] <= after[0] for before, after in pairwise(ended))


@given(st.binary(max_size=300))
def test_any_bytes_are_read_without_a_crash(raw: bytes) -> None:
    read_bench_jsonl(raw)
    read_bench_csv(raw)
    read_plan(raw)
    read_plan(b"---\ntitle: A\n---\n" + raw)
