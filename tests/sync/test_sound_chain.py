"""Sound goes on from clip to clip: one that heard nothing of the clip with the clock is placed through one that did.

Every place is known from how the clips were made (`rooms.py`).
"""

from __future__ import annotations

from dataclasses import replace
from fractions import Fraction
from pathlib import Path

import numpy as np
import pytest

from episodekit.footage.model import Clip
from episodekit.job.reader import read_plan
from episodekit.outside.clocks.job_sync import sync_job
from episodekit.outside.job_folder import OpenJob
from episodekit.sync.model import Clue, Rung, Synced
from tests.media import kit
from tests.sync.rooms import Camera, bench, clip, heard

PLAN = (
    "---\ntitle: A\ncameras:\n  near: {view: macro}\n  mid: {view: side}\n  far: {view: overhead}\n"
    "  hall: {view: door}\n---\n# One\n\n## Do\n\nWords here.\n"
)
ROOM = Fraction(1_764_072_000)
CAMERAS = {
    "near": Camera(3.0, 32, 0.00004),
    "mid": Camera(18.5, 36, -0.00003),
    "far": Camera(38.25, 40, 0.00002),
    "hall": Camera(60.0, 30, -0.00002),
}
"""Each has heard the next for ten seconds or more, and no other."""


@pytest.fixture(scope="module")
def job(tmp_path_factory: pytest.TempPathFactory) -> OpenJob:
    root = tmp_path_factory.mktemp("chain")
    (root / "footage").mkdir()
    dice = np.random.default_rng(11)
    room = bench(dice, 100)
    clips = []
    for name, camera in CAMERAS.items():
        path = root / "footage" / f"{name}-1.mp4"
        made = clip(path, heard(room, camera, dice, kit.SAMPLE_RATE))
        clips.append(replace(made, path=f"footage/{path.name}"))
    plan, _ = read_plan(PLAN.encode(), "job.md")
    return OpenJob(root, plan, (), tuple(sorted(clips, key=lambda one: one.path)), (), {})


def filmed(name: str) -> Clue:
    """The clock at 4 s of a camera's clip, known to 6 ms."""
    camera = CAMERAS[name]
    wall = ROOM + Fraction(camera.first) + 4 * (1 + Fraction(camera.drift))
    return Clue(f"footage/{name}-1.mp4", Rung.FILMED_CLOCK, Fraction(4), wall, Fraction(6, 1000))


def synced(job: OpenJob, *clues: Clue) -> dict[str, Synced]:
    assert job.plan is not None
    found, _ = sync_job(job, job.plan, clues, job.root / "out" / "cache")
    return {one.clip.removeprefix("footage/").removesuffix("-1.mp4"): one for one in found}


def off(one: Synced, camera: Camera) -> float:
    assert one.start is not None
    return abs(float(one.start - ROOM) - camera.first)


@pytest.mark.parametrize("known", ["near", "far"])
def test_clips_are_placed_one_through_the_other(known: str, job: OpenJob) -> None:
    """Within a frame of 25 a second after three steps, and within what is said, which grows step by step."""
    found = synced(job, filmed(known))
    names = list(CAMERAS)
    for name in names:
        one = found[name]
        assert one.rung is (Rung.FILMED_CLOCK if name == known else Rung.SOUND)
        assert one.within is not None
        assert off(one, CAMERAS[name]) <= min(0.040, float(one.within))
    for name, through in ((name, names[names.index(name) - 1]) for name in names[names.index(known) + 1 :]):
        (first, last) = found[name].residuals
        assert {first.clue.other, last.clue.other} == {f"footage/{through}-1.mp4"}
        assert (found[name].within or 0) > (found[through].within or 0)


def test_no_clip_is_placed_by_sound_alone(job: OpenJob) -> None:
    """All heard each other, but nothing says when."""
    assert {one.start for one in synced(job).values()} == {None}


def test_matches_are_kept_by_content(job: OpenJob, tmp_path: Path) -> None:
    """Where all clips are as they were nothing is heard again; where one has changed it is."""
    before = synced(job, filmed("near"))
    (tmp_path / "out").mkdir()
    (job.root / "out" / "cache").rename(tmp_path / "kept")
    (tmp_path / "out" / "cache" / "clocks").mkdir(parents=True)
    for file in (tmp_path / "kept" / "clocks").iterdir():
        file.rename(tmp_path / "out" / "cache" / "clocks" / file.name)
    elsewhere = replace(job, root=tmp_path)  # where there is no footage at all
    assert synced(elsewhere, filmed("near")) == before
    assert not list((tmp_path / "out" / "cache").glob("*.s16"))
    changed: tuple[Clip, ...] = tuple(
        replace(one, identity="another") if one.path == "footage/mid-1.mp4" else one for one in job.clips
    )
    found = synced(replace(elsewhere, clips=changed), filmed("near"))
    assert [name for name, one in found.items() if one.start is None] == ["far", "hall", "mid"]
