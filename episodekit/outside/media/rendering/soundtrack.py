"""The sound of a draft: each segment's from the cache, in one track, the narration over it, encoded once."""

from __future__ import annotations

import threading
from collections.abc import Sequence
from dataclasses import dataclass, replace
from pathlib import Path

from episodekit.base.findings import Finding, finding
from episodekit.base.place import Place
from episodekit.base.time import Frames, Ms, clock, frames_to_samples, seconds_to_ms
from episodekit.footage.rules import DAMAGED
from episodekit.outside.media.ffmpeg_door import Children
from episodekit.outside.media.recipes.delivery import track_command
from episodekit.outside.media.recipes.pieces import Stretch, carried_on, heard
from episodekit.outside.media.recipes.sound import (
    SAMPLE_RATE,
    copy_sound,
    line_command,
    mix_command,
    ms_to_samples,
    recorded,
    sound_command,
)
from episodekit.outside.media.rendering.cache import key
from episodekit.outside.media.rendering.studio import Studio
from episodekit.outside.workers import Task, run_all
from episodekit.timeline.model import Segment
from episodekit.timeline.narration import Line


@dataclass(frozen=True)
class Sounds:
    """A cache entry for each segment, None where it is silent, and what could not be decoded."""

    keys: tuple[str | None, ...]
    findings: tuple[Finding, ...]


def make_sounds(studio: Studio, workers: int, stop: threading.Event, children: Children) -> Sounds:
    """Cut whatever the cache lacks; `children` run ffmpeg, here or elsewhere. Raises MediaError and Cancelled."""
    lost = studio.lost()
    sounds = [_sound_words(studio, number, number in lost) for number in range(len(studio.timeline.segments))]
    jobs = {words.key: words for words in sounds if words is not None}
    studio.cache.need(jobs)
    tasks = [Task(words.segment.frames, _SoundJob(studio, children, words).run) for words in jobs.values()]
    done = run_all(tasks, workers, stop, lambda: None, children.end_all)
    good = dict(zip(jobs, done, strict=True))
    return Sounds(
        tuple(words.key if words is not None and good[words.key] else None for words in sounds),
        tuple(_no_sound(words.stretch) for words in jobs.values() if not good[words.key]),
    )


def write_track(
    studio: Studio, sounds: Sounds, narration: Sequence[Line], target: Path, children: Children
) -> bool:
    """The draft's whole sound, encoded, to be joined untouched. Raises MediaError, Cancelled and OSError."""
    bench, rate = studio.cache.work / "sound.s16", studio.timeline.rate
    with bench.open("wb") as track:
        start = Frames(0)
        for segment, kept in zip(studio.timeline.segments, sounds.keys, strict=True):
            end = Frames(start + segment.frames)
            samples = frames_to_samples(end, rate, SAMPLE_RATE) - frames_to_samples(start, rate, SAMPLE_RATE)
            copy_sound(studio.cache.entry(kept) if kept else None, samples, track)
            start = end
    whole = _spoken_over(studio, bench, narration, children) if narration else bench
    children.must_run(track_command(studio.program, str(whole), str(target)), "encode the sound", str(target))
    whole.unlink()
    return True


def _spoken_over(studio: Studio, bench: Path, narration: Sequence[Line], children: Children) -> Path:
    """The whole track with the narration over it: the takes' words at their samples, silence between them."""
    work = studio.cache.work
    voice, mixed, piece = work / "voice.s16", work / "mixed.s16", work / "line.s16"
    at = 0
    with voice.open("wb") as track:
        for line in narration:
            words = line_command(
                studio.program, str(studio.root / line.file), line.start, line.length, str(piece)
            )
            children.must_run(words, "read a take", line.file)
            copy_sound(None, ms_to_samples(line.at) - at, track)
            at = ms_to_samples(Ms(line.at + line.length))
            copy_sound(piece, at - ms_to_samples(line.at), track)
            piece.unlink()
        end = frames_to_samples(studio.timeline.frames, studio.timeline.rate, SAMPLE_RATE)
        copy_sound(None, max(0, end - at), track)
    words = mix_command(studio.program, str(bench), str(voice), end, str(mixed))
    children.must_run(words, "lay the narration over the draft", str(mixed))
    return mixed


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


def _no_sound(stretch: Stretch) -> Finding:
    at = clock(seconds_to_ms(stretch.start))
    return finding(
        DAMAGED,
        Place(stretch.clip.path),
        f"The sound from {at} on cannot be decoded; it is silent in the draft.",
        "Copy the file from the card again.",
    )
