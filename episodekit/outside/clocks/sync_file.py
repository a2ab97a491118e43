"""out/sync.json on disk: written by `sync`, read by everything that needs to know when a clip rolled."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from fractions import Fraction
from pathlib import Path

from episodekit.base.findings import Finding, finding
from episodekit.base.place import Place
from episodekit.footage.model import Clip, Known
from episodekit.formats.sync_json import read_sync_json, sync_json
from episodekit.outside.files import write_whole
from episodekit.sync import rules
from episodekit.sync.model import AS_FILED, Synced

FILE = "out/sync.json"
_LARGEST = 50_000_000
_NAMED = 3
"""So many clips that are not placed are named."""


def read_sync(root: Path, clips: Sequence[Clip]) -> tuple[Mapping[str, Known], tuple[Finding, ...]]:
    """Where sync found the clips that are still what they were; nothing if it was not run."""
    file = root / FILE
    again = "Run `episodekit sync` again."
    try:
        if file.stat().st_size > _LARGEST:
            return {}, (finding(rules.BROKEN, Place(FILE), "It is too large to be a sync file.", again),)
        docs = {doc.path: doc for doc in read_sync_json(file.read_bytes())}
    except (FileNotFoundError, NotADirectoryError):
        return {}, ()
    except OSError as error:
        said = f"It cannot be opened: {(error.strerror or str(error)).lower()}."
        remedy = "Remove it, and run `episodekit sync` again."
        return {}, (finding(rules.BROKEN, Place(FILE), said, remedy),)
    except ValueError as error:
        return {}, (finding(rules.BROKEN, Place(FILE), f"It cannot be read: {error}.", again),)
    names = {doc.identity: doc.path for doc in docs.values()}
    known: dict[str, Known] = {}
    told = []
    lost = []
    for clip in clips:
        doc = docs.get(clip.path)
        if doc is not None and doc.identity == clip.identity:
            if doc.why == AS_FILED:
                continue
            if doc.start is None:
                lost.append(clip.path.removeprefix("footage/"))
            start, within = (None if text is None else Fraction(text) for text in (doc.start, doc.within))
            known[clip.path] = Known(start, Fraction(doc.pace), within)
        else:
            was = names.get(clip.identity)
            said = "It is new" if doc is None else "It has changed"
            said = (
                f"{said} since sync was run" if was is None else f"It holds what {was} held when sync was run"
            )
            told.append(
                finding(rules.STALE, Place(clip.path), f"{said}, and lies where its file says.", again)
            )
    if lost:
        more = f" and {len(lost) - _NAMED} more" if len(lost) > _NAMED else ""
        said = f"sync did not place {', '.join(lost[:_NAMED])}{more}."
        told.append(
            finding(rules.NOT_PLACED, Place(FILE), said, "`episodekit sync` says why, and what to do.")
        )
    return known, tuple(told)


def write_sync(root: Path, clips: Sequence[Synced]) -> Path:
    """Write the file whole or not at all. Raises MediaError."""
    file = root / FILE
    write_whole(file, sync_json(clips))
    return file
