"""Draws the footage of the sample job `clear-shell` and writes its bench log. Everything in it is invented.

    python sample_jobs/make_clear_shell_footage.py            # all clips and bench.jsonl, a few minutes
    python sample_jobs/make_clear_shell_footage.py macro-1    # one clip
    python sample_jobs/make_clear_shell_footage.py --still 98.5 still.png [--camera macro-2]

Needs Pillow, numpy and imageio-ffmpeg. The story is data (drawn_bench/story.py); pictures, sounds and bench log
are all made from its rows, so they cannot disagree. One encoder thread, fixed seeds and bit-exact muxing: the
same versions of these libraries give the same bytes again.
"""

from __future__ import annotations

import argparse
import json
import math
import shutil
import subprocess
import tempfile
import wave
from concurrent.futures import ProcessPoolExecutor
from dataclasses import dataclass
from datetime import UTC, datetime, timedelta, timezone
from fractions import Fraction
from functools import partial
from pathlib import Path

import imageio_ffmpeg
from drawn_bench.camera import SIZE, Camera, Layer
from drawn_bench.clock import Story, lay_out, layers
from drawn_bench.sound import RATE, Samples, mix
from PIL import Image

JOB = Path(__file__).parent / "clear-shell"
BEGIN = datetime(2026, 11, 7, 15, 4, tzinfo=UTC)  # the top camera's first frame: second 0 of the story
BENCH_ZONE = timezone(timedelta(hours=-5))
TOP_RATE, MACRO_RATE = Fraction(30000, 1001), Fraction(25)
MACRO_CLOCK = Fraction(-32, 10)  # the macro camera's clock shows 3.2 s less than the true time
CRF = "33"  # flat colours bear it; a key frame each second is what costs


@dataclass(frozen=True)
class Clip:
    """One file of one camera. `begin` and `end` are seconds of the story; `clock` is the camera's error."""

    name: str
    rate: Fraction
    begin: Fraction
    end: Fraction
    camera: tuple[float, tuple[float, float], float, tuple[int, int, int]]
    clock: Fraction = Fraction(0)
    near: float = 1.0  # how loud the bench is in its microphone

    @property
    def frames(self) -> int:
        """Frames that cover the clip's span, the last one whole."""
        return math.ceil((self.end - self.begin) * self.rate)

    @property
    def stamp(self) -> str:
        """What the camera writes as creation time; MP4 keeps whole seconds, so it must come out whole."""
        at = BEGIN + timedelta(seconds=float(self.begin + self.clock))
        assert at.microsecond == 0, f"{self.name} begins between two seconds of its own clock"
        return at.strftime("%Y-%m-%dT%H:%M:%S.000000Z")


def clips(story: Story) -> tuple[Clip, ...]:
    def whole(second: float) -> Fraction:
        """The last moment up to `second` at which the macro camera's clock shows a whole second."""
        return Fraction(math.floor(second + float(MACRO_CLOCK))) - MACRO_CLOCK

    top = (1.0, (640.0, 360.0), 0.0, (255, 251, 242))
    plug = (3.6, (546.0, 306.0), -6.0, (250, 252, 255))
    stick = (3.2, (622.0, 372.0), 7.0, (250, 252, 255))
    battery, shell = whole(story.begins["battery"] - 1.5), whole(story.begins["shell"] + 7.5)
    split = Fraction(
        round(story.begins["screen"] + 10)
    )  # the top camera begins a new file during the warming
    return (
        Clip("top-1", TOP_RATE, Fraction(0), split, top),
        Clip("top-2", TOP_RATE, split, Fraction(str(story.length)), top),
        Clip("macro-1", MACRO_RATE, battery, battery + 16, plug, MACRO_CLOCK, 0.5),
        Clip("macro-2", MACRO_RATE, shell, shell + 17, stick, MACRO_CLOCK, 0.5),
    )


# ---------------------------------------------------------------- files


def film(clip: Clip, target: Path) -> str:
    """Draw, sound and encode one clip into the folder `target`."""
    story = lay_out()
    camera = Camera(*clip.camera)
    seconds = clip.frames / clip.rate
    with tempfile.TemporaryDirectory() as folder:
        sound = Path(folder) / "sound.wav"
        noises = [(n.at, n.kind, n.took) for n in story.noises]
        write_wav(sound, mix(noises, float(clip.begin), float(seconds), clip.near, seed=len(clip.name) + 11))
        encoder = subprocess.Popen(encode(clip, sound, target), stdin=subprocess.PIPE)
        assert encoder.stdin
        last: tuple[Layer, ...] = ()
        pixels = b""
        for number in range(clip.frames):
            now = layers(story, float(clip.begin + number / clip.rate))
            if now != last:
                last, pixels = now, camera.frame(now)
            encoder.stdin.write(pixels)
        encoder.stdin.close()
        if encoder.wait():
            raise SystemExit(f"ffmpeg could not write {clip.name}.mp4")
    return (
        f"{clip.name}: {clip.frames} frames, {float(seconds):.2f} s, begins at {clip.stamp} on its own clock"
    )


def encode(clip: Clip, sound: Path, target: Path) -> list[str]:
    """ffmpeg's arguments: x264 from RGB frames on stdin, tagged Rec. 709, a key frame at least each second."""
    rate = f"{clip.rate.numerator}/{clip.rate.denominator}"
    key = str(math.floor(clip.rate))
    size = f"{SIZE[0]}x{SIZE[1]}"
    picture = (
        "scale=out_color_matrix=bt709:out_range=tv:flags=accurate_rnd+full_chroma_int,format=yuv420p,"
        "setparams=colorspace=bt709:color_primaries=bt709:color_trc=bt709:range=tv"
    )
    return [
        *(imageio_ffmpeg.get_ffmpeg_exe(), "-v", "error", "-y", "-fflags", "+bitexact"),
        *("-f", "rawvideo", "-pix_fmt", "rgb24", "-s", size, "-r", rate, "-i", "-", "-i", str(sound)),
        *("-map", "0:v", "-map", "1:a", "-vf", picture),
        *("-c:v", "libx264", "-preset", "veryslow", "-crf", CRF, "-tune", "animation", "-threads", "1"),
        *("-g", key, "-x264-params", "aq-mode=2:aq-strength=1.0:psy-rd=0,0:chroma-qp-offset=2"),
        *("-c:a", "aac", "-b:a", "24k", "-ac", "1", "-flags:v", "+bitexact", "-flags:a", "+bitexact"),
        *("-metadata", f"creation_time={clip.stamp}", "-movflags", "+faststart", "-fflags", "+bitexact"),
        str(target / f"{clip.name}.mp4"),
    ]


def write_wav(path: Path, sound: Samples) -> None:
    with wave.open(str(path), "wb") as file:
        file.setparams((1, 2, RATE, 0, "NONE", ""))
        file.writeframes((sound * 32767).round().astype("<i2").tobytes())


def move_in(made: Path, folder: Path) -> None:
    """Copy beside its place under a hidden name, then rename: nobody meets half a file."""
    folder.mkdir(parents=True, exist_ok=True)
    beside = folder / f".{made.name}"
    shutil.copyfile(made, beside)
    beside.replace(folder / made.name)


def write_log(story: Story, all_clips: tuple[Clip, ...], target: Path) -> str:
    """The bench log: wall-clock instants, and here and there a place in a top clip."""
    lines: list[str] = []
    for step, mark in story.marks:
        at = (BEGIN + timedelta(seconds=mark.at)).astimezone(BENCH_ZONE)
        time = at.isoformat(timespec="milliseconds").replace("00-05:00", "-05:00")
        if mark.in_clip:
            clip = next(c for c in all_clips if c.begin <= mark.at < c.end)
            frame = math.ceil((Fraction(str(mark.at)) - clip.begin) * clip.rate)
            label = math.ceil(clip.rate)  # labels count 30 frames a second at 29.97 fps, non-drop
            second, rest = divmod(frame, label)
            time = f"{clip.name}.mp4 @ {second // 3600:02}:{second // 60 % 60:02}:{second % 60:02}:{rest:02}"
        entry = {"time": time, "kind": mark.kind}
        if mark.kind == "start":
            entry["step"] = step
        if mark.text:
            entry["text"] = mark.text
        lines.append(json.dumps(entry))
    (target / "bench.jsonl").write_text("\n".join(lines) + "\n", encoding="utf-8")
    return f"bench.jsonl: {len(lines)} marks"


def main() -> None:
    parser = argparse.ArgumentParser(description="Draw the footage of the sample job clear-shell.")
    parser.add_argument("names", nargs="*", help="clips to draw; all of them when none is named")
    parser.add_argument("--still", nargs=2, metavar=("SECOND", "PNG"), help="draw one picture instead")
    parser.add_argument("--camera", default="top-1", help="the clip whose camera takes the still")
    asked = parser.parse_args()
    story = lay_out()
    known = clips(story)
    if asked.still:
        clip = next(c for c in known if c.name == asked.camera)
        pixels = Camera(*clip.camera).frame(layers(story, float(asked.still[0])))
        Image.frombytes("RGB", SIZE, pixels).save(asked.still[1])
        return
    wanted = [c for c in known if not asked.names or c.name in asked.names]
    with tempfile.TemporaryDirectory() as folder, ProcessPoolExecutor(2) as pool:
        made = Path(folder)  # all of it is moved in at the end, so that log and clips change together
        print(write_log(story, known, made))
        for line in pool.map(partial(film, target=made), wanted):
            print(line)
        for clip in wanted:
            move_in(made / f"{clip.name}.mp4", JOB / "footage")
        move_in(made / "bench.jsonl", JOB)


if __name__ == "__main__":
    main()
