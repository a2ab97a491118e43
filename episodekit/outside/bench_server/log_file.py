"""bench.jsonl as the server keeps it: appended, flushed to the disk, and only then told to be safe.

The file belongs to the creator, who may edit it at any time, with any editor. So it is opened anew for each batch,
read again whenever it is not as this program left it, and never rewritten.
"""

from __future__ import annotations

import errno
import os
import stat
import threading
import time
from collections.abc import Callable, Sequence
from dataclasses import dataclass, field
from datetime import timedelta
from pathlib import Path

from episodekit.bench.model import Kind
from episodekit.bench.rules import TORN
from episodekit.formats.bench_jsonl import read_bench_jsonl
from episodekit.formats.bench_posted import Posted, Refused
from episodekit.outside.bench_server.disk import folder_to_disk, opened, to_disk
from episodekit.outside.bench_server.logged import LoggedMark, id_in, instant_of, is_same, line_of
from episodekit.outside.bench_server.saved_over import SavedOver

LOG = "bench.jsonl"
LARGEST = 50_000_000


class LogUnwritable(Exception):
    """The log cannot be read or written now; the text says why and what to do. Marks are to be kept."""


@dataclass(frozen=True)
class Look:
    """The log as it is. `edition` changes when it was edited by hand, so that marks keep their numbers within one."""

    marks: Sequence[LoggedMark]
    unread: int
    edition: str


@dataclass
class _Content:
    """What is known of the file since it was read or written last."""

    stamp: tuple[int, int, int]
    marks: list[LoggedMark] = field(default_factory=list)
    by_id: dict[str, LoggedMark | None] = field(default_factory=dict)
    unread: int = 0
    ends_whole: bool = True


class LogFile:
    """The log of one job. `tell` is called with what the creator should know, `spare` is a file for lines that an
    editor wrote over. `marks` and `chirps` are how many this run wrote.
    """

    def __init__(self, root: Path, spare: Path, tell: Callable[[str], None]) -> None:
        self._path = root / LOG
        self._home = _place(root)
        self._lock = threading.Lock()
        self._content: _Content | None = None
        self._born = int(time.time())
        self._editions = 0
        self.marks = self.chirps = 0
        self._taken: dict[str, str] = {}  # lines that this run wrote, by id
        self._saved_over = SavedOver(spare, tell)

    def look(self, offset: timedelta | None = None) -> Look:
        """The log as it is now. `offset` is for times written without one. Raises LogUnwritable."""
        with self._lock:
            try:
                content = self._fresh(offset)
                return Look(tuple(content.marks), content.unread, f"{self._born}-{self._editions}")
            except OSError as error:
                raise _unwritable(error) from error

    def try_to_open(self) -> None:
        """Raises LogUnwritable if no mark could be written now."""
        try:
            with opened(self._path, os.O_WRONLY | os.O_APPEND):
                pass
        except FileNotFoundError:
            if not os.access(self._path.parent, os.W_OK):
                raise _unwritable(PermissionError(errno.EACCES, os.strerror(errno.EACCES))) from None
        except OSError as error:
            raise _unwritable(error) from error

    def take(
        self, posted: Sequence[Posted], offset: timedelta | None
    ) -> tuple[tuple[str, ...], tuple[Refused, ...]]:
        """Write the marks that are not there yet; the ids of those that are on disk now, and those refused.

        `offset` is the plan's from UTC; without one, this machine's at that instant. Raises LogUnwritable, and then
        none may be taken for written: what was written all the same is found when the marks come again.
        """
        with self._lock:
            try:
                return self._take(posted, offset)
            except OSError as error:
                self._content = None
                raise _unwritable(error) from error

    def _take(
        self, posted: Sequence[Posted], offset: timedelta | None
    ) -> tuple[tuple[str, ...], tuple[Refused, ...]]:
        for _ in range(10):
            content = self._fresh(offset)
            new: dict[str, Posted] = {}
            taken: list[str] = []
            refused: list[Refused] = []
            for one in posted:
                known = new.get(one.id) or content.by_id.get(one.id)
                if known is not None and not is_same(one, known):
                    refused.append(Refused(one.id, "Another mark has this id."))
                    continue
                if known is None and one.id not in content.by_id and one.id not in self._taken:
                    new[one.id] = one
                taken.append(one.id)
            lines = {one.id: line_of(one, offset) for one in new.values()}
            if not lines or self._append(content, lines, offset):
                chirps = sum(one.kind is Kind.CHIRP for one in new.values())
                self.chirps, self.marks = self.chirps + chirps, self.marks + len(new) - chirps
                return tuple(taken), tuple(refused)
        raise LogUnwritable("bench.jsonl is replaced again and again; close what saves it.")

    def _append(self, content: _Content, lines: dict[str, str], offset: timedelta | None) -> bool:
        """Whether the lines are on disk in the file that bears the log's name now."""
        raw = "".join(f"{line}\n" for line in lines.values()).encode()
        is_new = content.stamp == _NOTHING
        create = os.O_CREAT | os.O_EXCL if is_new else 0
        try:
            file = opened(self._path, os.O_WRONLY | os.O_APPEND | create)
        except FileExistsError:
            return False  # made since it was looked for
        except FileNotFoundError:
            if is_new:
                raise  # the folder is gone
            return False  # taken away since it was looked for
        with file as number:
            if _stamp(os.fstat(number)) != content.stamp and not is_new:
                return False  # edited since it was read
            rest = memoryview(raw if content.ends_whole else b"\n" + raw)
            while rest:
                rest = rest[os.write(number, rest) :]
            to_disk(number)
            now = os.fstat(number)
        if is_new:
            folder_to_disk(self._path.parent)
        if now.st_size != max(0, content.stamp[1]) + len(raw) + (not content.ends_whole):
            self._content = None  # somebody else wrote at the same time
        if _stamp(self._path.stat())[0] != now.st_ino:
            self._content = None
            return False  # an editor put another file in its place: write there what it does not have
        self._taken |= lines
        if self._content is not None:
            content.stamp, content.ends_whole = _stamp(now), True
            marks, _ = read_bench_jsonl(raw, LOG)
            for mark in marks:
                logged = LoggedMark(mark, instant_of(mark, offset))
                content.marks.append(logged)
                content.by_id[mark.id] = logged
        return True

    def _fresh(self, offset: timedelta | None) -> _Content:
        """What the file holds, read again if it is not as it was left."""
        try:
            found = self._path.lstat()
        except FileNotFoundError:
            # It was moved, or its drive is gone: no log is begun in what stands in its place.
            if _place(self._path.parent) != self._home:
                raise
            stamp = _NOTHING
        else:
            if not stat.S_ISREG(found.st_mode):
                raise LogUnwritable("bench.jsonl is no plain file. Put a plain file, or none, in its place.")
            if found.st_size > LARGEST:
                raise LogUnwritable("bench.jsonl has more than 50 MB. Move it away, and a new one is begun.")
            stamp = _stamp(found)
        if self._content is None or self._content.stamp != stamp:
            self._content = self._read(stamp, offset)
            self._editions += 1
        self._saved_over.look(self._taken, self._content.by_id)
        return self._content

    def _read(self, stamp: tuple[int, int, int], offset: timedelta | None) -> _Content:
        if stamp == _NOTHING:
            return _Content(_NOTHING)
        with opened(self._path, os.O_RDONLY) as number:
            stamp = _stamp(os.fstat(number))
            parts = []
            while part := os.read(number, 1 << 20):
                parts.append(part)
            to_disk(number)  # whoever wrote them: marks found here are told to be safe
        raw = b"".join(parts)
        if raw.startswith((b"\xff\xfe", b"\xfe\xff")):
            raise LogUnwritable("bench.jsonl is saved as UTF-16. Save it as UTF-8.")
        marks, unread = read_bench_jsonl(raw, LOG)
        amiss = sum(found.rule is not TORN for found in unread)  # what a power cut tore comes again
        content = _Content(stamp, unread=amiss, ends_whole=not raw or raw.endswith(b"\n"))
        lines = raw.split(b"\n")
        for found in unread:
            # a line that was mended badly still has its id, and its mark is not written again
            name = id_in(lines[found.at.line - 1])
            if name:
                content.by_id[name] = None
        for mark in marks:
            logged = LoggedMark(mark, instant_of(mark, offset))
            content.marks.append(logged)
            if mark.id:
                content.by_id.setdefault(mark.id, logged)
        return content


_NOTHING = (-1, -1, -1)


def _place(folder: Path) -> tuple[int, int]:
    """Which folder bears that name now. Raises OSError if none does."""
    found = folder.stat()
    return found.st_dev, found.st_ino


def _stamp(found: os.stat_result) -> tuple[int, int, int]:
    return found.st_ino, found.st_size, found.st_mtime_ns


def _unwritable(error: OSError) -> LogUnwritable:
    why = (error.strerror or str(error)).lower()
    return LogUnwritable(f"bench.jsonl cannot be written: {why}. Check the folder and the free space.")
