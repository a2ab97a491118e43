"""What was rendered before, kept by what it was made from, so that an edit re-renders only what changed.

An entry's name is a digest of everything that decides its bytes: the arguments with each file replaced
by its content's identity, and the ffmpeg that ran them. Content decides, never a time stamp. Beside each
entry lies a short file with its size and checksum.
"""

from __future__ import annotations

import hashlib
import os
import threading
import zlib
from collections.abc import Callable
from dataclasses import dataclass
from pathlib import Path

from episodekit.outside.errors import MediaError
from episodekit.outside.media.ffmpeg_door import Command

_SUM = ".sum"
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

        A power cut, a full disk or a copying program may shorten or blank it; then it is made again.
        """
        try:
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

    def _sum(self, key: str) -> Path:
        return self.home / f"{key}{_SUM}"


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
