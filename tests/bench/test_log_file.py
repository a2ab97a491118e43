"""The log file as the server keeps it: on disk before it is told to be safe, and the creator's own all the while."""

from __future__ import annotations

import json
import os
import random
import re
import sys
import threading
from datetime import datetime, timedelta
from pathlib import Path

import pytest

from episodekit.base.time import Ms
from episodekit.bench.model import Kind
from episodekit.formats.bench_jsonl import read_bench_jsonl
from episodekit.formats.bench_posted import Posted
from episodekit.outside.bench_server import log_file, saved_over
from episodekit.outside.bench_server.disk import InUse, Lock
from episodekit.outside.bench_server.log_file import LogFile, LogUnwritable
from episodekit.outside.bench_server.logged import rfc3339

AT = Ms(1_794_063_600_000)  # 2026-11-07T10:00:00-05:00
OFFSET = timedelta(hours=-5)


def posted(number: int, kind: Kind = Kind.NOTE, device: str = "a", **more: str) -> Posted:
    fields = {"step": "", "text": "", "of": ""} | more
    return Posted(f"{device}-{number}", Ms(AT + 1000 * number), kind, **fields)


@pytest.fixture
def log(tmp_path: Path) -> LogFile:
    return LogFile(tmp_path, tmp_path / "missing-marks.jsonl", lambda text: None)


def ids(folder: Path) -> list[str]:
    marks, _ = read_bench_jsonl((folder / "bench.jsonl").read_bytes())
    return [mark.id for mark in marks]


def test_line_is_json_with_the_time_at_the_plans_offset(log: LogFile, tmp_path: Path) -> None:
    log.take([posted(1, Kind.START, step="screen")], OFFSET)
    assert (tmp_path / "bench.jsonl").read_text() == (
        '{"id": "a-1", "time": "2026-11-07T10:00:01.000-05:00", "kind": "start", "step": "screen"}\n'
    )


@pytest.mark.parametrize("offset", [None, timedelta(0), timedelta(hours=5, minutes=45)])
def test_time_is_rfc_3339_with_milliseconds(offset: timedelta | None) -> None:
    # RFC 3339, 5.6: date-time with time-secfrac and time-numoffset.
    text = rfc3339(Ms(AT + 7), offset)
    assert re.fullmatch(r"\d{4}-\d\d-\d\dT\d\d:\d\d:\d\d\.007[+-]\d\d:\d\d", text)
    assert round(datetime.fromisoformat(text).timestamp() * 1000) == AT + 7


def test_mark_is_on_disk_before_it_is_told_to_be_safe(
    log: LogFile, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    waited: list[bytes] = []
    real = log_file.to_disk

    def looked_at(number: int) -> None:
        waited.append((tmp_path / "bench.jsonl").read_bytes())
        real(number)

    monkeypatch.setattr(log_file, "to_disk", looked_at)
    taken, _ = log.take([posted(1), posted(2)], OFFSET)
    assert taken == ("a-1", "a-2")
    assert waited[-1].count(b"\n") == 2, (
        "the system was not asked to write the lines before they were acknowledged"
    )


def test_each_id_is_written_once(log: LogFile, tmp_path: Path) -> None:
    assert log.take([posted(1), posted(1), posted(2)], OFFSET) == (("a-1", "a-1", "a-2"), ())
    assert log.take([posted(2), posted(3)], OFFSET)[0] == ("a-2", "a-3")
    again = LogFile(tmp_path, tmp_path / "spare", lambda text: None)  # as after a restart
    assert again.take([posted(3), posted(4)], OFFSET)[0] == ("a-3", "a-4")
    assert ids(tmp_path) == ["a-1", "a-2", "a-3", "a-4"]


def test_another_mark_under_a_known_id_is_refused_and_not_lost_silently(log: LogFile, tmp_path: Path) -> None:
    log.take([posted(1)], OFFSET)
    late = Posted("a-1", Ms(AT + 3_600_000), Kind.DONE, "", "", "")
    taken, refused = log.take([late], OFFSET)
    assert (taken, [one.id for one in refused]) == ((), ["a-1"])
    assert ids(tmp_path) == ["a-1"]


@pytest.mark.parametrize(
    "torn", [b"{", b'{"id": "a-2", "ti', b'{"id": "a-2", "time": "x", "text": "\xc3', bytes(40)]
)
def test_torn_line_is_closed_and_its_mark_comes_again(log: LogFile, tmp_path: Path, torn: bytes) -> None:
    log.take([posted(1)], OFFSET)
    path = tmp_path / "bench.jsonl"
    path.write_bytes(path.read_bytes() + torn)
    again = LogFile(tmp_path, tmp_path / "spare", lambda text: None)
    assert again.take([posted(1), posted(2), posted(3)], OFFSET)[0] == ("a-1", "a-2", "a-3")
    marks, findings = read_bench_jsonl(path.read_bytes())
    assert [mark.id for mark in marks] == ["a-1", "a-2", "a-3"]
    assert [found.code for found in findings] == ["LOG-TORN"]
    assert again.look(OFFSET).unread == 0, "nothing is lost"


def test_power_cut_at_any_byte_of_a_batch(tmp_path: Path) -> None:
    """Whatever part of the last batch is there, the batch comes again and each mark is there once, in order."""
    whole = LogFile(tmp_path, tmp_path / "spare", lambda text: None)
    batch = [posted(n, text=f"Größe {n}") for n in range(3, 7)]
    path = tmp_path / "bench.jsonl"
    whole.take([posted(1), posted(2)], OFFSET)
    safe = path.stat().st_size
    whole.take(batch, OFFSET)
    raw = path.read_bytes()
    for kept in range(safe, len(raw) + 1):
        path.write_bytes(raw[:kept])
        LogFile(tmp_path, tmp_path / "spare", lambda text: None).take([*batch, posted(7)], OFFSET)
        marks, findings = read_bench_jsonl(path.read_bytes())
        assert [mark.id for mark in marks] == [f"a-{n}" for n in range(1, 8)]
        assert all(found.severity == "note" for found in findings)


def test_log_edited_by_hand_is_read_again_and_appended_to(log: LogFile, tmp_path: Path) -> None:
    log.take([posted(1, Kind.START, step="scren"), posted(2)], OFFSET)
    before = log.look(OFFSET)
    path = tmp_path / "bench.jsonl"
    by_hand = '{"time": "2026-11-07T10:00:02.5-05:00", "kind": "note", "text": "by hand"}\r\n# a scribble'
    path.write_text(path.read_text().replace("scren", "screen") + by_hand)
    mended = path.read_bytes()
    taken, refused = log.take([posted(1, Kind.START, step="scren"), posted(3)], OFFSET)
    assert (taken, refused) == (("a-1", "a-3"), ())
    after = log.look(OFFSET)
    assert path.read_bytes().startswith(mended + b"\n")
    assert [one.mark.text or one.mark.step or one.mark.id for one in after.marks] == [
        "screen",
        "a-2",
        "by hand",
        "a-3",
    ]
    assert (after.unread, after.edition == before.edition) == (1, False)


def test_log_saved_under_its_name_as_editors_do_gets_what_comes_later(log: LogFile, tmp_path: Path) -> None:
    log.take([posted(1), posted(2)], OFFSET)
    path, part = tmp_path / "bench.jsonl", tmp_path / "bench.jsonl~"
    part.write_bytes(path.read_bytes())
    part.replace(path)
    assert log.take([posted(2), posted(3)], OFFSET)[0] == ("a-2", "a-3")
    assert ids(tmp_path) == ["a-1", "a-2", "a-3"]


def test_line_mended_badly_still_has_its_id(log: LogFile, tmp_path: Path) -> None:
    log.take([posted(1), posted(2)], OFFSET)
    path = tmp_path / "bench.jsonl"
    path.write_text(path.read_text().replace('"note"', '"nope"', 1))
    assert log.take([posted(1)], OFFSET)[0] == ("a-1",)
    assert path.read_text().count("a-1") == 1


def test_marks_that_an_editor_saved_over_are_told_and_kept_aside(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    told: list[str] = []
    log = LogFile(tmp_path, tmp_path / "missing-marks.jsonl", told.append)
    log.take([posted(1)], OFFSET)
    path = tmp_path / "bench.jsonl"
    opened_in_the_editor = path.read_bytes()
    log.take([posted(2, text="while it was open"), posted(3)], OFFSET)
    path.write_bytes(opened_in_the_editor)
    log.look(OFFSET)
    assert not told, "an editor may save in two goes"
    monkeypatch.setattr(saved_over, "_SETTLED", -1.0)
    log.look(OFFSET)
    assert len(told) == 1
    assert "2 marks" in told[0]
    assert [
        json.loads(line)["id"] for line in (tmp_path / "missing-marks.jsonl").read_text().splitlines()
    ] == ["a-2", "a-3"]
    assert path.read_bytes() == opened_in_the_editor, "what was deleted on purpose must not come back"
    assert log.take([posted(2)], OFFSET)[0] == ("a-2",)
    log.look(OFFSET)
    assert len(told) == 1
    assert path.read_bytes() == opened_in_the_editor


@pytest.mark.parametrize("stands_in_the_way", [False, True])
def test_log_goes_on_when_the_folder_of_its_copies_was_deleted(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, stands_in_the_way: bool
) -> None:
    monkeypatch.setattr(saved_over, "_SETTLED", -1.0)
    told: list[str] = []
    spare = tmp_path / "out" / "bench" / "missing-marks.jsonl"
    log = LogFile(tmp_path, spare, told.append)
    if stands_in_the_way:
        (tmp_path / "out").write_text("")
    log.take([posted(1, text="the plug lifts")], OFFSET)
    (tmp_path / "bench.jsonl").write_bytes(b"")
    log.look(OFFSET)
    log.look(OFFSET)
    assert log.take([posted(2)], OFFSET)[0] == ("a-2",)
    assert ids(tmp_path) == ["a-2"]
    assert len(told) == 1
    kept = told[0] if stands_in_the_way else spare.read_text()
    assert "the plug lifts" in kept


def test_job_folder_that_went_away_is_told_and_takes_marks_when_it_is_back(tmp_path: Path) -> None:
    job, moved = tmp_path / "job", tmp_path / "moved"
    job.mkdir()
    log = LogFile(job, tmp_path / "spare", lambda text: None)
    log.take([posted(1)], OFFSET)
    job.rename(moved)
    with pytest.raises(LogUnwritable, match="no such file or directory"):
        log.take([posted(2)], OFFSET)
    moved.rename(job)
    assert log.take([posted(2)], OFFSET)[0] == ("a-2",)
    assert ids(job) == ["a-1", "a-2"]


@pytest.mark.parametrize("in_its_place", [False, True])
def test_no_log_is_begun_where_the_job_folder_was(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, in_its_place: bool
) -> None:
    """The folder is moved, or its drive pulled and the empty folder it was mounted on is left."""
    monkeypatch.setattr(saved_over, "_SETTLED", -1.0)
    job, moved, told = tmp_path / "job", tmp_path / "moved", list[str]()
    job.mkdir()
    log = LogFile(job, job / "out" / "bench" / "missing-marks.jsonl", told.append)
    log.take([posted(1)], OFFSET)
    job.rename(moved)
    if in_its_place:
        job.mkdir()
    for _ in range(3):
        with pytest.raises(LogUnwritable, match="no such file or directory"):
            log.look(OFFSET)
        with pytest.raises(LogUnwritable, match="no such file or directory"):
            log.take([posted(2)], OFFSET)
    if in_its_place:
        job.rmdir()
    assert not job.exists()
    moved.rename(job)
    assert log.take([posted(2)], OFFSET)[0] == ("a-2",)
    assert (ids(job), told) == (["a-1", "a-2"], [])


def _folder(path: Path) -> None:
    path.mkdir()


def _link(path: Path) -> None:
    (path.parent / "elsewhere").write_text("")
    path.symlink_to(path.parent / "elsewhere")


def _pipe(path: Path) -> None:
    os.mkfifo(path)


def _utf16(path: Path) -> None:
    path.write_bytes('{"time": "2026-11-07T10:00:00Z", "kind": "note"}\n'.encode("utf-16"))


@pytest.mark.skipif(sys.platform == "win32", reason="links and pipes are of Unix")
@pytest.mark.parametrize("make", [_folder, _link, _pipe, _utf16])
def test_log_that_is_no_plain_file_takes_no_mark(log: LogFile, tmp_path: Path, make: object) -> None:
    assert callable(make)
    make(tmp_path / "bench.jsonl")
    with pytest.raises(LogUnwritable, match=r"bench\.jsonl"):
        log.take([posted(1)], OFFSET)
    with pytest.raises(LogUnwritable):
        log.look(OFFSET)


def test_many_threads_write_each_mark_once_and_each_devices_in_order(log: LogFile, tmp_path: Path) -> None:
    def deliver(device: str) -> None:
        chance = random.Random(device)
        sent = 0
        while sent < 60:
            some = [posted(n, device=device) for n in range(max(1, sent - 2), sent + chance.randint(1, 4))]
            taken, _ = log.take(some, OFFSET)
            sent = int(taken[-1].rpartition("-")[2])

    threads = [threading.Thread(target=deliver, args=(name,)) for name in ("p", "q", "r")]
    for thread in threads:
        thread.start()
    while any(thread.is_alive() for thread in threads):
        log.look(OFFSET)
    found = ids(tmp_path)
    for name in ("p", "q", "r"):
        own = [int(one.rpartition("-")[2]) for one in found if one.startswith(name)]
        assert own == list(range(1, own[-1] + 1))
        assert len(own) >= 60


def test_lock_is_held_by_one_and_let_go(tmp_path: Path) -> None:
    lock = Lock(tmp_path / "lock")
    with pytest.raises(InUse):
        Lock(tmp_path / "lock")
    lock.free()
    Lock(tmp_path / "lock").free()
