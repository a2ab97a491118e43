"""Writing a file so that it appears whole or not at all."""

from __future__ import annotations

import contextlib
from pathlib import Path

from episodekit.outside.errors import MediaError


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
            f"{path.name} cannot be written: {why}. Check the folder and the free space.", (), path.name
        ) from error
