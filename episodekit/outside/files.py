"""Files of a job folder: the ones that may be media, and writing one so that it appears whole or not at all."""

from __future__ import annotations

import contextlib
import os
import re
from collections.abc import Iterator
from pathlib import Path

from episodekit.outside.errors import MediaError


def media_files(folder: Path, beside: re.Pattern[str]) -> tuple[Path, ...]:
    """The files in a folder and below that may be media, sorted; none if there is no such folder.

    Links to folders are followed. Hidden files are left out, and those whose suffix matches `beside`: what cameras,
    recorders and editors leave beside the media.
    """
    found = (Path(here, name) for here, names in _walked(folder, []) for name in names)
    return tuple(sorted(path for path in found if not beside.fullmatch(path.suffix)))


def unopened(folder: Path) -> tuple[tuple[str, str], ...]:
    """What of a folder and those below cannot be opened, hidden ones left out: path from its parent, and why."""
    wrong: list[OSError] = []
    for _ in _walked(folder, wrong):
        pass
    told = []
    for error in wrong:
        path = Path(error.filename).relative_to(folder.parent).as_posix()
        path = path.encode("utf-8", "backslashreplace").decode("utf-8")
        told.append((path, (error.strerror or str(error)).lower()))
    return tuple(sorted(told))


def _walked(folder: Path, wrong: list[OSError]) -> Iterator[tuple[str, list[str]]]:
    """Each folder with its files, hidden ones left out; `wrong` is told which cannot be opened.

    No folder is entered again from inside it, whatever links lead there.
    """
    if not os.path.lexists(folder):
        return
    entered = {str(folder): {os.path.realpath(folder)}}
    for here, inside, names in os.walk(folder, onerror=wrong.append, followlinks=True):
        around = entered.pop(here)
        reals = {name: os.path.realpath(Path(here, name)) for name in inside if name[0] != "."}
        inside[:] = [name for name, real in reals.items() if real not in around]
        entered |= {str(Path(here, name)): {*around, reals[name]} for name in inside}
        yield here, [name for name in names if name[0] != "."]


def write_whole(path: Path, text: str) -> None:
    """Write a UTF-8 file with bare newlines; it appears whole or not at all. Raises MediaError."""
    part = path.with_name(f".{path.name}.part")
    try:
        path.parent.mkdir(parents=True, exist_ok=True)
        part.write_text(text, encoding="utf-8", newline="")
        part.replace(path)
    except OSError as error:
        with contextlib.suppress(OSError):
            part.unlink(missing_ok=True)
        why = (error.strerror or str(error)).lower()
        raise MediaError(
            f"{path.name} cannot be written: {why}. Check the folder and the free space.", (), str(path)
        ) from error


def remove(path: Path) -> None:
    """Remove a file that this program wrote, if it is there. Raises MediaError."""
    try:
        path.unlink(missing_ok=True)
    except OSError as error:
        why = (error.strerror or str(error)).lower()
        raise MediaError(
            f"{path.name} cannot be removed: {why}. Remove it by hand.", (), path.name
        ) from error
