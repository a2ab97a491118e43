"""What was rendered before, kept by what it was made from, so that an edit re-renders only what changed.

An entry's name is a digest of everything that decides its bytes: the arguments with each file replaced
by its content's identity, and the ffmpeg that ran them. Content decides, never a time stamp. Beside each
entry lies a short file with its size and checksum.
"""

from __future__ import annotations

import hashlib
import os
import shutil
import threading
import zlib
from collections.abc import Callable, Iterable, Iterator
from contextlib import suppress
from dataclasses import dataclass
from pathlib import Path

from episodekit.outside.errors import MediaError
from episodekit.outside.media.ffmpeg_door import Command

USUAL_LIMIT = 20_000_000_000
"""Bytes; some ten hours of drafts in 720p. Common practice, no source."""

_SUM = ".sum"
_NEEDS = "needs.txt"
_BLOCK = 1 << 20


@dataclass(frozen=True)
class Cache:
    """A directory of entries, and a work directory on the same disk for those not yet whole."""

    home: Path
    work: Path

    def entry(self, key: str) -> Path:
        """Where the entry lies, or would lie."""
        return self.home / key

    def has(self, key: str) -> bool:
        """Whether the entry is there and still holds the bytes that were put into it.

        A power cut, a full disk or a copying program may shorten or blank it; then it is made again. An
        entry that is asked for counts as used now.
        """
        try:
            os.utime(self._sum(key))
            return self._sum(key).read_text(encoding="ascii") == checksum(self.entry(key))
        except (OSError, UnicodeDecodeError):
            return False

    def fill(self, key: str, make: Callable[[Path], bool]) -> bool:
        """Have `make` write the entry to a path it is given; keep it if it says that it is good.

        Returns what `make` returned. Raises MediaError when the disk refuses.
        """
        draft = self.work / f"{threading.get_ident()}-{key}"  # two workers may make the same entry
        told = draft.with_name(f"{draft.name}{_SUM}")
        try:
            good = make(draft)
            if good:
                told.write_text(checksum(draft), encoding="ascii")
                settle(draft)
                told.replace(self._sum(key))
                draft.replace(self.entry(key))
            return good
        except OSError as error:
            why = error.strerror or error
            raise MediaError(f"The cache cannot be written: {why}", (), str(draft)) from error
        finally:
            draft.unlink(missing_ok=True)
            told.unlink(missing_ok=True)

    def need(self, keys: Iterable[str]) -> None:
        """Tell other runs which entries this one will join, so that they leave them there. Raises OSError."""
        draft = self.work / f"{_NEEDS}.new"
        draft.write_text("\n".join(keys), encoding="ascii")
        draft.replace(self.work / _NEEDS)

    def trim(self, limit: int) -> int:
        """Drop the entries that were not used for longest until no more than `limit` bytes are left.

        Never those that this run or another one needs, so more than the limit may stay. Returns the bytes
        that are left.
        """
        needed = {key for told in self.home.glob(f"work-*/{_NEEDS}") for key in _lines(told)}
        found = sorted(_Entry.all_in(self.home), key=lambda entry: (entry.used, entry.sum.name))
        left = sum(entry.size for entry in found)
        for entry in found:
            if left <= limit:
                break
            if entry.sum.name.removesuffix(_SUM) not in needed and entry.drop():
                left -= entry.size
        return left

    def _sum(self, key: str) -> Path:
        return self.home / f"{key}{_SUM}"


@dataclass(frozen=True)
class _Entry:
    """An entry's checksum file, when it was last used (ns), and its bytes."""

    sum: Path
    used: int
    size: int

    @staticmethod
    def all_in(home: Path) -> Iterator[_Entry]:
        for told in home.glob(f"*{_SUM}"):
            with suppress(OSError):  # another run dropped it meanwhile
                yield _Entry(told, told.stat().st_mtime_ns, told.with_suffix("").stat().st_size)

    def drop(self) -> bool:
        """Remove it, unless it was used since. The checksum goes last, since what has none is never looked for."""
        with suppress(OSError):
            if self.sum.stat().st_mtime_ns == self.used:
                self.sum.with_suffix("").unlink()
                self.sum.unlink()
                return True
        return False


def share_of_disk(home: Path) -> int:
    """What a cache may grow to if nobody says: `USUAL_LIMIT`, or half of what is free where that is less.

    What it holds already counts as free. Raises OSError.
    """
    held = sum(entry.size for entry in _Entry.all_in(home))
    return min(USUAL_LIMIT, (shutil.disk_usage(home).free + held) // 2)


def _lines(path: Path) -> list[str]:
    with suppress(OSError, UnicodeDecodeError):
        return path.read_text(encoding="ascii").splitlines()
    return []


def checksum(path: Path) -> str:
    """Size and CRC-32 of a file, against accidents. Raises OSError."""
    size = crc = 0
    with path.open("rb") as file:
        while block := file.read(_BLOCK):
            size += len(block)
            crc = zlib.crc32(block, crc)
    return f"{size} {crc:08x}"


def settle(path: Path) -> None:
    """Have the disk keep a file's bytes before its name is changed, so that no name stands for nothing."""
    with path.open("rb+") as file:
        os.fsync(file.fileno())


def key(words: Command, program: str, suffix: str) -> str:
    """The name of an entry made by `words`, in which files are named by their identity."""
    text = "\0".join((program, *words[1:]))
    return hashlib.sha256(text.encode("utf-8", "surrogateescape")).hexdigest()[:40] + suffix
