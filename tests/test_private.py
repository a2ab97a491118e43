"""What is to be hidden, as a creator writes it: in the log, in a step, in the front matter; and every way to get it
wrong, of which none may show what was to be hidden.

Frames are judged in `tests/media/test_private.py`; here a real draft is looked at through zxing-cpp once.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import replace
from datetime import UTC, datetime
from fractions import Fraction
from math import floor
from pathlib import Path

import edl
import numpy as np
import opentimelineio as otio
import pytest
import zxingcpp
from hypothesis import given
from hypothesis import strategies as st

from episodekit.base.box import Box
from episodekit.base.findings import Finding
from episodekit.base.time import Rate
from episodekit.footage.model import Clip
from episodekit.footage.private import Private
from episodekit.formats.bench_csv import read_bench_csv
from episodekit.formats.bench_jsonl import read_bench_jsonl
from episodekit.formats.edl import write_edl
from episodekit.formats.otio_timeline import write_otio
from episodekit.job.reader import read_plan
from episodekit.job.units import box
from episodekit.pipeline import compile_episode
from episodekit.timeline.markers import private_markers
from episodekit.timeline.model import Picture
from tests.conftest import LAMP, JobFolder, Run
from tests.media import kit

START = datetime(2026, 11, 7, 15, 0, 0, tzinfo=UTC)
EXTRA, MARGIN = Fraction(1, 5), Fraction(2, 100)


def clip(path: str, seconds: int = 600, created: datetime | None = START) -> Clip:
    return Clip(
        path, Fraction(seconds), Rate(Fraction(25)), 320, 180, "h264", path, created=created, has_audio=True
    )


TOP, MACRO = clip("footage/top-1.mp4"), clip("footage/macro-1.mp4")


def mark(time: str, kind: str, **more: str) -> str:
    fields = {"time": time if "@" in time else f"2026-11-07T10:{time}-05:00", "kind": kind, **more}
    return "{" + ", ".join(f'"{key}": "{value}"' for key, value in fields.items()) + "}\n"


def compiled(
    log: str, clips: Sequence[Clip] = (TOP, MACRO), plan: str = LAMP
) -> tuple[list[Private], list[Finding]]:
    made, wrong = read_plan(plan.encode())
    assert made is not None
    marks, lost = read_bench_jsonl(log.encode())
    episode = compile_episode(made, marks, clips)
    found = [f for f in (*wrong, *lost, *episode.findings) if "PRIVATE" in f.code or f.code == "LOG-PUBLIC"]
    return list(episode.timeline.private), found


def shape(private: Sequence[Private]) -> list[tuple[str, float, float]]:
    return [(one.clip.partition("/")[2], float(one.start), float(one.end)) for one in private]


def percents(one: Box) -> list[float]:
    return [float(100 * edge) for edge in (one.left, one.top, one.right, one.bottom)]


def test_private_lasts_until_public_and_grows_by_its_margins() -> None:
    log = mark("top-1.mp4 @ 0:10", "private", box="60% 5% to 95% 15%", text="account") + mark(
        "top-1.mp4 @ 0:20", "public"
    )
    (one,), found = compiled(log)
    assert (one.clip, one.start, one.end) == (TOP.path, 10 - EXTRA, 20 + EXTRA)
    assert percents(one.box) == [58, 3, 97, 17]
    assert one.what == "account"
    assert not found


CHECKED = LAMP.replace("top: {view: overhead}", "top: {view: overhead, clock: 0 s behind}")


def test_instants_are_hidden_for_as_long_as_the_clock_may_be_off() -> None:
    """Real cameras wrote creation times 57 and 69 s off the timecode of the same file."""
    log = mark("01:40", "private", camera="top", box="0% 0% to 10% 10%") + mark("01:50", "public")
    private, found = compiled(log + log.replace("T10:01", "T10:05"))
    assert shape(private) == [("top-1.mp4", 29.8, 180.2), ("top-1.mp4", 269.8, 420.2)]
    assert [(f.code, f.at.line) for f in found] == [("CLIP-PRIVATE-UNCHECKED", 1)]
    private, found = compiled(log, plan=CHECKED)
    assert shape(private) == [("top-1.mp4", 97.8, 112.2)]
    assert not found


def test_margins_are_the_jobs() -> None:
    plan = LAMP.replace("frame rate: 25", "frame rate: 25\nlimits: {private extra: 2 s, private margin: 5%}")
    log = mark("top-1.mp4 @ 0:10", "private", box="50% 50% to 96% 60%") + mark("top-1.mp4 @ 0:20", "public")
    (one,), _ = compiled(log, plan=plan)
    assert (one.start, one.end) == (8, 22)
    assert percents(one.box) == [45, 45, 100, 65]


def test_next_private_mark_of_the_same_name_moves_the_box_and_its_whole_way_is_hidden() -> None:
    log = (
        mark("top-1.mp4 @ 0:10", "private", box="10% 10% to 20% 20%", text="name")
        + mark("top-1.mp4 @ 0:12", "private", box="70% 40% to 80% 50%", text="serial")
        + mark("top-1.mp4 @ 0:15", "private", box="30% 30% to 40% 40%", text="name")
        + mark("top-1.mp4 @ 0:20", "public", text="name")
        + mark("top-1.mp4 @ 0:25", "public")
    )
    private, found = compiled(log)
    assert not found
    assert [(p.what, float(p.start + EXTRA), float(p.end - EXTRA), *percents(p.box)) for p in private] == [
        ("name", 10, 15, 8, 8, 42, 42),
        ("serial", 12, 25, 68, 38, 82, 52),
        ("name", 15, 20, 28, 28, 42, 42),
    ]


def test_span_reaches_all_clips_of_its_camera_and_no_other_camera() -> None:
    second = clip("footage/top-2.mp4", created=START.replace(minute=10))
    log = mark("top-1.mp4 @ 9:50", "private", box="0% 0% to 10% 10%") + mark("top-2.mp4 @ 0:10", "public")
    assert shape(compiled(log, (TOP, second, MACRO))[0]) == [
        ("top-1.mp4", 589.8, 600),
        ("top-2.mp4", 0, 10.2),
    ]


def test_span_without_an_end_is_hidden_to_the_last_frame_and_told() -> None:
    private, found = compiled(mark("macro-1.mp4 @ 0:30", "private", box="0% 0% to 10% 10%"))
    assert shape(private) == [("macro-1.mp4", 29.8, 600)]
    assert [f.code for f in found] == ["LOG-PRIVATE-OPEN"]


def test_public_that_ends_nothing_is_told_and_ends_nothing() -> None:
    log = (
        mark("top-1.mp4 @ 0:10", "private", box="0% 0% to 10% 10%", text="name")
        + mark("top-1.mp4 @ 0:15", "public", text="nmae")
        + mark("macro-1.mp4 @ 0:16", "public")
        + mark("top-1.mp4 @ 0:20", "public", text="name")
    )
    private, found = compiled(log)
    assert shape(private) == [("top-1.mp4", 9.8, 20.2)]
    assert [f.code for f in found] == ["LOG-PUBLIC", "LOG-PUBLIC"]


def test_clip_whose_place_in_time_is_unknown_is_hidden_all_through() -> None:
    lost = clip("footage/top-2.mp4", created=None)
    log = mark("00:10", "private", camera="top", box="0% 0% to 10% 10%") + mark("00:20", "public")
    private, found = compiled(log, (TOP, lost), CHECKED)
    assert shape(private) == [("top-1.mp4", 7.8, 22.2), ("top-2.mp4", 0, 600)]
    assert [f.code for f in found] == ["CLIP-PRIVATE-WHOLE"]
    # a mark inside a clip means that clip, and needs no clock
    log = mark("top-2.mp4 @ 0:10", "private", box="0% 0% to 10% 10%") + mark("top-2.mp4 @ 0:20", "public")
    assert shape(compiled(log, (TOP, lost))[0]) == [("top-2.mp4", 9.8, 20.2)]


def test_span_that_no_clip_shows_is_told() -> None:
    log = mark("30:00", "private", camera="top", box="0% 0% to 10% 10%") + mark("30:20", "public")
    private, found = compiled(log)
    assert private == []
    assert [f.code for f in found] == ["CLIP-PRIVATE-UNFILMED"]


def test_private_marks_are_apart_from_steps() -> None:
    work = (
        mark("00:05", "start", step="screws")
        + mark("00:08", "keep")
        + mark("00:12", "start", step="screws")
        + mark("00:30", "done")
    )
    hides = mark("00:10", "private", camera="top", box="0% 0% to 10% 10%") + mark("00:20", "public")
    plan, _ = read_plan(LAMP.encode())
    assert plan is not None
    spans = []
    for log in (work, work + hides):
        marks, wrong = read_bench_jsonl(log.encode())
        assert not wrong
        spans.append(
            [(s.step, s.kind, s.start.seconds, s.end) for s in compile_episode(plan, marks, (TOP,)).spans]
        )
    assert spans[0] == spans[1]


def test_csv_and_jsonl_hide_alike() -> None:
    table = "time,kind,camera,box,text\ntop-1.mp4 @ 0:10,private,top,60% 5% to 95% 15%,account\n"
    table += "top-1.mp4 @ 0:20,public,,,\n"
    marks, wrong = read_bench_csv(table.encode())
    lines = mark("top-1.mp4 @ 0:10", "private", camera="top", box="60% 5% to 95% 15%", text="account") + mark(
        "top-1.mp4 @ 0:20", "public"
    )
    same, _ = read_bench_jsonl(lines.encode())
    assert not wrong
    assert [(m.when, m.kind, m.camera, m.box, m.text) for m in marks] == [
        (m.when, m.kind, m.camera, m.box, m.text) for m in same
    ]


def test_plan_hides_a_whole_camera_and_a_whole_clip() -> None:
    hides = "private:\n  label: {camera: macro, box: 10% 10% to 20% 20%}\n"
    hides += "  tag: {clip: top-1.mp4, box: whole picture}\n"
    private, found = compiled("", plan=LAMP.replace("size: 320x180\n", "size: 320x180\n" + hides))
    assert [(p.clip, p.start, p.end, p.what) for p in private] == [
        (MACRO.path, 0, 600, "label"),
        (TOP.path, 0, 600, "tag"),
    ]
    assert not found


def test_step_hides_what_it_shows_of_a_camera_and_so_does_any_other_step_that_shows_it() -> None:
    plan = LAMP.replace("- off: 4 x M3x10\n", "- private: a name | top | 10% 10% to 20% 20%\n")
    log = (
        mark("00:05", "start", step="screws")
        + mark("00:40", "done")
        + mark("01:00", "start", step="solder")
        + mark("01:30", "done")
    )
    private, found = compiled(log, plan=plan)
    assert not found
    assert private
    assert all(one.clip == TOP.path and 5 <= one.start < one.end <= 40 for one in private)


BAD_MARKS = {
    "no box": mark("00:10", "private", camera="top"),
    "a box outside": mark("00:10", "private", camera="top", box="60% 5% to 195% 15%"),
    "a box left of the picture": mark("00:10", "private", camera="top", box="-6% 5% to 95% 15%"),
    "a box backwards": mark("00:10", "private", camera="top", box="95% 5% to 60% 15%"),
    "pixels": mark("00:10", "private", camera="top", box="600 5 to 950 15"),
    "an unknown camera": mark("00:10", "private", camera="tpo", box="0% 0% to 10% 10%"),
    "no camera": mark("00:10", "private", box="0% 0% to 10% 10%"),
    "another camera's clip": mark("top-1.mp4 @ 0:10", "private", camera="macro", box="0% 0% to 10% 10%"),
    "an unknown clip": mark("top-9.mp4 @ 0:10", "private", box="0% 0% to 10% 10%"),
    "a place outside the clip": mark("top-1.mp4 @ 59:00", "private", box="0% 0% to 10% 10%"),
    "no time": mark("top-1.mp4 @ ", "private", box="0% 0% to 10% 10%"),
    "no offset": '{"time": "2026-11-07T10:00:10", "kind": "private", "camera": "top", "box": "0% 0% to 10% 10%"}\n',
    "years away": mark("00:01", "note") * 3
    + '{"time": "2001-01-01T00:00:00Z", "kind": "private", "camera": "top", "box": "0% 0% to 10% 10%"}\n',
    "a mistyped kind": mark("00:10", "privte", camera="top", box="0% 0% to 10% 10%"),
    "a box on another kind": mark("00:10", "keep", box="0% 0% to 10% 10%"),
    "a broken line": '{"time": "2026-11-07T10:00:10-05:00", "kind": "private", "camera": "to\n',
    "a number for a box": '{"time": "2026-11-07T10:00:10-05:00", "kind": "private", "camera": "top", "box": 5}\n',
}


@pytest.mark.parametrize("log", BAD_MARKS.values(), ids=BAD_MARKS)
def test_private_mark_that_cannot_be_read_stops_the_draft(log: str) -> None:
    _, found = compiled(log)
    assert [f.code for f in found] == ["LOG-PRIVATE"]
    assert found[0].at.line == log.count("\n")
    assert found[0].remedy


def test_broken_mark_that_hides_nothing_does_not_stop_the_draft() -> None:
    for log in (mark("00:10", "keeep"), mark("00:10", "keep", camera="top"), '{"time": "2026\n'):
        assert compiled(log)[1] == []


FRONT = "size: 320x180\n"
BAD_PLANS = {
    "a box outside": (FRONT, FRONT + "private: {tag: {camera: top, box: 0% 0% to 101% 10%}}\n"),
    "no box": (FRONT, FRONT + "private: {tag: {camera: top}}\n"),
    "neither camera nor clip": (FRONT, FRONT + "private: {tag: {box: 0% 0% to 10% 10%}}\n"),
    "camera and clip": (FRONT, FRONT + "private: {t: {camera: top, clip: a.mp4, box: 0% 0% to 10% 10%}}\n"),
    "an unknown camera": (FRONT, FRONT + "private: {tag: {camera: side, box: 0% 0% to 10% 10%}}\n"),
    "an unknown clip": (FRONT, FRONT + "private: {tag: {clip: top-7.mp4, box: 0% 0% to 10% 10%}}\n"),
    "a mistyped key": (FRONT, FRONT + "privat: {tag: {camera: top, box: 0% 0% to 10% 10%}}\n"),
    "a mistyped key inside": (FRONT, FRONT + "private: {tag: {camra: top, box: 0% 0% to 10% 10%}}\n"),
    "a list": (FRONT, FRONT + "private: [tag]\n"),
    "no YAML": (FRONT, FRONT + "private: {tag: {camera: top, box: 0% 0% to 10% 10%\n"),
    "a step's box": ("- off: 4 x M3x10\n", "- private: a name | top | 10 10 20 20\n"),
    "a step's box left out": ("- off: 4 x M3x10\n", "- private: a name\n"),
    "a step's value left out": ("- off: 4 x M3x10\n", "- private:\n"),
    "a step's camera": ("- off: 4 x M3x10\n", "- private: a name | side | 0% 0% to 10% 10%\n"),
    "a step's fact mistyped": ("- off: 4 x M3x10\n", "- privat: a name | top | 0% 0% to 10% 10%\n"),
    "a step's colon lost": ("- off: 4 x M3x10\n", "- private a name, top, 0% 0% to 10% 10%\n"),
}


@pytest.mark.parametrize("change", BAD_PLANS.values(), ids=BAD_PLANS)
def test_plan_that_hides_nobody_knows_what_stops_the_draft(change: tuple[str, str]) -> None:
    _, found = compiled("", plan=LAMP.replace(*change))
    assert found
    assert {f.code for f in found} == {"JOB-PRIVATE"}
    assert all(f.remedy for f in found)


@given(
    st.lists(st.integers(0, 1000), min_size=4, max_size=4, unique=True), st.sampled_from([0, 90, 180, 270])
)
def test_box_turned_with_the_picture_holds_the_same_pixels(edges: list[int], degrees: int) -> None:
    """numpy's `rot90` turns counter-clockwise, as a player does by the clip's rotation."""
    left, right = sorted(edges[:2])
    top, bottom = sorted(edges[2:])
    upright = Box(Fraction(left, 1000), Fraction(top, 1000), Fraction(right, 1000), Fraction(bottom, 1000))
    stored = upright.stored(degrees)
    picture = np.zeros((100, 100), bool)
    rows = slice(int(stored.top * 100), int(-(-stored.bottom * 100 // 1)))
    picture[rows, int(stored.left * 100) : int(-(-stored.right * 100 // 1))] = True
    seen = np.argwhere(np.rot90(picture, degrees // 90))
    first, last = seen.min(axis=0), seen.max(axis=0) + 1
    assert (first <= [upright.top * 100, upright.left * 100]).all()
    assert (last >= [upright.bottom * 100, upright.right * 100]).all()
    assert last[0] - first[0] <= (upright.bottom - upright.top) * 100 + 2


@pytest.mark.parametrize(
    "text", ["60% 5% to 95% 15%", "60%,5% - 95%,15%", " 60 % 5 % – 95 % 15 % ", "60.0% 5% to 95.00% 15%"]
)
def test_box_may_be_written_in_several_ways(text: str) -> None:
    assert percents(box(text)) == [60, 5, 95, 15]


def secrets(path: Path) -> set[int]:
    """The numbers that zxing-cpp reads in the frames of a video."""
    found = set()
    for frame in kit.grey_frames(path):
        found |= {int(one.text[1:]) for one in zxingcpp.read_barcodes(np.ascontiguousarray(frame))}
    return found


def test_whole_road_hides_what_the_log_says_and_refuses_to_show_what_it_cannot(
    job: JobFolder, run: Callable[..., Run]
) -> None:
    tags = {"creation_time": "2026-11-07T15:00:00.000000Z"}
    kit.coded_clip(job.write("footage/top-1.mp4", b""), Fraction(25), 500, tags=tags)
    work = mark("top-1.mp4 @ 0:02", "start", step="screws") + mark("top-1.mp4 @ 0:18", "done")
    job.write("bench.jsonl", work)
    draft = job.root / "out" / "draft.mp4"
    assert run("draft", job.root).status == 0
    before = secrets(draft)
    assert run("draft", job.root, "--only", "screws").status == 0
    look = job.root / "out" / "look-screws.mp4"
    assert secrets(look) & set(range(150, 250))
    assert len(before & set(range(150, 250))) > 10
    hides = mark("top-1.mp4 @ 0:06", "private", box="25% 0% to 75% 100%", text="the number")
    job.write("bench.jsonl", work + hides + mark("top-1.mp4 @ 0:10", "public"))
    done = run("draft", job.root)
    assert done.status == 0, done.text
    assert "LOG-UNORDERED" not in done.text, "what is private is found afterwards"
    assert "Removed" in done.out
    assert "look-screws.mp4" in done.out
    assert not look.exists()
    after = secrets(draft)
    assert not after & set(range(148, 252))
    assert after >= {number for number in before if number < 130 or number > 270}
    # a private mark that cannot be read: neither a draft without it, nor the one of before
    job.write("bench.jsonl", work + hides.replace("75%", "175%"))
    done = run("draft", job.root)
    assert done.status == 1
    assert "LOG-PRIVATE" in done.text
    assert "No draft is cut" in done.err
    assert not draft.exists()
    assert run("check", job.root).status == 1


def test_editors_are_told_where_to_hide_it_again() -> None:
    """The timelines name the raw footage. Every frame of the draft that shows a frame of the clip which is on screen
    at a private instant is marked, and at most one frame of the clip, two of the draft, more at each end.
    """
    rate = Rate.parse("50")  # twice the clips', so that a frame of theirs lasts for two
    box = Box(Fraction(60, 100), Fraction(5, 100), Fraction(95, 100), Fraction(1501, 10_000))
    hides = Private(TOP.path, Fraction(101, 10), Fraction(102, 10) + 2, box, "account")
    shots = [
        kit.shot(TOP.path, Fraction(9), 100, rate),  # from frame 55 on
        kit.shot(TOP.path, Fraction(11), 100, rate, Fraction(3)),  # for 22 frames
        kit.shot(MACRO.path, Fraction(10), 100, rate),
        kit.shot(TOP.path, Fraction(10), 100, rate),
    ]
    plan = replace(kit.timeline(rate, shots), private=(hides,))
    clips = {TOP.path: TOP, MACRO.path: MACRO}
    shown = set()
    begin = 0
    for segment in plan.segments:
        picture = segment.source
        assert isinstance(picture, Picture)
        for n in range(segment.frames):
            # by the frames' own times: a clip's frame k lasts from k to k + 1 of its 25 a second
            k = floor((picture.start + n / rate.exact * picture.speed) * 25 + Fraction(1, 4))
            if picture.clip == TOP.path and k < hides.end * 25 and k + 1 > hides.start * 25:
                shown.add(begin + n)
        begin += segment.frames
    marked = list(private_markers(plan, clips))
    assert [marker.name for marker in marked] == ["account"] * 2
    covered = {frame for marker in marked for frame in range(marker.at, marker.at + marker.frames)}
    assert shown <= covered
    assert len(covered - shown) <= 2 * 2 * len(marked)
    (text,) = write_edl(plan, clips, marked)
    read = edl.Parser("50").parse(text)
    told = [comment for event in read.events for comment in event.comments if "LOC" in comment]
    assert told == [f"* LOC: 01:00:{n} MAGENTA PRIVATE account" for n in ("01:03", "06:03")]
    whole = otio.adapters.read_from_string(write_otio(plan, clips, (), marked), "otio_json")
    assert [m.comment for m in whole.tracks.markers] == [
        "Hide the box 60.0% 5.0% to 95.0% 15.1% of the picture."
    ] * 2


def test_a_log_that_cannot_be_opened_stops_the_draft(job: JobFolder, run: Callable[..., Run]) -> None:
    """It may hide something; here it is a folder, which nobody can read as a file."""
    (job.root / "bench.csv").mkdir()
    done = run("draft", job.root)
    assert done.status == 1
    assert "LOG-PRIVATE" in done.text
    assert not (job.root / "out" / "draft.mp4").exists()
