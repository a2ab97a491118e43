"""Drafts cut from real camera footage: phones, an action camera, AVCHD, a webcam, a damaged file.

Sources: PyAV decodes the draft; MediaInfo reads its tags. Clips come from a PyPI package, so that this
runs anywhere, and from a folder beside the checkout where there is one.
"""

from __future__ import annotations

import shutil
from fractions import Fraction
from pathlib import Path

import numpy as np
import pytest
from pymediainfo import MediaInfo

from episodekit.base.time import Rate
from tests.media import kit

RATE = Rate.parse("30")


def test_there_is_a_real_clip_everywhere() -> None:
    assert len(kit.real_clips()) >= 3


@pytest.mark.parametrize("path", kit.real_clips(), ids=lambda path: path.name)
def test_every_real_clip_plays_in_a_draft(tmp_path: Path, path: Path) -> None:
    (tmp_path / "footage").mkdir()
    name = f"footage/{path.name}"
    shutil.copyfile(path, tmp_path / name)
    before = kit.hashes(tmp_path / "footage")
    clip = kit.clips_in(tmp_path)[name]
    middle = Fraction(round(clip.duration * 500), 1000)
    segments = [
        kit.shot(name, Fraction(0), 12, RATE),
        kit.shot(name, middle, 12, RATE),
        kit.shot(name, Fraction(0), 6, RATE, clip.duration * 5),
        kit.slate(6),
    ]
    target, made = kit.draft(tmp_path, kit.timeline(RATE, segments, width=640, height=360))
    assert not [f for f in made.findings if f.code != "DRAFT-FLASH"], (
        "six frames of a whole clip may well flash"
    )
    frames = kit.grey_frames(target)
    assert len(frames) == 36
    assert all(frame.shape == (360, 640) for frame in frames)
    assert all(np.ptp(frame.astype(int)) > 40 for frame in frames), "a frame is empty"
    video = MediaInfo.parse(target).video_tracks[0]
    assert (video.matrix_coefficients, video.frame_rate_mode, video.scan_type) == (
        "BT.709",
        "CFR",
        "Progressive",
    )
    if clip.rotation % 180:  # a phone held upright stands between two bars
        assert frames[0][:, :100].std() < 2
    assert kit.hashes(tmp_path / "footage") == before
