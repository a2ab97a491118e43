"""Files of a job folder: the ones that may be media, and writing one so that it appears whole or not at all."""

from __future__ import annotations

import contextlib
import re
from pathlib import Path

from episodekit.outside.errors import MediaError


def media_files(folder: Path, beside: re.Pattern[str]) -> tuple[Path, ...]:
    """The files in a folder and below that may be media, sorted; none if there is no such folder.

    Hidden files are left out, and those whose suffix matches `beside`: what cameras, recorders and editors
    leave beside the media.
    """
    if not folder.is_dir():
        return ()
    return tuple(
        path
        for path in sorted(folder.rglob("*"))
        if not any(part.startswith(".") for part in path.relative_to(folder).parts)
        and not beside.fullmatch(path.suffix)
        and not path.is_dir()
    )


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
