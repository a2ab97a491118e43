"""What the flash scan costs, as a share of the render of the same draft: CPU seconds, medians of five, in one run."""

from __future__ import annotations

import os
import shutil
import subprocess
import threading
import time
from dataclasses import replace
from fractions import Fraction
from pathlib import Path
from statistics import median

import imageio_ffmpeg
import pytest

from episodekit.base.time import Rate
from episodekit.outside.media import engine
from episodekit.outside.media.checks.flash_scan import scan_flashes
from episodekit.outside.media.rendering.parts import Parts
from episodekit.outside.media.rendering.studio import Studio
from tests.media import kit

pytestmark = pytest.mark.benchmark
RATE = Rate.parse("30")
ROUNDS = 5


def _all_cpu() -> float:
    """CPU seconds of this process and of all programs that it ran."""
    spent = os.times()
    return spent.user + spent.system + spent.children_user + spent.children_system


@pytest.mark.parametrize("speed", [Fraction(2), Fraction(8)])
def test_scan_of_a_draft_that_is_all_ramps_costs_less_than_a_tenth(
    speed: Fraction, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    (tmp_path / "footage").mkdir()
    clip = tmp_path / "footage" / "top.mp4"
    picture = "testsrc2=size=1920x1080:rate=30:duration=31,noise=alls=12:allf=t"
    words = ["-v", "error", "-f", "lavfi", "-i", picture, "-c:v", "libx264", "-preset", "veryfast"]
    words += ["-b:v", "16M", "-g", "30", str(clip)]
    subprocess.run([imageio_ffmpeg.get_ffmpeg_exe(), *words], check=True)
    clips = kit.clips_in(tmp_path)
    seconds = 30 / speed
    segments = [kit.shot("footage/top.mp4", Fraction(0), int(seconds * 30), RATE, speed)]
    plan = replace(kit.timeline(RATE, segments), width=1280, height=720)
    spent: list[float] = []

    def timed(studio: Studio, parts: Parts, workers: int, stop: threading.Event) -> object:
        begun = time.process_time()
        found = scan_flashes(studio, parts, workers, stop)
        spent.append(time.process_time() - begun)
        return found

    monkeypatch.setattr(engine, "scan_flashes", timed)
    shares = []
    for _ in range(ROUNDS):
        before = _all_cpu()
        engine.render(plan, clips, tmp_path, tmp_path / "draft.mp4", tmp_path / "cache", workers=2)
        shares.append(spent[-1] / (_all_cpu() - before - spent[-1]))
        shutil.rmtree(tmp_path / "cache")
    each = ", ".join(f"{100 * share:.1f}" for share in shares)
    print(f"\nflash scan at {float(speed):g}x: {100 * median(shares):.1f} % of the render ({each})")
    assert median(shares) < 0.10
