"""Footage to measure on, and the limit that a draft is held against."""

from __future__ import annotations

import os
import resource
import shutil
import subprocess
from collections.abc import Sequence
from fractions import Fraction
from itertools import pairwise
from pathlib import Path

import imageio_ffmpeg

from episodekit.base.time import Rate
from episodekit.footage.model import Clip
from episodekit.outside.media.ffmpeg_door import Command
from episodekit.outside.media.recipes.picture import Look, stretch_command
from episodekit.outside.media.recipes.pieces import Stretch, pieces
from episodekit.timeline.model import Segment
from tests.media import kit

FFMPEG = imageio_ffmpeg.get_ffmpeg_exe()
RATE = Rate.parse("30")
LOOK = Look(1280, 720, RATE)
_PART_SECONDS = 10

ELEVEN_CUTS = (
    (Fraction(17, 5), 180, 1),
    (Fraction(37, 3), 150, Fraction(12, 5)),
    (Fraction(30), 150, 3),
    (Fraction(467, 10), 180, 1),
    (Fraction(55), 180, 6),
    (Fraction(461, 5), 150, Fraction(12, 5)),
    (Fraction(105), 180, 1),
    (Fraction(225, 2), 150, 4),
    (Fraction(134), 150, Fraction(12, 5)),
    (Fraction(739, 5), 180, 1),
    (Fraction(155), 150, 3),
)
"""A minute of draft out of three minutes of footage, 147 s of which are used: start in s, frames, speed."""


def run(*words: str) -> None:
    """ffmpeg to the end; raises if it fails."""
    subprocess.run([FFMPEG, "-v", "error", "-nostdin", "-y", *words], check=True, capture_output=True)


def bench_clip(path: Path, seconds: int, size: str = "1920x1080", rate: str = "20M") -> Path:
    """A moving test picture with grain at 30 frames a second and stereo sound, ten seconds over and over."""
    part, names = path.with_name("part.mp4"), path.with_name("names.txt")
    picture = f"testsrc2=size={size}:rate=30,noise=alls=5:allf=t"
    made = ["-f", "lavfi", "-i", picture, "-f", "lavfi", "-i", "anoisesrc=amplitude=0.1:sample_rate=48000"]
    coded = [
        "-c:v",
        "libx264",
        "-preset",
        "veryfast",
        "-b:v",
        rate,
        "-g",
        "30",
        "-bf",
        "2",
        "-pix_fmt",
        "yuv420p",
    ]
    sound = ["-c:a", "aac", "-b:a", "160k", "-ac", "2"]
    run(*made, "-t", str(_PART_SECONDS), *coded, *sound, str(part))
    names.write_text("file 'part.mp4'\n" * (seconds // _PART_SECONDS))
    run("-f", "concat", "-safe", "0", "-i", str(names), "-c", "copy", str(path))
    part.unlink()
    return path


def shots(name: str, cuts: Sequence[tuple[Fraction, int, Fraction | int]]) -> list[Segment]:
    """Segments of a clip."""
    return [kit.shot(name, start, frames, RATE, Fraction(speed)) for start, frames, speed in cuts]


def busy_seconds() -> float:
    """The processor time, user and system, of this process and of its children that have ended."""
    used = [resource.getrusage(who) for who in (resource.RUSAGE_SELF, resource.RUSAGE_CHILDREN)]
    return sum(one.ru_utime + one.ru_stime for one in used)


def cpu_seconds(words: Sequence[str]) -> float:
    """The processor time of one run of a program. Raises if it fails."""
    before = busy_seconds()
    subprocess.run(words, check=True, stdin=subprocess.DEVNULL, capture_output=True)
    return busy_seconds() - before


def limit(root: Path, clip: Clip, segments: Sequence[Segment], work: Path) -> float:
    """Wall seconds below which no draft can be cut here, with all cores busy all the time.

    Processor seconds to decode the used frames and scale the shown ones, and to encode the shown ones with the
    same settings, over the cores. Neither start-up nor seeking counts, nor sound, nor what the encoder's input
    costs to read: the shown frames lie raw on the disk, and reading them alone is taken off.
    """
    file, used, shown = str(root / clip.path), 0.0, 0
    encode = 0.0
    for segment in segments:
        (piece,) = pieces(kit.timeline(RATE, [segment], width=1280, height=720), {clip.path: clip}, {})
        assert isinstance(piece.show, Stretch)
        used += float(piece.show.played * piece.show.speed / RATE.exact)
        shown += piece.frames
        words = stretch_command(FFMPEG, piece.show, file, (), piece.frames, LOOK, str(work / "piece.h264"))
        encode += _encoding(words, work)
    seconds = 20
    before, many = ("-v", "error", "-nostdin", "-threads", "1", "-t", str(seconds)), seconds * RATE.nominal
    picture = ("-an", "-fps_mode", "passthrough", "-f", "null", "-")
    plain = cpu_seconds([FFMPEG, *before, "-i", file, *picture])
    scale = ("-filter_threads", "1", "-vf", "scale=1280:720:flags=bicubic")
    scaled = cpu_seconds([FFMPEG, *before, "-i", file, *scale, *picture])
    decode = plain / seconds * used + max(0.0, scaled - plain) / many * shown
    print(f"\ndecode and scale {decode:.1f}, encode {encode:.1f} CPU seconds", end="")
    return (decode + encode) / (os.cpu_count() or 1)


def _encoding(words: Command, work: Path) -> float:
    """Processor seconds to encode a piece's frames by themselves."""
    raw, at = work / "piece.yuv", words.index("-map")
    graph, output = words[:at], words[at:]
    run(*graph[1:], *output[:2], "-f", "rawvideo", str(raw))
    reading = [FFMPEG, "-v", "error", "-nostdin", "-f", "rawvideo", "-s", f"{LOOK.width}x{LOOK.height}"]
    reading += ["-r", str(RATE.nominal), "-i", str(raw)]
    with_encoder = cpu_seconds([*reading, *_encoder(output), "-y", str(work / "piece.h264")])
    alone = cpu_seconds([*reading, "-f", "null", "-"])
    raw.unlink()
    return with_encoder - alone


def _encoder(output: Command) -> list[str]:
    """The encoder's own settings, from the arguments of a piece."""
    wanted = {"-c:v", "-preset", "-crf", "-bf", "-g", "-profile:v", "-x264-params", "-threads"}
    return [word for pair in pairwise(output) if pair[0] in wanted for word in pair]


def fresh(folder: Path) -> Path:
    """An empty folder."""
    shutil.rmtree(folder, ignore_errors=True)
    folder.mkdir(parents=True)
    return folder
