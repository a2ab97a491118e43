"""Search a job's footage for the filmed clock and for chirps; what was found is kept in the cache by content."""

from __future__ import annotations

from collections.abc import Callable
from fractions import Fraction
from functools import partial
from pathlib import Path

from episodekit.base.time import Seconds
from episodekit.footage.clocks import place_clips, place_marks
from episodekit.footage.model import Clip
from episodekit.job.model import Plan
from episodekit.outside.clocks.chirps import chirps_in
from episodekit.outside.clocks.kept import kept
from episodekit.outside.clocks.sightings import sightings
from episodekit.outside.job_folder import OpenJob
from episodekit.sync.chirp import LEAST, chirp_clues, logged_chirps
from episodekit.sync.model import Clue, Rung

VERSION = "clock 3"
CHIRPS_VERSION = "chirps 2"
"""Parts of the names of what is kept: to be changed whenever the search is."""


def clock_clues(job: OpenJob, cache: Path, progress: Callable[[int, int], None]) -> tuple[Clue, ...]:
    """Every place of the footage where the clock is filmed. `progress` hears seconds searched and seconds in all.

    Raises MediaError when the cache cannot be written.
    """
    whole = sum(int(clip.duration) + 1 for clip in job.clips)
    begin = 0
    found: list[Clue] = []
    for clip in job.clips:
        found += _sightings(clip, job.root, cache / "clocks", partial(_tell, progress, begin, whole))
        begin += int(clip.duration) + 1
        progress(begin, whole)
    return tuple(found)


def _tell(progress: Callable[[int, int], None], begin: int, whole: int, at: Seconds) -> None:
    progress(begin + int(at), whole)


def _sightings(clip: Clip, root: Path, folder: Path, progress: Callable[[Seconds], None]) -> tuple[Clue, ...]:
    return kept(
        folder,
        VERSION,
        (clip,),
        lambda: sightings(clip, root, progress),
        lambda found: [[str(c.at), str(c.wall), str(c.within), c.text] for c in found],
        lambda rows: tuple(
            Clue(clip.path, Rung.FILMED_CLOCK, Fraction(at), Fraction(wall), Fraction(within), text=str(said))
            for at, wall, within, said in rows
        ),
    )


def heard_clues(
    job: OpenJob, plan: Plan, cache: Path, progress: Callable[[int, int], None]
) -> tuple[Clue, ...]:
    """Every place of the footage where chirps are heard that the log knows. `progress` hears clips done and in all.

    Nothing is listened to if the log has no chirps. Raises MediaError when the cache cannot be written.
    """
    clips, _ = place_clips(job.clips, plan)
    marks, _ = place_marks(job.marks, clips, plan.front.utc_offset)
    logged = logged_chirps(marks)
    found: list[Clue] = []
    for number, clip in enumerate(job.clips if len(logged) >= LEAST else ()):
        if clip.has_audio:
            found += chirp_clues(clip.path, _chirps(clip, job.root, cache / "clocks"), logged)
        progress(number + 1, len(job.clips))
    return tuple(found)


def _chirps(clip: Clip, root: Path, folder: Path) -> tuple[Seconds, ...]:
    return kept(
        folder,
        CHIRPS_VERSION,
        (clip,),
        lambda: chirps_in(clip, root),
        lambda found: [str(at) for at in found],
        lambda rows: tuple(Fraction(at) for at in rows),
    )
