"""A small job with two reads for the tests of the proof sheet, and a second way to tell when a board is on screen.

`frames_with` looks at every frame by itself and compares brightness with a frame that is known to hold the board; it
shares no code with what it checks.
"""

from __future__ import annotations

import csv
import subprocess
from collections.abc import Sequence
from fractions import Fraction
from pathlib import Path

import av
import imageio_ffmpeg
import numpy as np
from PIL import Image

from episodekit import cli
from episodekit.outside.job_folder import compile_job, open_job
from episodekit.timeline.episode import Episode
from episodekit.timeline.model import Overlay, OverlayKind
from tests.media import kit

JOB = """\
---
title: Can this desk lamp be saved?
device: Farrow desk lamp
frame rate: 25
size: 640x360
publish: 2026-12-18
cameras:
  top: {view: overhead}
reads:
  tallow:
    sponsor: Tallow Tools
    length: 6-16 s
    starts: 0:04 to 60%
    must say: [the long driver]
    never say: [never strips]
    code: LAMP
    code shown: 2 s
    link: https://tallow.example/lamp
    link stays: 30 days
    goods: a long driver
    approval: 5 working days
    keep clear of: {hazard: 1 s, caution: 0 s, read: 2 s}
  willow:
    sponsor: Willow Tools
    length: 3-12 s
    keep clear of: {hazard: 0 s, caution: 0 s}
limits: {chapter length: 2 s}
---
# Start {#start}
- camera: top
> Ten minutes of light, then nothing. Today I find out why it does that.

# Tallow {#tallow-read}
- read: tallow
- camera: top
> This part is paid for by Tallow Tools, who sent me the long driver free.

> It reaches the deep screws, and code LAMP takes off a tenth of it.

# Repair
## Four screws {#screws}
- camera: top
- uses: tallow
> Four screws hold the base, and all of them are the same, which is kind.

## Solder {#solder}
- camera: top
- hazard: heat
> Fresh solder and two seconds of heat, and that is the repair.

# Willow {#willow-read}
- read: willow
> This part is paid for by Willow Tools, who sponsor the bench.

# Result {#result}
- camera: top
> An hour later it still burns, and it cost me nothing but an evening.
"""


def make(root: Path) -> Path:
    """The job with footage of moving codes under the first read, and its draft."""
    (root / "footage").mkdir(parents=True)
    (root / "job.md").write_text(JOB, encoding="utf-8")
    kit.coded_clip(root / "footage" / "top-1.mp4", Fraction(25), 25 * 32)
    marks = (("start", "tallow-read", "0:01"), ("done", "tallow-read", "0:16"), ("start", "solder", "0:16"))
    rows = [f"top-1.mp4 @ {at},{kind},{step}" for kind, step, at in (*marks, ("done", "solder", "0:28"))]
    (root / "bench.csv").write_text("time,kind,step\n" + "\n".join(rows) + "\n", encoding="utf-8")
    assert cli.run(["draft", str(root)]) == 0
    return root / "out" / "draft.mp4"


def compiled(root: Path) -> Episode:
    episode, _ = compile_job(open_job(root))
    assert episode is not None
    return episode


def board(episode: Episode, kind: OverlayKind, words: str) -> Overlay:
    (found,) = [o for o in episode.timeline.overlays if o.kind is kind and words in o.text]
    return found


def ffmpeg(*words: str | Path) -> None:
    program = imageio_ffmpeg.get_ffmpeg_exe()
    subprocess.run([program, "-v", "error", "-y", *map(str, words)], check=True, capture_output=True)


def again(source: Path, target: Path, *options: str | Path) -> Path:
    """The video encoded anew, fast."""
    ffmpeg("-i", source, "-preset", "ultrafast", "-threads", "2", *options, target)
    return target


def rows(root: Path, name: str) -> dict[str, dict[str, str]]:
    """The proof's table by the terms' names; a term that stands there twice by its name and what it asks."""
    with (root / "out" / "pack" / f"proof-{name}.csv").open(encoding="utf-8", newline="") as file:
        read = list(csv.DictReader(file))
    twice = {row["term"] for row in read if sum(other["term"] == row["term"] for other in read) > 1}
    return {f"{r['term']}: {r['asks']}" if r["term"] in twice else r["term"]: r for r in read}


def frames_with(video: Path, draft: Path, known: int, box: Sequence[int]) -> list[tuple[Fraction, Fraction]]:
    """Stretches of a video that look inside `box` (of the draft) as the draft's frame `known` does, in seconds."""
    reference = Image.fromarray(kit.grey_frames(draft)[known])
    found: list[tuple[Fraction, Fraction]] = []
    last = False
    with av.open(str(video)) as container:
        stream = container.streams.video[0]
        zero, seen = None, None
        for frame in container.decode(stream):
            grey = frame.reformat(format="gray").to_ndarray().astype(float)
            stamp = Fraction(frame.pts or 0) * (frame.time_base or 0)
            zero = stamp if zero is None else zero
            at = stamp - zero
            if seen is None:
                across, down = frame.width / reference.width, frame.height / reference.height
                left, top, right, bottom = (
                    round(v * s) for v, s in zip(box, (across, down, across, down), strict=True)
                )
                whole = np.asarray(reference.resize((frame.width, frame.height)), float)
                seen = whole[top:bottom, left:right]
            part = grey[top:bottom, left:right]
            here = abs(part - seen).mean() < 22
            if here and not last:
                found.append((at, at))
            if not here and last:
                found[-1] = (found[-1][0], at)
            last = here
            end = at + 1 / Fraction(stream.average_rate or 25)
    if last:
        found[-1] = (found[-1][0], end)
    return found
