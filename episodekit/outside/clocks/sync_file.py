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
"""So many clips are named in a finding."""


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
    here = {clip.path: clip.identity for clip in clips}
    known: dict[str, Known] = {}
    told = []
    lost, stale = [], []
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
            how = "new" if doc is None else "changed"
            if was is not None:
                how = "a copy of {}" if here.get(was) == clip.identity else "what {} was"
                how = how.format(was.removeprefix("footage/"))
            stale.append(f"{clip.path.removeprefix('footage/')} ({how})")
    if stale:
        they, lies = "These clips are not", "They lie where their files say."
        if len(stale) == 1:
            they, lies = "This clip is not", "It lies where its file says."
        told.append(
            finding(rules.STALE, Place(FILE), f"{they} as when sync was run: {_some(stale)}. {lies}", again)
        )
    if lost:
        said = f"sync did not place {_some(lost)}."
        told.append(
            finding(rules.NOT_PLACED, Place(FILE), said, "`episodekit sync` says why, and what to do.")
        )
    return known, tuple(told)


def _some(names: Sequence[str]) -> str:
    """The first few, and how many more."""
    more = f" and {len(names) - _NAMED} more" if len(names) > _NAMED else ""
    return f"{', '.join(names[:_NAMED])}{more}"


def write_sync(root: Path, clips: Sequence[Synced]) -> Path:
    """Write the file whole or not at all. Raises MediaError."""
    file = root / FILE
    write_whole(file, sync_json(clips))
    return file
