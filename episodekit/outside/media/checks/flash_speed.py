"""The highest speed at which a stretch of footage does not flash, found in the clip's own frames.

The stretch is decoded once, upright and in the draft's colours, and made small. At each speed tried the frames that
the draft would show are counted, time-lapses of key frames alone included. Speeds are tried upward from 1x, and the
answer is the last one before the first that flashes: frames that happen to miss the flashes at some higher speed
make that speed no safe one.
"""

from __future__ import annotations

import hashlib
import threading
from collections.abc import Iterator, Sequence
from dataclasses import dataclass, replace
from fractions import Fraction
from pathlib import Path
from typing import cast

import av
import av.error

from episodekit.base.time import Rate, Seconds, nearest
from episodekit.footage.model import Clip
from episodekit.outside.errors import Cancelled, MediaError
from episodekit.outside.media.ffmpeg_door import Children
from episodekit.outside.media.flashes.count import FlashCounter, Grid, Rgb, grid_of
from episodekit.outside.media.flashes.frames import in_rgb
from episodekit.outside.media.recipes.decoding import NEAR_ITS_PLACE, key_frames_suffice, ticks_at
from episodekit.outside.media.recipes.picture import survey_command
from episodekit.outside.media.recipes.pieces import Stretch
from episodekit.outside.media.rendering.studio import Studio
from episodekit.timeline.model import Picture, Segment
from episodekit.timeline.reading import look_ahead, played_frames

VERSION = "safe speed 1"
_COARSE = Fraction(23, 20)
"""The ratio of neighbouring speeds of the first search."""


def highest_safe_speed(
    studio: Studio, segment: Segment, children: Children, stop: threading.Event
) -> Fraction | None:
    """The highest speed below the segment's at which its stretch of the clip does not flash; None if even 1x does.

    Speeds are whole tenths up to 10x and whole numbers above. Kept in the cache. Raises MediaError when the disk
    refuses, Cancelled when `stop` is set.
    """
    picture = segment.source
    assert isinstance(picture, Picture)
    clip, look = studio.clips[picture.clip], studio.look
    played = played_frames(segment.frames, picture, clip, look.rate)
    stretch = Stretch(clip, picture.start, picture.speed, played)
    facts = (VERSION, clip.identity, picture.start, picture.speed, played, look, studio.version)
    name = hashlib.sha256("\0".join(map(str, facts)).encode()).hexdigest()[:40] + ".safe"

    def make(target: Path) -> bool:
        safe = _search(studio, stretch, children, stop)
        target.write_text("none" if safe is None else str(safe), encoding="ascii")
        return True

    if not studio.cache.has(name):
        studio.cache.fill(name, make)
    told = studio.cache.entry(name).read_text(encoding="ascii")
    return None if told == "none" else Fraction(told)


def _search(studio: Studio, stretch: Stretch, children: Children, stop: threading.Event) -> Fraction | None:
    grid = grid_of(studio.look.width, studio.look.height)
    survey = studio.cache.work / f"survey-{threading.get_ident()}.nut"
    words = survey_command(
        studio.program,
        stretch,
        str(studio.root / stretch.clip.path),
        studio.look,
        (grid.columns, grid.rows),
        str(survey),
    )
    try:
        children.must_run(words, "look at the footage again", stretch.clip.path)
        return _last_before_flashing(survey, stretch, studio.look.rate, grid, stop)
    finally:
        survey.unlink(missing_ok=True)


def _last_before_flashing(
    survey: Path, stretch: Stretch, rate: Rate, grid: Grid, stop: threading.Event
) -> Fraction | None:
    steps = _steps(stretch.speed)
    coarse = [speed for n, speed in enumerate(steps) if n == 0 or _is_coarse(steps, n)]
    first_bad = _first_flashing(coarse, survey, stretch, rate, grid, stop)
    good = [speed for speed in coarse if first_bad is None or speed < first_bad]
    if not good:
        return None
    between = [s for s in steps if s > good[-1] and (first_bad is None or s < first_bad)]
    bad = _first_flashing(between, survey, stretch, rate, grid, stop)
    clean = [good[-1], *(s for s in between if bad is None or s < bad)]
    return clean[-1]


def _steps(below: Fraction) -> list[Fraction]:
    """Speeds from 1x up to, and without, the given one."""
    tenths = [Fraction(n, 10) for n in range(10, 100)]
    whole = [Fraction(n) for n in range(10, max(11, int(below) + 1))]
    return [speed for speed in (*tenths, *whole) if speed < below]


def _is_coarse(steps: Sequence[Fraction], n: int) -> bool:
    """Whether a step is the first one at or above a power of the coarse ratio."""
    low, high = steps[n - 1], steps[n]
    mark = Fraction(1)
    while mark <= low:
        mark *= _COARSE
    return low < mark <= high


@dataclass
class _Trial:
    """One speed that is being tried: what it has seen so far, and which frame of the draft is due."""

    stretch: Stretch
    counter: FlashCounter
    keys: bool
    due: int = 0
    bad: bool = False
    shown: Rgb | None = None

    def pass_to(self, at: Seconds, rate: Rate) -> None:
        """Count the frames that are due before a new one begins at `at`."""
        step = self.stretch.speed / rate.exact
        first = self.stretch.start + look_ahead(self.stretch.speed, self.stretch.clip, rate)
        while not self.bad and self.shown is not None and self.due < self.stretch.played:
            if first + self.due * step >= at:
                return
            self.bad = bool(self.counter.look(self.shown))
            self.due += 1


def _first_flashing(
    speeds: Sequence[Fraction], survey: Path, stretch: Stretch, rate: Rate, grid: Grid, stop: threading.Event
) -> Fraction | None:
    """The lowest of these speeds, given in order, at which the stretch flashes."""
    trials = [_trial(stretch, speed, rate, grid) for speed in speeds]
    end = stretch.start + stretch.played * stretch.speed / rate.exact
    for at, frame, is_key in _surveyed(survey, stretch.clip, rate):
        if stop.is_set():
            raise Cancelled("stopped before the draft was complete")
        for number, trial in enumerate(trials):
            if trial.keys and not is_key:
                continue
            trial.pass_to(at, rate)
            trial.shown = frame
            if trial.bad:  # a higher speed matters no more
                del trials[number + 1 :]
                break
        if trials and trials[0].bad:
            break
    for trial in trials:
        trial.pass_to(end + 1, rate)
    return next((trial.stretch.speed for trial in trials if trial.bad), None)


def _trial(stretch: Stretch, speed: Fraction, rate: Rate, grid: Grid) -> _Trial:
    """The same stretch of the clip at another speed."""
    length = stretch.played * stretch.speed / rate.exact
    picture = Picture(stretch.clip.path, stretch.start, stretch.start + length, speed)
    most = int(length * rate.exact / speed) + 1
    played = played_frames(type(stretch.played)(most), picture, stretch.clip, rate)
    other = replace(stretch, speed=speed, played=played)
    return _Trial(other, FlashCounter(grid, rate.exact), key_frames_suffice(other, rate))


def _surveyed(survey: Path, clip: Clip, rate: Rate) -> Iterator[tuple[Seconds, Rgb, bool]]:
    """The clip's frames made small, when each begins, and whether it is a key frame of the clip.

    As in the draft, a clip of constant rate counts in its own frames.
    """
    tick = Fraction(1, ticks_at(rate))
    keys = {_placed(nearest(key / tick) * tick, clip) for key in clip.key_frames}
    try:
        with av.open(str(survey), format="nut", metadata_errors="replace") as container:
            stream = container.streams.video[0]
            stream.codec_context.thread_count = 1
            for frame in container.decode(stream):
                assert frame.pts is not None
                assert frame.time_base is not None
                at = _placed(nearest(frame.pts * frame.time_base / tick) * tick, clip)
                yield at, in_rgb(cast(Rgb, frame.to_ndarray())), at in keys
    except av.error.FFmpegError as error:
        raise MediaError(
            f"The footage cannot be looked at again: {error.strerror}.", (), clip.path
        ) from error


def _placed(at: Seconds, clip: Clip) -> Seconds:
    """A frame's time on the clip's own count, if it stands near to it."""
    if clip.variable:
        return at
    count = at * clip.rate.exact
    whole = nearest(count)
    return whole / clip.rate.exact if abs(count - whole) < Fraction(NEAR_ITS_PLACE) else at
