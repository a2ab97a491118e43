"""The door to takes/: recorded narration, only ever read. Files become takes with a measured length."""

from __future__ import annotations

import re
from concurrent.futures import ThreadPoolExecutor
from pathlib import Path

from episodekit.base.findings import Finding, finding
from episodekit.base.place import Place
from episodekit.job.model import Plan
from episodekit.outside.files import media_files
from episodekit.outside.media.probing.audio import NotHeard, frames_to_ms, loudness
from episodekit.timing.rules import TAKE_SILENT, TAKE_UNREADABLE
from episodekit.timing.takes import Take, beat_of, beats_of, unknown_beat
from episodekit.timing.trim import speech_span

FOLDER = "takes"

# What recorders and editors leave beside the sound.
_BESIDE = re.compile(
    r"\.(aup3?|asd|band|bak|csv|db|ini|jpe?g|json|md|pdf|pek|pkf|png|reapeaks|rpp|rpp-bak|sesx|srt|txt|vtt|xml)",
    re.I,
)


def take_files(root: Path) -> tuple[Path, ...]:
    """The files in takes/ that may be recordings, sorted; hidden files and editors' own files left out."""
    return media_files(root / FOLDER, _BESIDE)


def read_takes(root: Path, plan: Plan) -> tuple[tuple[Take, ...], tuple[Finding, ...]]:
    """All takes of a job folder, in the order of their names (take 10 after take 2). What is wrong is a finding."""
    beats = beats_of(plan)
    takes: list[Take] = []
    found: list[Finding] = []
    wanted: list[tuple[Path, str, str]] = []
    for path in take_files(root):
        name = _shown(path.relative_to(root).as_posix())
        beat = beat_of(path.stem, beats)
        if name != path.relative_to(root).as_posix():
            said = "Its name is not valid text."
            found.append(finding(TAKE_UNREADABLE, Place(name), said, "Rename the file."))
        elif beat is None:
            found.append(unknown_beat(name, path.stem, beats))
        else:
            wanted.append((path, name, beat))
    wanted.sort(key=lambda one: _by_number(one[1]))
    with ThreadPoolExecutor(max_workers=4) as pool:
        measured = list(pool.map(lambda one: _measure(*one), wanted))
    for one in measured:
        if isinstance(one, Take):
            takes.append(one)
        else:
            found.append(one)
    return tuple(takes), tuple(found)


def _shown(name: str) -> str:
    """A file's name as valid text."""
    return name.encode("utf-8", "backslashreplace").decode("utf-8")


def _by_number(name: str) -> list[tuple[int, str]]:
    """How names are ordered: numbers in them by their size."""
    return [
        (int(part), "") if part.isdecimal() and part.isascii() else (-1, part)
        for part in re.split(r"([0-9]{1,18})", name.lower())
    ]


def _measure(path: Path, name: str, beat: str) -> Take | Finding:
    try:
        span = speech_span(loudness(path))
    except NotHeard as problem:
        return finding(
            TAKE_UNREADABLE, Place(name), str(problem), "Export it again, or move it out of takes/."
        )
    if span is None:
        remedy = "Check the input and the level, and record it again."
        return finding(TAKE_SILENT, Place(name), "No speech stands out in it.", remedy)
    return Take(name, beat, frames_to_ms(span[1] - span[0]), frames_to_ms(span[0]))
