"""The ffmpeg door: which program, which arguments, and running it. The only importer of ffmpeg-python.

ffmpeg-python builds a graph and compiles it to arguments; running is ours, since its own runner has no
time-out, no progress and says no more than "see stderr". Two rules for those who build graphs: text
never goes through a filter string, and no stream is ever used as a key (streams of one input compare
equal whatever their selector).
"""

from __future__ import annotations

import re
import subprocess
import sys
import tempfile
import threading
from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass
from typing import Any

import ffmpeg
import imageio_ffmpeg

from episodekit.base.time import Seconds
from episodekit.outside.errors import Cancelled, MediaError

Graph = Any
"""A stream of ffmpeg-python, which has no types: `.filter(name, ...)` gives another one."""

Command = tuple[str, ...]
"""All arguments, the program first."""

_LOG_LINES = 12
_DISK_WORDS = ("No space left on device", "Disk quota exceeded", "File too large", "Read-only file system")
_DECODER_WORDS = ("Error submitting packet to decoder", "Invalid data found when processing input")
_ENDED = 255
"""The exit status after a polite signal (ffmpeg's `ffmpeg.c`)."""
_PART = re.compile(r"^(\[[^\]]* @ (0x)?[0-9a-f]+\] *)+")
_GLOBAL = ("-hide_banner", "-nostdin", "-loglevel", "error", "-progress", "pipe:1", "-stats_period", "0.2")


def bundled_ffmpeg() -> str:
    """The ffmpeg that came with the package. Raises MediaError if this platform has none."""
    try:
        return str(imageio_ffmpeg.get_ffmpeg_exe())
    except RuntimeError as error:
        raise MediaError(f"No ffmpeg for this machine: {error}") from error


def source(path: str, options: Mapping[str, str | int | None]) -> Graph:
    """An input. An option of None is a bare flag."""
    return ffmpeg.input(path, **dict(options))


def laid_over(picture: Graph, graphic: Graph, x: int, y: int) -> Graph:
    """A graphic over a picture for as long as the graphic lasts."""
    return ffmpeg.overlay(picture, graphic, eof_action="pass", x=x, y=y)


def decimal(seconds: Seconds) -> str:
    """Seconds with six decimals, rounded down; exact arithmetic, since it only says where to look."""
    micro = seconds * 1_000_000 // 1
    sign = "-" if micro < 0 else ""
    return f"{sign}{abs(micro) // 1_000_000}.{abs(micro) % 1_000_000:06d}"


def patched(picture: Graph, patch: Graph, x: str, y: str, until: str) -> Graph:
    """A patch over a picture of 10 bits while an expression holds; both have the same frames."""
    return ffmpeg.overlay(picture, patch, x=x, y=y, format="yuv420p10", enable=until)


def spoken_over(bench: Graph, voice: Graph) -> Graph:
    """A voice over the sound of the bench, which gives way by some 12 dB while somebody speaks.

    Both as loud as they are. The figures are common practice, no source.
    """
    heard = voice.filter_multi_output("asplit")
    under = ffmpeg.filter(
        [bench, heard[0]], "sidechaincompress", threshold=0.01, ratio=4, attack=20, release=400
    )
    return ffmpeg.filter([under, heard[1]], "amix", inputs=2, normalize=0, duration="first")


def command(
    program: str,
    streams: Sequence[Graph],
    target: str,
    options: Mapping[str, str | int],
    beside: tuple[Graph, str, Mapping[str, str | int]] | None = None,
) -> Command:
    """The arguments that write `streams` to `target`; nothing is run. `beside` is a stream for a second file."""
    node = ffmpeg.output(*streams, target, **dict(options))
    if beside is not None:
        stream, file, how = beside
        node = ffmpeg.merge_outputs(ffmpeg.output(stream, file, **dict(how)), node)
    node = node.global_args(*_GLOBAL)
    return tuple(str(word) for word in ffmpeg.compile(node, cmd=program, overwrite_output=True))


def target_of(words: Command) -> int:
    """Where in a command its target stands: after all else but the options for the whole program.

    >>> words = command("ffmpeg", [source("a.mp4", {})], "b.mp4", {})
    >>> words[target_of(words)]
    'b.mp4'
    """
    return len(words) - len(_GLOBAL) - 2  # the last word lets it write over a file


@dataclass(frozen=True)
class Outcome:
    """How a run ended: exit status (negative for a signal), frames written, last log lines."""

    status: int
    frames: int
    log: str

    @property
    def stopped(self) -> str:
        """Why the run's end says nothing about the footage: the disk refused, or somebody ended ffmpeg.

        Empty if it does.
        """
        refused = next((words for words in _DISK_WORDS if words in self.log), "")
        if refused:
            return f"the disk refused: {refused}"
        return "it was ended from outside" if self.status < 0 or self.status == _ENDED else ""

    @property
    def undecoded(self) -> bool:
        """Whether it found nothing to decode, rather than failing at something else."""
        return self.status == 0 or any(words in self.log for words in _DECODER_WORDS)

    @property
    def last_line(self) -> str:
        """The last thing ffmpeg said, without the addresses of its parts."""
        return _PART.sub("", self.log.rpartition("\n")[2]) or f"exit {self.status}"


class Children:
    """The ffmpeg processes of one render, so that they can all be ended at once.

    They run in a session of their own: Ctrl-C in the terminal reaches only the program, which then
    ends them itself and removes what they had begun to write. They run `here`, on this machine.
    """

    here = True

    def __init__(self) -> None:
        self._lock = threading.Lock()
        self._running: set[subprocess.Popen[str]] = set()
        self._closed = False

    def run(self, words: Command, progress: Callable[[int], None] | None = None) -> Outcome:
        """Run to the end. `progress` hears the frames written so far.

        Raises MediaError if the program cannot be started, Cancelled after `end_all`.
        """
        with tempfile.TemporaryFile("w+", encoding="utf-8", errors="replace") as log:
            child = self._start(words, log)
            frames = 0
            try:
                assert child.stdout is not None
                for line in child.stdout:
                    name, _, value = line.strip().partition("=")
                    if name == "frame" and value.strip().isdecimal():
                        frames = int(value)
                        if progress is not None:
                            progress(frames)
                status = child.wait()
            finally:
                if child.poll() is None:
                    child.kill()
                    child.wait()
                if child.stdout is not None:
                    child.stdout.close()
                with self._lock:
                    self._running.discard(child)
            log.seek(0)
            lines = log.read().splitlines()[-_LOG_LINES:]
        if self._closed:
            raise Cancelled("stopped before the draft was complete")
        return Outcome(status, frames, "\n".join(lines))

    def must_run(
        self, words: Command, what: str, file: str, progress: Callable[[int], None] | None = None
    ) -> int:
        """Run what cannot be done without; the frames written. Raises MediaError if it fails."""
        outcome = self.try_run(words, what, file, progress)
        if outcome.status != 0:
            raise MediaError(f"ffmpeg could not {what} (exit {outcome.status}).", words, file, outcome.log)
        return outcome.frames

    def try_run(
        self, words: Command, what: str, file: str, progress: Callable[[int], None] | None = None
    ) -> Outcome:
        """Run what footage may make fail. Raises MediaError if it failed for a reason that is not the footage's."""
        outcome = self.run(words, progress)
        if outcome.status != 0 and outcome.stopped:
            raise MediaError(f"ffmpeg could not {what}: {outcome.stopped}.", words, file, outcome.log)
        return outcome

    def end_all(self) -> None:
        """End every process and let none start afterwards."""
        with self._lock:
            self._closed = True
            for child in self._running:
                child.kill()

    def _start(self, words: Command, log: Any) -> subprocess.Popen[str]:
        with self._lock:
            if self._closed:
                raise Cancelled("stopped before the draft was complete")
            flags = 0
            if sys.platform == "win32":
                flags = subprocess.CREATE_NEW_PROCESS_GROUP
            try:
                child = subprocess.Popen(
                    words,
                    stdin=subprocess.DEVNULL,
                    stdout=subprocess.PIPE,
                    stderr=log,
                    encoding="utf-8",
                    errors="replace",
                    start_new_session=sys.platform != "win32",
                    creationflags=flags,
                )
            except OSError as error:
                raise MediaError(f"ffmpeg cannot be started: {error}", words, words[0]) from error
            self._running.add(child)
            return child


def version(program: str) -> str:
    """The first line the program prints about itself; part of every cache key.

    Raises MediaError if it is no working ffmpeg.
    """
    try:
        done = subprocess.run(
            [program, "-version"], capture_output=True, text=True, errors="replace", timeout=60, check=False
        )
    except (OSError, subprocess.TimeoutExpired) as error:
        raise MediaError(f"ffmpeg cannot be started: {error}", (program, "-version"), program) from error
    first = done.stdout.partition("\n")[0]
    if done.returncode != 0 or not first.startswith("ffmpeg"):
        raise MediaError("This program is no ffmpeg.", (program, "-version"), program, done.stderr[-500:])
    return first
