"""`sync` on the sample job: the file and the page are made, and what is compiled from them is what was before."""

from __future__ import annotations

import json
import shutil
from pathlib import Path

from typer.testing import CliRunner

from episodekit.cli import app
from episodekit.outside.job_folder import compile_job, open_job

SAMPLE = Path(__file__).resolve().parents[2] / "sample_jobs" / "clear-shell"


def test_a_job_is_compiled_the_same_when_its_cameras_clocks_were_right(tmp_path: Path) -> None:
    job = tmp_path / "job"
    shutil.copytree(SAMPLE, job, ignore=shutil.ignore_patterns("out"))
    before, _ = compile_job(open_job(job))
    ran = CliRunner().invoke(app, ["sync", str(job)])
    assert ran.exit_code == 0, ran.output
    held = json.loads((job / "out" / "sync.json").read_text(encoding="utf-8"))
    assert [clip["path"] for clip in held["clips"]] == sorted(clip["path"] for clip in held["clips"])
    assert all(clip["start"] is not None for clip in held["clips"])
    page = (job / "out" / "sync.html").read_text(encoding="utf-8")
    assert "top-1.mp4" in page
    assert "<script" not in page
    after, _ = compile_job(open_job(job))
    assert before is not None
    assert after is not None
    assert after.timeline.segments == before.timeline.segments


def test_a_job_without_a_plan_is_told_so(tmp_path: Path) -> None:
    ran = CliRunner().invoke(app, ["sync", str(tmp_path)])
    assert ran.exit_code == 1
    assert "job.md" in ran.output
