"""Render the parts of a draft: every piece of picture and every segment's sound, side by side.

What lies in the cache is not rendered again. A stretch of footage that gives no picture is replaced by
a slate that says so, and the work goes on.
"""

from __future__ import annotations

import threading
from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass, replace
from pathlib import Path

from episodekit.base.findings import Finding, finding
from episodekit.base.place import Place
from episodekit.base.time import clock, seconds_to_ms
from episodekit.footage.model import Clip
from episodekit.footage.rules import DAMAGED
from episodekit.outside.media.art import Art
from episodekit.outside.media.cache import Cache, key
from episodekit.outside.media.ffmpeg_door import Children, Command
from episodekit.outside.media.flashes import grid_of
from episodekit.outside.media.picture import (
    Graphic,
    Laid,
    Look,
    Small,
    frames_decoded,
    still_command,
    stretch_command,
)
from episodekit.outside.media.pieces import Piece, Stretch, carried_on, heard, pieces
from episodekit.outside.media.recut import Facts
from episodekit.outside.media.sound import recorded, sound_command
from episodekit.outside.workers import Task, run_all
from episodekit.timeline.model import Card, Picture, Segment, Timeline
from episodekit.timeline.rules import UNREADABLE


@dataclass(frozen=True)
class Studio:
    """What every task of one render works with. `root` is the job folder, which is only read."""

    timeline: Timeline
    clips: Mapping[str, Clip]
    root: Path
    cache: Cache
    art: Art
    look: Look
    program: str
    version: str

    def beside(self, key: str) -> Path:
        """Where the frames lie that were made small while a piece was rendered, if they were; for this run only."""
        return self.cache.work / f"{key}.small"


@dataclass(frozen=True)
class Parts:
    """Cache entries in playing order: pictures by piece, sounds by segment (None is silence).

    `pieces` are what was rendered in the end, with slates for what gave no picture.

    `new` are the numbers of the segments of which some picture had to be rendered. `facts` tell what every
    piece was made from, `made` those that were rendered.
    """

    pieces: tuple[Piece, ...]
    pictures: tuple[str, ...]
    sounds: tuple[str | None, ...]
    new: frozenset[int]
    findings: tuple[Finding, ...]
    facts: tuple[Facts, ...]
    made: tuple[Facts, ...]


class Tally:
    """Frames done, counted from many threads."""

    def __init__(self, total: int) -> None:
        self.total = total
        self._lock = threading.Lock()
        self._done: dict[int, int] = {}

    def set(self, piece: int, frames: int) -> None:
        """So many frames of this piece are done; a count never goes back."""
        with self._lock:
            self._done[piece] = max(frames, self._done.get(piece, 0))

    @property
    def done(self) -> int:
        """Frames done in all pieces."""
        with self._lock:
            return min(self.total, sum(self._done.values()))


def make_parts(
    studio: Studio,
    workers: int,
    progress: Callable[[int, int], None],
    stop: threading.Event,
    children: Children,
) -> Parts:
    """Render whatever the cache lacks; `children` run ffmpeg, here or elsewhere. Raises MediaError and Cancelled."""
    timeline = studio.timeline
    lost = {
        number: _slate(segment, "the clip is not there")
        for number, segment in enumerate(timeline.segments)
        if isinstance(segment.source, Picture) and not _is_there(studio, segment.source)
    }
    plan = list(pieces(timeline, studio.clips, {number: card for number, (card, _) in lost.items()}))
    findings = [told for _, told in lost.values()]
    sounds = [_sound_words(studio, number, number in lost) for number in range(len(timeline.segments))]

    tally = Tally(timeline.frames)
    jobs = [_PictureJob(studio, children, tally, index, piece) for index, piece in enumerate(plan)]
    sound_jobs = {words.key: words for words in sounds if words is not None}
    studio.cache.need((*(job.key for job in jobs), *sound_jobs))
    tasks = [Task(job.cost, job.run) for job in jobs]
    tasks += [Task(1, _SoundJob(studio, children, words).run) for words in sound_jobs.values()]

    def watch() -> None:
        progress(tally.done, tally.total)

    good = run_all(tasks, workers, stop, watch, children.end_all)
    picture_good, sound_good = good[: len(jobs)], dict(zip(sound_jobs, good[len(jobs) :], strict=True))

    again: list[Task[bool]] = []
    spoiled: list[_PictureJob] = []
    for index, fine in enumerate(picture_good):
        if not fine:
            piece = plan[index]
            card, told = _slate(timeline.segments[piece.segment], jobs[index].why)
            findings.append(told)
            spoiled.append(jobs[index])
            jobs[index] = _PictureJob(studio, children, tally, index, replace(piece, show=card))
            again.append(Task(piece.frames, jobs[index].run))
    studio.cache.need((*(job.key for job in jobs), *sound_jobs))
    run_all(again, workers, stop, watch, children.end_all)
    for words in sound_jobs.values():
        if not sound_good[words.key]:
            findings.append(_no_sound(words.stretch))
    watch()
    return Parts(
        tuple(job.piece for job in jobs),
        tuple(job.key for job in jobs),
        tuple(words.key if words is not None and sound_good[words.key] else None for words in sounds),
        frozenset(job.piece.segment for job in (*jobs, *spoiled) if job.new),
        tuple(findings),
        tuple(job.facts for job in jobs),
        tuple(job.facts for job in jobs if job.new),
    )


class _PictureJob:
    """One piece of picture: its key, and how to render it."""

    def __init__(self, studio: Studio, children: Children, tally: Tally, index: int, piece: Piece) -> None:
        self.piece = piece
        self.new = False
        self.why = ""
        self._studio, self._children, self._tally, self._index = studio, children, tally, index
        burnt = studio.art.burnt(piece) if studio.look.timecode else ()
        self._graphics: tuple[Laid, ...] = (*(studio.art.graphic(part) for part in piece.slices), *burnt)
        self._card = studio.art.card(piece.show, piece.slices) if isinstance(piece.show, Card) else ""
        show = piece.show
        name = show.clip.identity if isinstance(show, Stretch) else self._card
        self.key = key(self._words(name, self._graphics, "-"), studio.version, ".h264")

    @property
    def cost(self) -> int:
        """How long it takes, in a measure of its own: a pixel takes 2 to decode and 5 to encode. Measured."""
        show, look = self.piece.show, self._studio.look
        decoded = 0
        if isinstance(show, Stretch):
            decoded = frames_decoded(show, look.rate) * show.clip.width * show.clip.height
        return 2 * decoded + 5 * self.piece.frames * look.width * look.height

    @property
    def facts(self) -> Facts:
        """What decides the piece."""
        show, studio = self.piece.show, self._studio
        footage = isinstance(show, Stretch)
        over = [
            (
                part.file,
                part.x,
                part.y,
                *((part.slice.begins, part.slice.length) if isinstance(part, Graphic) else ()),
            )
            for part in self._graphics
        ]
        return Facts(
            step=studio.timeline.segments[self.piece.segment].step,
            clip=show.clip.path if isinstance(show, Stretch) else "",
            content=show.clip.identity if isinstance(show, Stretch) else "",
            hidden=repr([(one.start, one.end, one.box) for one in show.private])
            if isinstance(show, Stretch)
            else "",
            cut=f"{show.start} {show.speed} {show.played} {self.piece.frames}"
            if isinstance(show, Stretch)
            else f"{self.piece.frames}",
            card="" if footage else self._card,
            over=repr(over),
            settings=f"{studio.look} {studio.version}",
        )

    def run(self) -> bool:
        """Fill the cache; False if the footage gave no picture, and `why` says why. `new` if it had to."""
        piece, cache = self.piece, self._studio.cache
        good = cache.has(self.key)
        if not good:
            self.new = True
            good = cache.fill(self.key, self._make)
        self._tally.set(self._index, piece.frames if good else 0)
        return good

    def _make(self, target: Path) -> bool:
        show, art = self.piece.show, self._studio.art
        graphics = tuple(replace(graphic, file=art.path(graphic.file)) for graphic in self._graphics)

        def progress(frames: int) -> None:
            self._tally.set(self._index, frames)

        if isinstance(show, Card):
            words = self._words(art.path(self._card), graphics, str(target))
            return self._children.must_run(words, "draw a slate", show.heading, progress) == self.piece.frames
        file = str(self._studio.root / show.clip.path)
        small = self._small(target, show)
        for plain in (False, True):
            words = self._words(file, graphics, str(target), plain, small)
            outcome = self._children.try_run(words, "cut the footage", file, progress)
            if outcome.status == 0 and outcome.frames == self.piece.frames:
                if small is not None:
                    Path(small.file).replace(self._studio.beside(self.key))
                return True
            if small is not None:
                Path(small.file).unlink(missing_ok=True)
            if outcome.undecoded:
                self.why = "its packets cannot be decoded"
                return False
            self.why = f"ffmpeg says: {outcome.last_line}"
        return False

    def _small(self, target: Path, show: Stretch) -> Small | None:
        """Frames for the flash scan, of what is sped up and rendered here; a far worker writes one file only."""
        if show.speed <= 1 or not self._children.here:
            return None
        grid = grid_of(self._studio.look.width, self._studio.look.height)
        return Small(grid.columns, grid.rows, f"{target}.small")

    def _words(
        self,
        file: str,
        graphics: Sequence[Laid],
        target: str,
        plain: bool = False,
        small: Small | None = None,
    ) -> Command:
        piece, studio = self.piece, self._studio
        look, program = studio.look, studio.program
        if isinstance(piece.show, Card):
            return still_command(program, file, tuple(graphics), piece.frames, look, target)
        return stretch_command(
            program, piece.show, file, tuple(graphics), piece.frames, look, target, plain=plain, small=small
        )


@dataclass(frozen=True)
class _SoundWords:
    key: str
    stretch: Stretch
    segment: Segment
    fades: tuple[bool, bool]


class _SoundJob:
    """The sound of one segment."""

    def __init__(self, studio: Studio, children: Children, words: _SoundWords) -> None:
        self._studio, self._children, self._sound = studio, children, words

    def run(self) -> bool:
        """Fill the cache; False if the clip's sound cannot be decoded."""
        cache = self._studio.cache
        return cache.has(self._sound.key) or cache.fill(self._sound.key, self._make)

    def _make(self, target: Path) -> bool:
        sound, studio = self._sound, self._studio
        file, frames = str(studio.root / sound.stretch.clip.path), sound.segment.frames
        rate = studio.look.rate
        files = [str(studio.root / clip.path) for clip in recorded(sound.stretch, rate)]
        words = sound_command(studio.program, sound.stretch, files, frames, rate, sound.fades, str(target))
        outcome = self._children.try_run(words, "cut the sound", file)
        return outcome.status == 0 and target.stat().st_size > 0


def _sound_words(studio: Studio, number: int, lost: bool) -> _SoundWords | None:
    """The sound of a segment, or None where there is silence."""
    segments, rate = studio.timeline.segments, studio.look.rate
    segment = segments[number]
    show = None if lost else heard(segment, studio.clips, rate)
    if show is None:
        return None
    into = carried_on(segments[number - 1], segment, studio.clips, rate) if number else None
    goes_on = segments[number + 1 : number + 2]
    fade_out = not goes_on or carried_on(segment, goes_on[0], studio.clips, rate) is None
    fades = (into is None, fade_out)
    show = show if into is None else replace(show, start=into)
    names = [clip.identity for clip in recorded(show, rate)]
    words = sound_command(studio.program, show, names, segment.frames, rate, fades, "-")
    return _SoundWords(key(words, studio.version, ".s16"), show, segment, fades)


def _is_there(studio: Studio, picture: Picture) -> bool:
    clip = studio.clips.get(picture.clip)
    return clip is not None and (studio.root / clip.path).is_file()


def _slate(segment: Segment, why: str) -> tuple[Card, Finding]:
    """The slate that stands for a stretch without a picture, and what to tell the creator."""
    picture = segment.source
    assert isinstance(picture, Picture)
    at = clock(seconds_to_ms(picture.start))
    card = Card(
        heading="No picture from this clip",
        kicker="Footage",
        lines=(picture.clip, f"from {at} in the clip", f"Why: {why}"),
        accent="caution",
    )
    told = finding(
        UNREADABLE,
        Place(picture.clip),
        f"From {at} on the clip gives no picture for the draft: {why}. A slate stands there.",
        "Copy the file from the card again, or take these marks out of the log.",
    )
    return card, told


def _no_sound(stretch: Stretch) -> Finding:
    at = clock(seconds_to_ms(stretch.start))
    return finding(
        DAMAGED,
        Place(stretch.clip.path),
        f"The sound from {at} on cannot be decoded; it is silent in the draft.",
        "Copy the file from the card again.",
    )
