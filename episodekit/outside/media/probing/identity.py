"""What a camera file is, by its content."""

from __future__ import annotations

import hashlib
import json
from collections.abc import Mapping
from contextlib import suppress
from dataclasses import replace
from pathlib import Path

from episodekit.footage.model import Clip
from episodekit.outside.files import write_whole

BLOCK_BYTES = 1 << 18
BLOCKS = 8
_READ_AT_ONCE = 1 << 20
_WHOLE = "footage-read-whole.json"


def identity(path: Path) -> str:
    """A digest of the size and of eight blocks of 256 KiB spread from the first byte to the last.

    Not of the modification time: copying from a card, a backup or a clone changes that while the bytes
    stay the same, and a file written over with another may keep it. Not of every byte: an hour of
    footage is tens of gigabytes. A camera never changes a few bytes in the middle of a file. Raises
    OSError.
    """
    size = path.stat().st_size
    digest = hashlib.sha256(str(size).encode())
    with path.open("rb") as file:
        if size <= BLOCK_BYTES * BLOCKS:
            digest.update(file.read())
        else:
            for block in range(BLOCKS):
                file.seek((size - BLOCK_BYTES) * block // (BLOCKS - 1))
                digest.update(file.read(BLOCK_BYTES))
    return digest.hexdigest()


def identified(clips: Mapping[str, Clip], root: Path, cache: Path, *, every_byte: bool) -> Mapping[str, Clip]:
    """The clips, told apart also by what was found when their files were last read whole.

    With `every_byte` they are read whole now, which takes as long as copying them. The digest is kept in `cache`.
    As long as it is the first one met for these samples, the clip keeps its identity, so that reading whole renders
    nothing again; a file that differs where no sample lies gets another one, and keeps that in later runs, whole
    or not. Raises MediaError when the cache cannot be written; a clip that cannot be read stays as it is.
    """
    known = _known(cache)
    found = {}
    for path, clip in clips.items():
        told = known.get(path, {})
        same = told.get("samples") == clip.identity
        if every_byte:
            with suppress(OSError):
                digest = _digest(root / path)
                first = told["first"] if same else digest
                told = {"samples": clip.identity, "first": first, "last": digest}
                known[path], same = told, True
        other = same and told["last"] != told["first"]
        found[path] = replace(clip, identity=f"{clip.identity}-{told['last']}") if other else clip
    if every_byte:
        write_whole(cache / _WHOLE, json.dumps(known, sort_keys=True))
    return found


def _known(cache: Path) -> dict[str, dict[str, str]]:
    """What was kept, or nothing if it is not there or damaged."""
    with suppress(OSError, ValueError, AttributeError):
        kept = json.loads((cache / _WHOLE).read_text(encoding="ascii"))
        return {
            path: told
            for path, told in kept.items()
            if isinstance(told, dict) and {"samples", "first", "last"} == told.keys()
        }
    return {}


def _digest(path: Path) -> str:
    digest = hashlib.sha256()
    with path.open("rb") as file:
        while block := file.read(_READ_AT_ONCE):
            digest.update(block)
    return digest.hexdigest()
