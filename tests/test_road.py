"""The whole road as a creator walks it: job.md, a log, footage, `draft`; judged by readers from elsewhere."""

from __future__ import annotations

import json
from collections.abc import Callable
from fractions import Fraction
from pathlib import Path

import av
import numpy as np
import pytest
from timecode import Timecode

from tests.conftest import JobFolder, Run
from tests.media import kit
from tests.media.conftest import phone_stamps

# Camera, rate, start timecode, and the labels of the kept stretch's in and out points.
SOURCES = {
    "a": (Fraction(24000, 1001), None, "00:00:01:10", "00:00:02:22"),
    "b": (Fraction(25), None, "00:00:01:07", "00:00:02:19"),
    "c": (Fraction(30000, 1001), None, "00:00:02:01", "00:00:03:29"),
    "d": (Fraction(30), None, "00:00:00:00", "00:00:01:29"),
    "e": (Fraction(50), None, "00:00:01:49", "00:00:03:01"),
    "f": (Fraction(60000, 1001), None, "00:00:01:31", "00:00:02:59"),
    "df": (Fraction(30000, 1001), "00:59:58;10", "00:59:59;20", "01:00:01;05"),
}
HOUSE_RATE = {
    Fraction(24000, 1001): "23.98",
    Fraction(30000, 1001): "29.97",
    Fraction(60000, 1001): "59.94",
}


def coded_plan(rate: str) -> str:
    cameras = "".join(f"  {name}: {{view: overhead}}\n" for name in SOURCES)
    steps = "".join(
        f"## Look at {name} {{#look-{name}}}\n- camera: {name}\n> A short line about it, and one more.\n\n"
        for name in SOURCES
    )
    return (
        f"---\ntitle: Numbers\nframe rate: {rate}\nsize: 320x180\nlimits: {{lower third: 0 s, chapters: 1}}\n"
        f"cameras:\n{cameras}---\n# All\n{steps}"
    )


def frame_of(label: str, first: str | None, rate: Fraction) -> int:
    """The clip's frame that a label names, by the general library `timecode`."""
    name = HOUSE_RATE.get(rate, str(rate))
    drop = ";" in label

    def count(text: str) -> int:
        return int(Timecode(name, text, force_non_drop_frame=not drop).frames) - 1

    return count(label) - (count(first) if first else 0)


@pytest.fixture(scope="module")
def coded_footage(tmp_path_factory: pytest.TempPathFactory) -> Path:
    folder = tmp_path_factory.mktemp("numbered")
    for number, (name, (rate, start, _, _)) in enumerate(SOURCES.items()):
        suffix = "mov" if start else "mp4"
        tags = {"creation_time": f"2026-11-07T15:00:{number * 8:02d}.000000Z"}
        kit.coded_clip(folder / f"{name}-1.{suffix}", rate, int(rate * 5), timecode=start, tags=tags)
    return folder


@pytest.mark.parametrize("rate", ["30", "25", "29.97"])
def test_logged_frames_are_the_drafts_frames(
    rate: str, coded_footage: Path, job: JobFolder, run: Callable[..., Run]
) -> None:
    job.write("job.md", coded_plan(rate))
    log = []
    for name, (_, start, into, out) in SOURCES.items():
        clip = f"{name}-1.{'mov' if start else 'mp4'}"
        job.write(f"footage/{clip}", (coded_footage / clip).read_bytes())
        for kind, label in (("start", into), ("keep", into), ("done", out)):
            log.append(json.dumps({"time": f"{clip} @ {label}", "kind": kind, "step": f"look-{name}"}))
    job.write("bench.jsonl", "\n".join(log) + "\n")
    assert run("plan", job.root).status == 0
    assert run("draft", job.root).status == 0
    plan = json.loads((job.root / "out" / "plan.json").read_text())
    seen = kit.numbers_in(job.root / "out" / "draft.mp4")
    assert len(seen) == plan["frames"]
    normal = [s for s in plan["segments"] if s["speed"] == "1"]
    assert len(normal) == len(SOURCES)
    for segment in normal:
        name = segment["step"].removeprefix("look-")
        source_rate, start, into, out = SOURCES[name]
        first, last = (
            segment["start_frame"],
            segment["start_frame"] + segment["frames"] - segment["hold_frames"] - 1,
        )
        assert (seen[first], seen[last]) == (segment["first_frame"], segment["last_frame"]), name
        # In point: the logged frame itself. Out point: not shown; at most one draft frame's worth before it.
        assert seen[first] == frame_of(into, start, source_rate), name
        behind = frame_of(out, start, source_rate) - (seen[last] or 0)
        assert 1 <= behind <= 1 + source_rate / Fraction(rate if rate != "29.97" else "30000/1001"), name


def test_phone_clip_of_variable_rate_is_cut_within_half_a_frame(
    job: JobFolder, run: Callable[..., Run]
) -> None:
    stamps = phone_stamps(160)
    kit.coded_clip(job.write("footage/top-1.mp4", b""), Fraction(30), 160, stamps=stamps)
    job.write("job.md", coded_plan("30").replace("  b:", "  top:").replace("camera: b", "camera: top"))
    lines = [("start", "0:01.25"), ("keep", "0:01.25"), ("done", "0:03.75")]
    job.write(
        "bench.csv",
        "time,kind,step\n" + "".join(f"top-1.mp4 @ {place},{kind},look-b\n" for kind, place in lines),
    )
    done = run("check", job.root)
    assert "CLIP-VARIABLE" in done.out
    assert run("plan", job.root).status == 0
    assert run("draft", job.root).status == 0
    plan = json.loads((job.root / "out" / "plan.json").read_text())
    (segment,) = [s for s in plan["segments"] if s["speed"] == "1"]
    seen = kit.numbers_in(job.root / "out" / "draft.mp4")[segment["start_frame"] :][
        : segment["frames"] - segment["hold_frames"]
    ]
    for n, number in enumerate(seen):
        assert number is not None
        shown_from, shown_until = stamps[number], stamps[number + 1]
        wanted = Fraction(5, 4) + Fraction(n, 30)
        assert shown_from - Fraction(1, 60) <= wanted <= shown_until + Fraction(1, 60)


@pytest.mark.parametrize("path", kit.real_clips(), ids=lambda p: p.name)
def test_real_camera_footage_goes_the_whole_road(path: Path, job: JobFolder, run: Callable[..., Run]) -> None:
    name = f"top-{path.name}"
    job.write(f"footage/{name}", path.read_bytes())
    clip = kit.clips_in(job.root).get(f"footage/{name}")
    assert clip is not None
    end = f"0:{int(clip.duration * 1000) / 1000:06.3f}"
    job.write(
        "bench.jsonl",
        json.dumps({"time": f"{name} @ 0:00.000", "kind": "start", "step": "screws"})
        + "\n"
        + json.dumps({"time": f"{name} @ {end}", "kind": "done"})
        + "\n",
    )
    assert run("plan", job.root).status == 0
    done = run("draft", job.root)
    assert done.status == 0, done.text
    plan = json.loads((job.root / "out" / "plan.json").read_text())
    shown = [s for s in plan["segments"] if s["step"] == "screws" and s["clip"]]
    assert shown, done.text
    with av.open(str(job.root / "out" / "draft.mp4")) as container:
        frames = [frame.to_ndarray(format="gray") for frame in container.decode(video=0)]
    assert len(frames) == plan["frames"]
    assert {frame.shape for frame in frames} == {(180, 320)}
    first = shown[0]["start_frame"]
    # A picture, not a flat card: real footage has detail.
    assert np.std(frames[first + shown[0]["frames"] // 2].astype(float)) > 8


def test_second_draft_renders_only_what_changed(job: JobFolder, run: Callable[..., Run]) -> None:
    kit.coded_clip(job.write("footage/top-1.mp4", b""), Fraction(25), 250)
    marks = [
        ("start", "screws", "0:01"),
        ("done", "screws", "0:08"),
        ("start", "solder", "0:08"),
        ("done", "solder", "0:09.5"),
    ]
    job.write(
        "bench.csv",
        "time,kind,step\n" + "".join(f"top-1.mp4 @ {place},{kind},{step}\n" for kind, step, place in marks),
    )
    first = run("draft", job.root)
    assert " 0 kept" in first.out
    again = run("draft", job.root)
    assert " 0 pieces rendered" in again.out
    text = (job.root / "job.md").read_text()
    job.write("job.md", text.replace("Four screws hold the base", "Only four screws hold the base"))
    edited = run("draft", job.root)
    rendered = int(edited.out.split(", ")[1].split()[0])
    assert 0 < rendered < int(first.out.split(", ")[1].split()[0])


def test_draft_is_the_same_bytes_each_time(job: JobFolder, run: Callable[..., Run]) -> None:
    run("draft", job.root)
    first = (job.root / "out" / "draft.mp4").read_bytes()
    for path in sorted((job.root / "out").rglob("*"), reverse=True):
        path.rmdir() if path.is_dir() else path.unlink()
    run("draft", job.root)
    assert (job.root / "out" / "draft.mp4").read_bytes() == first
