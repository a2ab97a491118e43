"""Speaks the takes of the sample job `clear-shell`: a machine reads each beat, so that nobody's voice is in them.

    python sample_jobs/make_clear_shell_takes.py              # all beats
    python sample_jobs/make_clear_shell_takes.py drift.1      # one beat

Needs py-nanotts (Apache-2.0, with its American voice) and imageio-ffmpeg. The takes are under the project's own
licence. Room noise from a fixed seed lies under the words, as it does in a real recording; the same versions give
the same bytes again.
"""

from __future__ import annotations

import argparse
import random
import subprocess
from array import array
from pathlib import Path

import imageio_ffmpeg
import py_nanotts

from episodekit.job.reader import read_plan

JOB = Path(__file__).parent / "clear-shell"
RATE = 16_000
VOICE, SPEED = "en-US", 0.84
BEFORE, AFTER = 0.5, 0.7  # seconds of the room around the words
ROOM = 12  # loudness of the room, of 32,767
BITRATE = "20k"


def spoken(text: str, seed: str) -> bytes:
    """The words and the room around them, 16-bit mono."""
    said = array("h", py_nanotts.NanoTTS().speak(text, voice=VOICE, speed=SPEED))
    whole = array("h", bytes(2 * round(BEFORE * RATE))) + said + array("h", bytes(2 * round(AFTER * RATE)))
    chance = random.Random(seed)
    return array(
        "h", (max(-32_768, min(32_767, one + chance.randint(-ROOM, ROOM))) for one in whole)
    ).tobytes()


def write(beat: str, text: str) -> None:
    """One take as Opus in Ogg."""
    target = JOB / "takes" / f"{beat}.opus"
    target.parent.mkdir(exist_ok=True)
    words = [imageio_ffmpeg.get_ffmpeg_exe(), "-loglevel", "error", "-y"]
    words += ["-f", "s16le", "-ar", str(RATE), "-ac", "1", "-i", "pipe:0"]
    words += ["-c:a", "libopus", "-b:a", BITRATE, "-application", "voip", "-threads", "1"]
    words += ["-fflags", "+bitexact", "-flags:a", "+bitexact", str(target)]
    subprocess.run(words, input=spoken(text, beat), check=True)
    print(target)


def main() -> None:
    """Write the takes that were asked for."""
    asked = argparse.ArgumentParser(description=__doc__)
    asked.add_argument("beats", nargs="*")
    wanted = set(asked.parse_args().beats)
    plan, _ = read_plan((JOB / "job.md").read_bytes(), "job.md")
    assert plan is not None
    for step in plan.all_steps():
        for beat in step.beats:
            if not wanted or beat.id in wanted:
                write(beat.id, beat.text)


if __name__ == "__main__":
    main()
