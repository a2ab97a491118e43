"""What was found in clips is kept in the cache as JSON, by the content of the clips and the version of the search."""

from __future__ import annotations

import hashlib
import json
from collections.abc import Callable
from pathlib import Path
from typing import Any, TypeVar

from episodekit.footage.model import Clip
from episodekit.outside.files import write_whole

_Found = TypeVar("_Found")


def kept(
    folder: Path,
    version: str,
    clips: tuple[Clip, ...],
    search: Callable[[], _Found],
    rows: Callable[[_Found], object],
    read: Callable[[Any], _Found],
) -> _Found:
    """What `search` finds in the clips, searched once as long as they stay what they are.

    `rows` writes it as JSON's values, `read` makes it of those again; what cannot be read is searched for anew. Raises
    MediaError when the cache cannot be written.
    """
    name = "\0".join((version, *(clip.identity for clip in clips)))
    file = folder / f"{hashlib.sha256(name.encode()).hexdigest()[:40]}.json"
    try:
        return read(json.loads(file.read_text(encoding="ascii")))
    except (OSError, ValueError, TypeError, ZeroDivisionError):
        found = search()
    write_whole(file, json.dumps(rows(found)) + "\n")
    return found
