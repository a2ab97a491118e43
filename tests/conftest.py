"""What all tests share: a job folder on disk, the program run as a creator runs it, and raw files that stay raw."""

from __future__ import annotations

import hashlib
import os
import signal
from collections.abc import Callable
from dataclasses import dataclass
from pathlib import Path

import pytest
from hypothesis import HealthCheck, settings

from episodekit import cli

# Machines are shared and noisy: how long one example takes says nothing about the program.
settings.register_profile("shared machine", deadline=None, suppress_health_check=[HealthCheck.too_slow])
settings.load_profile("shared machine")

ROOT = Path(__file__).resolve().parent.parent

# A small believable repair: two cameras, a hazard, a point of no return, a must-show, a sponsor's read.
LAMP = """\
---
title: Can this desk lamp be saved?
device: Farrow desk lamp
runtime: 0:45-1:30
frame rate: 25
size: 320x180
cameras:
  top: {view: overhead}
  macro: {view: macro}
reads:
  tallow:
    sponsor: Tallow Tools
    length: 8-12 s
    starts: 0:10 to 60%
    must say: [code LAMP]
    keep clear of: {hazard: 4 s}
---

# Cold open {#open}
- camera: top
- bench: 2 min
- ask dead: Why does it die after ten minutes?
> Ten minutes of light, then nothing. Today I find out why, and whether it can be fixed for less than a new one.
> I have had it since school, so I would rather not throw it away.

# Teardown
## Four screws {#screws}
- camera: top
- bench: 3 min
- off: 4 x M3x10
> Four screws hold the base, and all of them are the same, which is a kindness to whoever opens it next.

## Look at the board {#board}
- camera: macro
- bench: 5 min
- needs: screws
- must show: the cracked joint | macro | 3 s
> And there it is. One joint has a ring around it, and when it warms up, the ring opens.

# Repair
## Solder the joint {#solder}
- camera: top
- bench: 6 min
- needs: board
- hazard: fume, heat
- no return
> Fresh solder, a little flux, and two seconds of heat. That is the whole repair, but the base stays open until it has
> been tried, because a joint that looks good has fooled me before.

# Result {#result}
- camera: top
- bench: 60 min
- answer dead: a cracked solder joint
> An hour later it still burns. It was a cracked joint, and it cost me nothing but an evening.
> So if yours dies warm and comes back cold, look at the joints first, and only then at the lamp.

# From the sponsor {#tallow-read}
- read: tallow
- camera: top
> This part is paid for by Tallow Tools, who sponsor the bench. Their set has the long driver I used, and code LAMP
> takes off a tenth.
"""


@dataclass
class JobFolder:
    """A job folder under test."""

    root: Path

    def write(self, name: str, content: str | bytes) -> Path:
        """Put a file into the folder."""
        path = self.root / name
        path.parent.mkdir(parents=True, exist_ok=True)
        path.write_bytes(content if isinstance(content, bytes) else content.encode("utf-8"))
        return path


@dataclass(frozen=True)
class Run:
    """How a run of the program ended."""

    status: int
    out: str
    err: str

    @property
    def text(self) -> str:
        return self.out + self.err


@pytest.fixture
def job(tmp_path: Path) -> JobFolder:
    """A folder with the lamp job."""
    folder = JobFolder(tmp_path / "lamp")
    folder.write("job.md", LAMP)
    return folder


@dataclass
class Hashes:
    """Remembers the raw files at the first look, and compares at the end."""

    root: Path

    def __post_init__(self) -> None:
        self.before: dict[str, str] = {}

    def look(self) -> dict[str, str]:
        files = sorted(
            p for name in ("footage", "takes") for p in (self.root / name).rglob("*") if p.is_file()
        )
        return {str(p): hashlib.sha256(p.read_bytes()).hexdigest() for p in files}

    def same_as_before(self) -> None:
        for path, digest in self.before.items():
            assert self.look().get(path) == digest, f"{path} was touched"


@pytest.fixture
def run(job: JobFolder, capsys: pytest.CaptureFixture[str]) -> Callable[..., Run]:
    """Run a command in this process; raw files are compared before and after."""

    def go(*arguments: str | Path) -> Run:
        hashes = Hashes(job.root)
        hashes.before = hashes.look()
        capsys.readouterr()
        status = cli.run([str(argument) for argument in arguments])
        said = capsys.readouterr()
        hashes.same_as_before()
        assert "Traceback" not in said.err, said.err
        return Run(status, said.out, said.err)

    return go


def pytest_configure() -> None:
    """Tests press Ctrl-C, which a shell ignores in what it runs in the background; all processes below inherit that."""
    if signal.getsignal(signal.SIGINT) is signal.SIG_IGN:
        signal.signal(signal.SIGINT, signal.default_int_handler)


def pytest_sessionfinish(session: pytest.Session, exitstatus: int) -> None:
    """In CI every needed program is installed, so a skipped test is a hole in the net."""
    reporter = session.config.pluginmanager.get_plugin("terminalreporter")
    skipped = reporter.stats.get("skipped", []) if reporter else []
    if os.environ.get("CI") == "true" and skipped and exitstatus == 0:
        session.exitstatus = pytest.ExitCode.TESTS_FAILED
        reporter.write_line(f"{len(skipped)} skipped; in CI nothing may be", red=True)
