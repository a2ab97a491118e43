"""Files by their number, and the wait until they are on the disk itself."""

from __future__ import annotations

import contextlib
import os
import sys
from pathlib import Path

if sys.platform == "win32":
    import msvcrt
else:
    import fcntl


class opened:
    """A file by its number, closed at the end; never through a link. Raises OSError."""

    def __init__(self, path: Path, flags: int, mode: int = 0o666) -> None:
        quiet = getattr(os, "O_NOFOLLOW", 0) | getattr(os, "O_BINARY", 0) | getattr(os, "O_CLOEXEC", 0)
        self._number = os.open(path, flags | quiet, mode)

    def __enter__(self) -> int:
        return self._number

    def __exit__(self, *_: object) -> None:
        os.close(self._number)


def to_disk(number: int) -> None:
    """Wait until a file is on the disk itself, as far as the system can tell. Raises OSError."""
    if sys.platform == "darwin":
        fcntl.fcntl(number, fcntl.F_FULLFSYNC)  # fsync there leaves it in the drive's own memory
    else:
        os.fsync(number)


def folder_to_disk(folder: Path) -> None:
    """Wait until the name of a new file is on disk; Windows does that by itself. Raises OSError."""
    if sys.platform != "win32":
        with opened(folder, os.O_RDONLY) as number:
            os.fsync(number)


def write_secret(path: Path, text: str) -> None:
    """A small file that nobody else may read; it appears whole or not at all, its folder and the one above with it.

    Raises OSError; a job folder that was moved is not made anew.
    """
    path.parent.parent.mkdir(exist_ok=True)
    path.parent.mkdir(exist_ok=True)
    part = path.with_name(f".{path.name}.part")
    with contextlib.suppress(FileNotFoundError):
        part.unlink()
    with opened(part, os.O_WRONLY | os.O_CREAT | os.O_EXCL, 0o600) as number:
        rest = memoryview(text.encode())
        while rest:
            rest = rest[os.write(number, rest) :]
        to_disk(number)
    part.replace(path)
    folder_to_disk(path.parent)


class InUse(Exception):
    """Another program holds the lock."""


class Lock:
    """A file that one program at a time can hold. The system lets go of it when that program ends, however it ends.

    Raises InUse, or OSError.
    """

    def __init__(self, path: Path) -> None:
        self._number = os.open(path, os.O_RDWR | os.O_CREAT | getattr(os, "O_CLOEXEC", 0), 0o600)
        try:
            if sys.platform == "win32":
                msvcrt.locking(self._number, msvcrt.LK_NBLCK, 1)
            else:
                fcntl.flock(self._number, fcntl.LOCK_EX | fcntl.LOCK_NB)
        except (BlockingIOError, PermissionError) as error:
            os.close(self._number)
            raise InUse from error

    def free(self) -> None:
        """Let go of it."""
        os.close(self._number)
