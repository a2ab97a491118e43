"""Broken media: each with its finding, a draft all the same, and raw files untouched."""

from __future__ import annotations

import json
import os
import sys
from collections.abc import Callable
from fractions import Fraction
from pathlib import Path

import av
import numpy as np
import pytest

from tests.conftest import JobFolder, Run
from tests.media import kit


@pytest.fixture(scope="module")
def good(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """Ten seconds of coded frames at 25 with a tone."""
    path = tmp_path_factory.mktemp("good") / "good.mp4"
    tone = (0.3 * np.sin(np.arange(480_000) / 20)).astype(np.float32)
    frames = (kit.coded_frame(n) for n in range(250))
    return kit.encode(
        path, frames, Fraction(25), sound=tone, tags={"creation_time": "2026-11-07T15:00:00.000000Z"}
    )


def log(*marks: tuple[str, str, str]) -> str:
    return "".join(
        json.dumps({"time": time, "kind": kind, "step": step}) + "\n" for time, kind, step in marks
    )


def wall(second: int) -> str:
    return f"2026-11-07T15:00:{second:02d}Z"


WHOLE = log((wall(1), "start", "screws"), (wall(9), "done", "screws"))


def cut_before_index(raw: bytes) -> bytes:
    """A phone that lost power: the index at the end was never written."""
    return raw[: raw.index(b"moov") - 4]


def faststart(path: Path, tmp: Path) -> bytes:
    moved = kit.remux(path, tmp / "moved.mp4", "-movflags", "+faststart", "-map_metadata", "0")
    raw = moved.read_bytes()
    return raw[: len(raw) * 6 // 10]


def without_sound(path: Path, tmp: Path) -> bytes:
    return kit.remux(path, tmp / "mute.mp4", "-an", "-map_metadata", "0").read_bytes()


def only_sound(path: Path, tmp: Path) -> bytes:
    return kit.remux(path, tmp / "sound.m4a", "-vn").read_bytes()


BROKEN: dict[str, tuple[Callable[[Path, Path], bytes], str, str, str]] = {
    "zero bytes": (lambda p, t: b"", "top-1.mp4", "CLIP-NOT-MEDIA", "error"),
    "text as mp4": (lambda p, t: b"This is no film.\n" * 99, "top-1.mp4", "CLIP-NOT-MEDIA", "error"),
    "random bytes": (
        lambda p, t: bytes(n * 37 % 251 for n in range(9000)),
        "top-1.mov",
        "CLIP-NOT-MEDIA",
        "error",
    ),
    "cut off before its index": (
        lambda p, t: cut_before_index(p.read_bytes()),
        "top-1.mp4",
        "CLIP-NOT-MEDIA",
        "error",
    ),
    "cut off after its index": (faststart, "top-1.mp4", "CLIP-DAMAGED", "warning"),
    "sound only": (only_sound, "top-1.m4a", "CLIP-NOT-MEDIA", "error"),
    "no sound": (without_sound, "top-1.mp4", "CLIP-NO-SOUND", "note"),
    "a photo": (lambda p, t: photo(t), "top-1.jpg", "CLIP-NOT-MEDIA", "error"),
    "of no camera": (lambda p, t: p.read_bytes(), "IMG_0001.mp4", "CLIP-NO-CAMERA", "warning"),
    "without creation time": (lambda p, t: no_clock(p, t), "top-1.mp4", "CLIP-NO-CLOCK", "warning"),
}


def photo(tmp: Path) -> bytes:
    from PIL import Image

    path = tmp / "photo.jpg"
    Image.new("RGB", (64, 48), "gray").save(path)
    return path.read_bytes()


def no_clock(path: Path, tmp: Path) -> bytes:
    return kit.remux(path, tmp / "bare.mp4", "-map_metadata", "-1").read_bytes()


@pytest.mark.parametrize("name", BROKEN)
def test_broken_clip_is_a_finding_and_the_draft_is_made(
    name: str, good: Path, job: JobFolder, run: Callable[..., Run], tmp_path: Path
) -> None:
    make, file, code, severity = BROKEN[name]
    job.write(f"footage/{file}", make(good, tmp_path))
    job.write("bench.jsonl", WHOLE)
    done = run("check", job.root, "--format", "json")
    found = [f for f in json.loads(done.out)["findings"] if f["code"] == code]
    assert [(f["file"], f["severity"]) for f in found] == [(f"footage/{file}", severity)]
    assert found[0]["remedy"]
    assert done.status == (1 if severity == "error" else 0)
    assert run("draft", job.root).status == done.status
    with av.open(str(job.root / "out" / "draft.mp4")) as container:
        assert container.streams.video[0].frames > 0


def test_clip_with_another_ending_is_read_all_the_same(
    good: Path, job: JobFolder, run: Callable[..., Run]
) -> None:
    job.write("footage/top-1.avi", good.read_bytes())
    job.write("bench.jsonl", WHOLE)
    assert run("check", job.root).status == 0
    assert run("draft", job.root).status == 0


def test_clip_that_ends_before_its_logged_step(good: Path, job: JobFolder, run: Callable[..., Run]) -> None:
    job.write("footage/top-1.mp4", good.read_bytes())
    job.write("bench.jsonl", log((wall(1), "start", "screws"), (wall(40), "done", "screws")))
    done = run("check", job.root)
    assert done.status == 0
    assert "CLIP-UNCOVERED" in done.out
    assert "lacks 30 s" in done.out
    assert run("draft", job.root).status == 0


def test_truncated_clip_is_used_as_far_as_it_goes(
    good: Path, job: JobFolder, run: Callable[..., Run], tmp_path: Path
) -> None:
    job.write("footage/top-1.mp4", faststart(good, tmp_path))
    job.write("bench.jsonl", WHOLE)
    done = run("draft", job.root)
    assert done.status == 0
    assert "CLIP-DAMAGED" in done.text
    run("plan", job.root)
    plan = json.loads((job.root / "out" / "plan.json").read_text())
    ends = [float(Fraction(s["end_seconds"])) for s in plan["segments"] if s["clip"]]
    assert ends
    assert max(ends) < 9


def test_stretch_that_cannot_be_decoded_becomes_a_slate(
    good: Path, job: JobFolder, run: Callable[..., Run], tmp_path: Path
) -> None:
    job.write("footage/top-1.mp4", garbled(good, tmp_path))
    job.write("bench.jsonl", WHOLE)
    done = run("draft", job.root)
    assert done.status == 0
    assert "DRAFT-UNREADABLE" in done.text


def garbled(path: Path, tmp: Path) -> bytes:
    """All of the sample data overwritten, the index whole: the clip opens and nothing decodes."""
    raw = bytearray(path.read_bytes())
    start = raw.index(b"mdat") + 4
    end = raw.index(b"moov") - 4 if raw.index(b"moov") > start else len(raw)
    for at in range(start, end):
        raw[at] = at * 37 % 251
    return bytes(raw)


def test_two_logs_are_both_read(good: Path, job: JobFolder, run: Callable[..., Run]) -> None:
    job.write("footage/top-1.mp4", good.read_bytes())
    job.write("bench.jsonl", WHOLE)
    job.write("bench.csv", "time,kind,step\n2026-11-07T15:00:09.5Z,note,\n")
    done = run("check", job.root)
    assert done.status == 0
    assert "LOG-TWO-LOGS" in done.out


def test_sidecars_and_hidden_files_are_no_footage(
    good: Path, job: JobFolder, run: Callable[..., Run]
) -> None:
    job.write("footage/top/0001.mp4", good.read_bytes())
    for name in ("top/0001.THM", "top/0001.xml", ".DS_Store", ".trash/old.mp4", "notes.txt"):
        job.write(f"footage/{name}", b"x")
    job.write("bench.jsonl", WHOLE)
    assert run("check", job.root).out.count("CLIP-NOT-MEDIA") == 0


def test_footage_on_a_drive_is_found_through_links_and_missed_when_the_drive_is_gone(
    good: Path, job: JobFolder, run: Callable[..., Run]
) -> None:
    """A camera's folder is a link, another leads back to footage/; then footage/ leads nowhere, or is a file."""
    drive = job.root / "drive"
    drive.mkdir()
    (drive / "0001.mp4").write_bytes(good.read_bytes())
    footage = job.root / "footage"
    footage.mkdir()
    (footage / "top").symlink_to(drive)
    (footage / "loop").symlink_to(footage)
    job.write("bench.jsonl", WHOLE)
    assert run("check", job.root).status == 0
    run("plan", job.root)
    plan = json.loads((job.root / "out" / "plan.json").read_text())
    assert {s["clip"] for s in plan["segments"] if s["clip"]} == {"footage/top/0001.mp4"}
    footage.rename(job.root / "before")
    footage.symlink_to(job.root / "away")
    done = run("check", job.root)
    assert done.status == 1
    assert "footage: error CLIP-FOLDER: The folder cannot be opened: no such file or directory." in done.out
    footage.unlink()
    footage.touch()
    assert "CLIP-FOLDER" in run("check", job.root).out


def test_folder_named_like_a_clip_and_a_log_that_is_a_folder(job: JobFolder, run: Callable[..., Run]) -> None:
    (job.root / "footage" / "top-1.mp4").mkdir(parents=True)
    (job.root / "bench.jsonl").mkdir()
    done = run("check", job.root)
    assert done.status == 1
    assert "LOG-PRIVATE" in done.out  # what it hides cannot be told, so no draft is cut


def test_names_with_spaces_quotes_and_signs(good: Path, job: JobFolder, run: Callable[..., Run]) -> None:
    name = "top 'a' [1], é;%25 \"b\".mp4"
    job.write(f"footage/{name}", good.read_bytes())
    job.write("bench.jsonl", WHOLE)
    assert run("draft", job.root).status == 0
    run("plan", job.root)
    plan = json.loads((job.root / "out" / "plan.json").read_text())
    assert [s["clip"] for s in plan["segments"] if s["clip"]] == [f"footage/{name}"]


@pytest.mark.skipif(sys.platform != "linux", reason="only Linux lets a name hold bytes that are no letters")
def test_name_that_is_no_text_is_a_finding(good: Path, job: JobFolder, run: Callable[..., Run]) -> None:
    job.write(os.fsdecode(b"footage/top-\xff.mp4"), good.read_bytes())
    done = run("check", job.root, "--format", "json")
    assert done.status == 1
    assert [f["file"] for f in json.loads(done.out)["findings"] if f["code"] == "CLIP-NAME"] == [
        "footage/top-\\udcff.mp4"
    ]
    assert run("draft", job.root).status == 1
