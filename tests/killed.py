"""Drafts stopped with SIGKILL at random moments, and resumed: what must hold afterwards, for a short and a long run."""

from __future__ import annotations

import os
import random
import shutil
import subprocess
import sys
import time
from dataclasses import dataclass
from fractions import Fraction
from pathlib import Path

import numpy as np

from tests.conftest import LAMP, Hashes, JobFolder
from tests.media import kit

YESTERDAY = b"the draft of yesterday"
ENTRIES = {".h264", ".s16"}
MARKS = (
    ("start", "open", "0:00"),
    ("done", "open", "0:05"),
    ("start", "screws", "0:05"),
    ("done", "screws", "0:11"),
    ("start", "solder", "0:11"),
    ("done", "solder", "0:19"),
)


@dataclass(frozen=True)
class Tried:
    """How a stopped run was: after so many seconds, whether it was still running, what lay in the cache."""

    seconds: float
    in_the_middle: bool
    entries: int
    reused: bool


def lamp_with_footage(root: Path) -> JobFolder:
    """The lamp job, twenty seconds of coded frames with a tone, and yesterday's draft."""
    job = JobFolder(root)
    job.write("job.md", LAMP)
    tone = (0.3 * np.sin(np.arange(20 * kit.SAMPLE_RATE) / 20)).astype(np.float32)
    path = job.write("footage/top-1.mp4", b"")
    kit.encode(path, (kit.coded_frame(n) for n in range(500)), Fraction(25), sound=tone)
    lines = (f"top-1.mp4 @ {place},{kind},{step}\n" for kind, step, place in MARKS)
    job.write("bench.csv", "time,kind,step\n" + "".join(lines))
    job.write("out/draft.mp4", YESTERDAY)
    return job


def start(job: JobFolder) -> subprocess.Popen[str]:
    """The program as a creator starts it, in a process of its own."""
    env = os.environ | {"PYTHONPATH": str(Path(__file__).resolve().parents[1])}
    words = [sys.executable, "-m", "episodekit", "draft", str(job.root), "--workers", "2"]
    pipe = subprocess.PIPE
    return subprocess.Popen(words, env=env, stdout=pipe, stderr=subprocess.STDOUT, text=True)


def finished(job: JobFolder) -> str:
    """Run to the end; what it said."""
    run = start(job)
    said, _ = run.communicate(timeout=300)
    assert run.returncode == 0, said
    return said


def results(job: JobFolder) -> dict[str, bytes]:
    """Every file under a final name in out/, and every entry of the cache."""
    out = job.root / "out"
    found = {p.name: p.read_bytes() for p in out.iterdir() if p.is_file() and not p.name.startswith(".")}
    for path in (out / "cache").glob("*"):
        if path.suffix in ENTRIES:
            found[f"cache/{path.name}"] = path.read_bytes()
    return found


def stopped_and_resumed(folder: Path, runs: int, seed: int) -> list[Tried]:
    """Stop so many drafts at random moments, resume each, and hold it against one that nobody disturbed."""
    chance = random.Random(seed)
    model = lamp_with_footage(folder / "model")
    began = time.monotonic()
    finished(model)
    length = time.monotonic() - began
    wanted = results(model)
    assert wanted["draft.mp4"] != YESTERDAY
    tried = []
    for number in range(runs):
        job = JobFolder(folder / f"run-{number}")
        job.write("out/draft.mp4", YESTERDAY)
        for name in ("job.md", "bench.csv"):
            job.write(name, (model.root / name).read_bytes())
        shutil.copytree(model.root / "footage", job.root / "footage")
        raw = Hashes(job.root)
        raw.before = raw.look()

        seconds = chance.uniform(0, length)
        run = start(job)
        time.sleep(seconds)
        in_the_middle = run.poll() is None
        run.kill()
        run.communicate()
        left = results(job)
        for name, content in left.items():
            whole = {wanted.get(name)} | ({YESTERDAY} if name == "draft.mp4" else set())
            assert content in whole, f"run {number}, stopped after {seconds:.2f} s: half a file at {name}"
        entries = sorted(name for name in left if name.startswith("cache/"))
        if entries and number % 3 == 0:
            _spoil(job.root / "out" / chance.choice(entries), chance)

        said = finished(job)
        assert results(job) == wanted, f"run {number}, stopped after {seconds:.2f} s"
        raw.same_as_before()
        tried.append(Tried(seconds, in_the_middle, len(entries), ", 0 kept" not in said))
        shutil.rmtree(job.root)
    return tried


def _spoil(path: Path, chance: random.Random) -> None:
    """What a power cut does to an entry: its end is missing, or it is blank, or a byte of it is another."""
    content = bytearray(path.read_bytes())
    at = chance.randrange(len(content))
    how = chance.randrange(3)
    if how == 0:
        content = content[:at]
    elif how == 1:
        content[at:] = bytes(len(content) - at)
    else:
        content[at] ^= 1
    path.write_bytes(content)
