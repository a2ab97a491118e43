"""A sync.json that is broken, or of other clips; a job of which sync cannot read all. Expected words are by hand."""

from __future__ import annotations

import json
from dataclasses import replace
from datetime import datetime, timedelta, timezone
from fractions import Fraction
from pathlib import Path
from typing import Any

import pytest
from typer.testing import CliRunner

from episodekit.base.place import Place
from episodekit.base.time import Rate
from episodekit.bench.model import WALL, Moment, Span, SpanKind
from episodekit.cli import app
from episodekit.fit.match import match_step
from episodekit.footage.clocks import place_clips
from episodekit.footage.model import Clip, PlacedClip
from episodekit.outside.clocks.sync_file import read_sync, write_sync
from episodekit.outside.clocks.sync_page import sync_page
from episodekit.outside.errors import MediaError
from episodekit.outside.job_folder import out_folder
from episodekit.sync.ladder import climb
from tests.media import kit
from tests.sync import busy_job
from tests.sync.test_ladder import clip, clue, plan


def written(root: Path) -> tuple[Path, list[Clip]]:
    """A sync.json of two clips, the first measured."""
    clips = [clip("top-1.mp4", 0), clip("top-2.mp4", 900)]
    there, _ = place_clips(clips, plan())
    return write_sync(root, climb(there, [clue("top-1.mp4", 10, 14.5)], plan())[0]), clips


@pytest.mark.parametrize(
    ("key", "value", "said"),
    [
        ("start", "9" * 40, "the place of footage/top-2.mp4 is impossible"),
        ("start", "-" + "9" * 40, "the place of footage/top-2.mp4 is impossible"),
        ("start", None, "the place of footage/top-2.mp4 is impossible"),
        ("within", None, "the place of footage/top-2.mp4 is impossible"),
        ("within", "-5", "the place of footage/top-2.mp4 is impossible"),
        ("pace", "19/10", "the place of footage/top-2.mp4 is impossible"),
        ("start", "soon", "'clips 2 start' is not as sync writes it"),
        ("start", 1.5, "'clips 2 start' is not as sync writes it"),
        ("mood", "good", "'clips 2 mood' is not as sync writes it"),
    ],
)
def test_a_value_that_sync_cannot_have_written_is_told_in_plain_words(
    key: str, value: Any, said: str, tmp_path: Path
) -> None:
    file, clips = written(tmp_path)
    held = json.loads(file.read_bytes())
    held["clips"][1][key] = value
    file.write_text(json.dumps(held))
    known, told = read_sync(tmp_path, clips)
    assert not known
    assert [(one.code, one.message) for one in told] == [("SYNC-BROKEN", f"It cannot be read: {said}.")]


def test_a_file_that_is_torn_or_of_another_version_is_told_in_plain_words(tmp_path: Path) -> None:
    file, clips = written(tmp_path)
    whole = file.read_text()
    lines = whole.splitlines()
    said = {
        "": "line 1 is not JSON",
        "\n".join(lines[:4]) + "\n  @": "line 5 is not JSON",
        whole.replace('"version":1', '"version":2').replace('"version": 1', '"version": 2'): (
            "it is of another version"
        ),
        "[]": "'clips' is not as sync writes it",
    }
    for text, words in said.items():
        file.write_text(text)
        (told,) = read_sync(tmp_path, clips)[1]
        assert told.message == f"It cannot be read: {words}."


def test_what_stands_in_the_place_of_the_file_is_named_and_no_path_of_the_machine(tmp_path: Path) -> None:
    (tmp_path / "out" / "sync.json").mkdir(parents=True)
    (told,) = read_sync(tmp_path, [])[1]
    assert told.message == "It cannot be opened: is a directory."
    assert told.remedy.startswith("Remove it")
    other = tmp_path / "other"
    other.mkdir()
    (other / "out").write_text("")
    assert read_sync(other, []) == ({}, ())


def test_clips_that_were_renamed_or_swapped_are_known_by_what_they_hold(tmp_path: Path) -> None:
    _, (one, two) = written(tmp_path)
    renamed = replace(one, path="footage/top-9.mp4")
    known, told = read_sync(tmp_path, [renamed, two])
    assert list(known) == [two.path]
    assert [(found.code, str(found.at)) for found in told] == [("SYNC-STALE", "out/sync.json")]
    assert told[0].message == (
        "This clip is not as when sync was run: top-9.mp4 (what top-1.mp4 was). It lies where its file says."
    )
    (found,) = read_sync(tmp_path, [one, renamed, two])[1]
    assert "top-9.mp4 (a copy of top-1.mp4)." in found.message
    swapped = [replace(one, path=two.path), replace(two, path=one.path)]
    known, told = read_sync(tmp_path, swapped)
    assert not known
    assert [found.code for found in told] == ["SYNC-STALE"]
    assert "top-2.mp4 (what top-1.mp4 was), top-1.mp4 (what top-2.mp4 was)." in told[0].message
    new = [replace(one, path=f"footage/new-{n}.mp4", identity=f"new {n}") for n in range(5)]
    (found,) = read_sync(tmp_path, [replace(two, identity="another"), *new])[1]
    assert found.message == (
        "These clips are not as when sync was run: top-2.mp4 (changed), new-0.mp4 (new), new-1.mp4 (new) and 3 more. "
        "They lie where their files say."
    )


def test_sync_says_what_of_the_log_and_the_footage_it_does_without(tmp_path: Path) -> None:
    job = tmp_path / "job"
    (job / "footage").mkdir(parents=True)
    text = (
        "---\ntitle: A\ncameras:\n  top: {view: overhead, clock: soon}\n---\n# One\n\n## Do {#do}\n> Words.\n"
    )
    (job / "job.md").write_text(text)
    ran = CliRunner().invoke(app, ["sync", str(job)])
    assert "There is no clip in footage/ that can be used." in ran.output
    (job / "footage" / "top-1.mp4").touch()
    lines = (
        '{"time": "2026-11-07T10:00:00", "kind": "start", "step": "do"}',
        '{"time": "2026-11-07T10:01:00+01:00", "kind": "start", "step": "doo"}',
        '{"time": "2026-11-07T',
    )
    (job / "bench.jsonl").write_text("\n".join(lines) + "\n")
    ran = CliRunner().invoke(app, ["sync", str(job)])
    assert ran.exit_code == 1
    for code in ("CLIP-NOT-MEDIA", "JOB-VALUE", "LOG-TIME", "LOG-STEP", "LOG-LINE"):
        assert code in ran.output
    assert "LOG-TIME" not in (page := (job / "out" / "sync.html").read_text(encoding="utf-8"))
    assert "has no offset from UTC" in page


def test_a_clip_whose_name_holds_control_characters_is_told_on_one_line(tmp_path: Path) -> None:
    """A line break, an escape sequence for the terminal, and one that shows what follows from right to left."""
    job = tmp_path / "job"
    (job / "footage").mkdir(parents=True)
    (job / "job.md").write_text(
        "---\ntitle: A\ncameras:\n  top: {view: overhead}\n---\n# One\n\n## Do {#do}\n> Words.\n"
    )
    kit.coded_clip(job / "footage" / "top-\n\x1b[2J\u202e1.mp4", Fraction(25), 5)
    for command in ("sync", "check"):
        ran = CliRunner().invoke(app, [command, str(job)])
        assert r"footage/top-\n\x1b[2J\u202e1.mp4: " in ran.output
        assert not {"\x1b", "\u202e"} & set(ran.output)


def test_who_was_placed_by_sync_is_not_told_to_look_at_the_setting_that_moves_nothing() -> None:
    front = plan("3 s behind")
    (step,) = front.all_steps()
    made = Clip("footage/top-1.mp4", Fraction(10), Rate.parse("25"), 64, 36, "h264", "id")
    for within, asked in ((Fraction(1, 100), "out/sync.html"), (None, "`episodekit sync`")):
        there = PlacedClip(made, "top", Fraction(100), within=within)
        for begin in (50, 105):  # before the clip; only its first half in the clip
            begun, end = (Moment(WALL, Fraction(at)) for at in (begin, begin + 10))
            span = Span(step.id, SpanKind.WORK, begun, end, "", Place("bench.jsonl"))
            told = match_step(step, (), (span,), (there,), front)[2]
            assert [asked in one.remedy for one in told if one.code == "CLIP-UNCOVERED"] == [True]


def test_the_page_shows_the_times_that_the_log_was_written_in() -> None:
    job, read, synced, findings = busy_job.job()
    bare = read.model_copy(update={"front": read.front.model_copy(update={"utc_offset": None})})
    west = timezone(timedelta(hours=-5))
    instants = [one.when for one in job.marks if isinstance(one.when, datetime)]
    pairs = zip(job.marks, instants, strict=True)
    marks = tuple(replace(one, when=when.astimezone(west)) for one, when in pairs)
    page = sync_page(replace(job, plan=bare, marks=marks), bare, synced, findings)
    assert "Times are UTC-05:00." in page
    assert f"{busy_job.MORNING.astimezone(west):%H:%M}" == "04:00"
    assert "03:59:40" in page  # the first clips roll 20 s before the first step


def test_the_page_claims_nothing_of_steps_where_none_is_logged() -> None:
    job, read, synced, findings = busy_job.job()
    page = sync_page(replace(job, marks=()), read, synced, findings)
    assert "No step is logged." in page
    assert "some camera was running in every step" not in page


def test_what_is_kept_never_leads_into_the_footage(tmp_path: Path) -> None:
    (tmp_path / "footage").mkdir()
    (tmp_path / "out" / "cache").mkdir(parents=True)
    (tmp_path / "out" / "cache" / "clocks").symlink_to(tmp_path / "footage")
    with pytest.raises(MediaError, match="never written to"):
        out_folder(tmp_path)
