"""Stopping a render: by the event, by Ctrl-C, by a failure of ffmpeg. Nothing half-written stays.

Sources: the process table of the operating system, and the folder's own listing.
"""

from __future__ import annotations

import os
import signal
import subprocess
import sys
import threading
import time
from fractions import Fraction
from pathlib import Path

import pytest

from episodekit.base.time import Rate
from episodekit.outside.errors import Cancelled, MediaError
from episodekit.outside.media.engine import render
from episodekit.timeline.model import Card, Segment, Timeline
from tests.media import kit

RATE = Rate.parse("25")
SIZE = (1280, 720)


def long_plan() -> Timeline:
    """Some seconds of work: the same clip, slowed so that it lasts, in six segments."""
    segments = [kit.shot("footage/r50.mp4", Fraction(index), 250, RATE, Fraction(1, 4)) for index in range(6)]
    return kit.timeline(RATE, segments, width=SIZE[0], height=SIZE[1])


def leftovers(folder: Path) -> list[str]:
    """Files that no finished render leaves behind."""
    kept = {".h264", ".s16", ".sum"}
    return sorted(
        str(path.relative_to(folder))
        for path in folder.rglob("*")
        if (path.suffix not in kept and path.name != "cache") or path.parent.name.startswith("work-")
    )


def test_cancelled_render_leaves_nothing_and_the_next_one_goes_on_from_there(
    coded_job: Path, tmp_path: Path
) -> None:
    stop, seen = threading.Event(), []

    def progress(done: int, total: int) -> None:
        seen.append((done, total))
        if any((tmp_path / "cache").glob("*.h264")):
            stop.set()

    clips, target = kit.clips_in(coded_job), tmp_path / "draft.mp4"
    with pytest.raises(Cancelled):
        render(
            long_plan(),
            clips,
            coded_job,
            target,
            tmp_path / "cache",
            workers=2,
            progress=progress,
            cancelled=stop,
        )
    assert leftovers(tmp_path) == []
    assert kit.ffmpeg_children() == []
    done = [done for done, _ in seen]
    assert done == sorted(done)
    assert {total for _, total in seen} == {1500}

    made = render(long_plan(), clips, coded_job, target, tmp_path / "cache", workers=2)
    assert made.segments_reused >= 1
    assert made.segments_reused + made.segments_rendered == 6
    assert leftovers(tmp_path) == ["draft.mp4"]
    again = render(long_plan(), clips, coded_job, target, tmp_path / "cache")
    assert (again.segments_rendered, again.segments_reused) == (0, 6)


SCRIPT = """
import sys
from pathlib import Path
sys.path[:0] = {path!r}
from tests.media import kit
from tests.media.test_cancel import long_plan
from episodekit.outside.media.engine import render
root, out = Path({root!r}), Path({out!r})
try:
    render(long_plan(), kit.clips_in(root), root, out / "draft.mp4", out / "cache", workers=2,
           progress=lambda done, total: print(done, flush=True))
except KeyboardInterrupt:
    sys.exit(130)
"""


def test_ctrl_c_ends_the_children_and_removes_what_they_wrote(coded_job: Path, tmp_path: Path) -> None:
    script = SCRIPT.format(path=[str(Path(__file__).parents[2])], root=str(coded_job), out=str(tmp_path))
    with subprocess.Popen(
        [sys.executable, "-c", script], stdout=subprocess.PIPE, text=True, start_new_session=True
    ) as run:
        assert run.stdout is not None
        while int(run.stdout.readline() or 1500) == 0:
            pass
        os.killpg(run.pid, signal.SIGINT)  # what the terminal does: every process of the group hears it
        run.stdout.read()
        assert run.wait(20) == 130
    assert leftovers(tmp_path) == []
    time.sleep(0.1)
    assert running_on(tmp_path) == []


def running_on(folder: Path) -> list[str]:
    """Command lines of processes that name the folder (Linux; elsewhere the listing above must do)."""
    found = []
    for words in Path("/proc").glob("[0-9]*/cmdline"):
        try:
            line = words.read_bytes().replace(b"\0", b" ").decode(errors="replace")
        except OSError:
            continue
        if str(folder) in line and "ffmpeg" in line:
            found.append(line)
    return found


def test_older_draft_survives_a_render_that_fails(coded_job: Path, tmp_path: Path) -> None:
    target = tmp_path / "draft.mp4"
    target.write_bytes(b"the draft of yesterday")
    clips = kit.clips_in(coded_job)
    plan = kit.timeline(RATE, [kit.slate(30)])
    with pytest.raises(MediaError) as caught:
        render(plan, clips, coded_job, target, tmp_path / "cache", ffmpeg=str(tmp_path / "no-such-program"))
    assert "ffmpeg" in str(caught.value)
    with pytest.raises(MediaError) as caught:
        render(plan, clips, coded_job, target, tmp_path / "cache", ffmpeg=sys.executable)
    assert caught.value.command
    assert target.read_bytes() == b"the draft of yesterday"
    assert [path.name for path in tmp_path.iterdir() if path.name != "cache"] == ["draft.mp4"]


def test_encoder_that_refuses_is_breakage_with_command_and_log(coded_job: Path, tmp_path: Path) -> None:
    plan = Timeline("Odd", RATE, 321, 181, (Segment(kit.Frames(10), Card("Odd size")),))
    with pytest.raises(MediaError) as caught:
        render(plan, {}, coded_job, tmp_path / "draft.mp4", tmp_path / "cache")
    assert "libx264" in caught.value.command
    assert caught.value.log
    assert not (tmp_path / "draft.mp4").exists()


def test_footage_without_a_picture_becomes_a_slate_and_a_finding(coded_job: Path, tmp_path: Path) -> None:
    (tmp_path / "footage").mkdir()
    whole = kit.coded_clip(tmp_path / "whole.mp4", Fraction(25), 100)
    path = tmp_path / "footage" / "bad.mp4"
    path.write_bytes(whole.read_bytes())
    clips = kit.clips_in(tmp_path)
    data = bytearray(path.read_bytes())
    start = data.index(b"mdat") + 4
    size = int.from_bytes(data[start - 8 : start - 4], "big") - 8
    data[start : start + size] = bytes(size)  # every packet blank, the index whole
    path.write_bytes(data)
    gone = kit.shot("footage/gone.mp4", Fraction(0), 25, RATE)
    plan = kit.timeline(RATE, [kit.shot("footage/bad.mp4", Fraction(1), 25, RATE), gone, kit.slate(25)])
    target = tmp_path / "draft.mp4"
    made = render(plan, clips, tmp_path, target, tmp_path / "cache")
    assert [(f.code, str(f.at)) for f in made.findings] == [
        ("DRAFT-UNREADABLE", "footage/bad.mp4"),
        ("DRAFT-UNREADABLE", "footage/gone.mp4"),
    ]
    frames = kit.grey_frames(target)
    assert len(frames) == 75
    assert all(kit.number_in(frame) is None for frame in frames)
    assert frames[10].std() > 5  # a card with letters, not an empty frame
