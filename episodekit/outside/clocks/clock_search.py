"""Search a job's footage for the filmed clock; what was searched once is kept in the cache by its content."""

from __future__ import annotations

import hashlib
import json
from collections.abc import Callable
from dataclasses import replace
from fractions import Fraction
from functools import partial
from pathlib import Path

from episodekit.base.time import Seconds
from episodekit.footage.model import Clip
from episodekit.outside.clocks.sightings import sightings
from episodekit.outside.files import write_whole
from episodekit.outside.job_folder import OpenJob
from episodekit.sync.model import Clue, Rung

VERSION = "clock 1"
"""Part of the name of what is kept: to be changed whenever the search is."""


def clock_clues(job: OpenJob, cache: Path, progress: Callable[[int, int], None]) -> tuple[Clue, ...]:
    """Every place of the footage where the clock is filmed. `progress` hears seconds searched and seconds in all.

    Raises MediaError when the cache cannot be written.
    """
    whole = sum(int(clip.duration) + 1 for clip in job.clips)
    begin = 0
    found: list[Clue] = []
    for clip in job.clips:
        found += _kept(clip, job.root, cache / "clocks", partial(_tell, progress, begin, whole))
        begin += int(clip.duration) + 1
        progress(begin, whole)
    return tuple(found)


def _tell(progress: Callable[[int, int], None], begin: int, whole: int, at: Seconds) -> None:
    progress(begin + int(at), whole)


def _kept(clip: Clip, root: Path, folder: Path, progress: Callable[[Seconds], None]) -> tuple[Clue, ...]:
    name = hashlib.sha256(f"{VERSION}\0{clip.identity}".encode()).hexdigest()[:40]
    file = folder / f"{name}.json"
    try:
        rows = json.loads(file.read_text(encoding="ascii"))
        return tuple(
            Clue(clip.path, Rung.FILMED_CLOCK, Fraction(at), Fraction(wall), Fraction(within), text=str(said))
            for at, wall, within, said in rows
        )
    except (OSError, ValueError, TypeError, ZeroDivisionError):
        found = tuple(replace(clue, clip=clip.path) for clue in sightings(clip, root, progress))
    write_whole(file, json.dumps([[str(c.at), str(c.wall), str(c.within), c.text] for c in found]) + "\n")
    return found
