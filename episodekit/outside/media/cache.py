"""What was rendered before, kept by what it was made from, so that an edit re-renders only what changed.

An entry's name is a digest of everything that decides its bytes: the arguments with each file replaced
by its content's identity, and the ffmpeg that ran them. Content decides, never a time stamp.
"""

from __future__ import annotations

import hashlib
import threading
from collections.abc import Callable
from dataclasses import dataclass
from pathlib import Path

from episodekit.outside.errors import MediaError
from episodekit.outside.media.ffmpeg_door import Command


@dataclass(frozen=True)
class Cache:
    """A directory of entries, and a work directory on the same disk for those not yet whole."""

    home: Path
    work: Path

    def entry(self, key: str) -> Path:
        """Where the entry lies, or would lie."""
        return self.home / key

    def has(self, key: str) -> bool:
        """Whether the entry is there. It is whole if it is there at all."""
        return self.entry(key).is_file()

    def fill(self, key: str, make: Callable[[Path], bool]) -> bool:
        """Have `make` write the entry to a path it is given; keep it if it says that it is good.

        Returns what `make` returned. Raises MediaError when the disk refuses.
        """
        draft = self.work / f"{threading.get_ident()}-{key}"  # two workers may make the same entry
        try:
            good = make(draft)
            if good:
                draft.replace(self.entry(key))
            return good
        except OSError as error:
            why = error.strerror or error
            raise MediaError(f"The cache cannot be written: {why}", (), str(draft)) from error
        finally:
            draft.unlink(missing_ok=True)


def key(words: Command, program: str, suffix: str) -> str:
    """The name of an entry made by `words`, in which files are named by their identity."""
    text = "\0".join((program, *words[1:]))
    return hashlib.sha256(text.encode("utf-8", "surrogateescape")).hexdigest()[:40] + suffix
