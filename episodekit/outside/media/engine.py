"""Render a timeline into a file that plays: pieces side by side, sound in one track, joined untouched."""

from __future__ import annotations

import os
import shutil
import tempfile
import threading
import time
from collections.abc import Callable, Iterator, Mapping, Sequence
from contextlib import contextmanager, suppress
from dataclasses import dataclass, replace
from functools import partial
from pathlib import Path

from episodekit.base.findings import Finding, in_order
from episodekit.base.time import Frames, frames_to_ms
from episodekit.footage.model import Clip
from episodekit.footage.private import Private
from episodekit.formats.ffmetadata import ffmetadata
from episodekit.outside.errors import MediaError
from episodekit.outside.media.checks.exposed import exposed
from episodekit.outside.media.checks.flash_scan import scan_flashes
from episodekit.outside.media.drawing.fonts import load_fonts
from episodekit.outside.media.ffmpeg_door import Children, bundled_ffmpeg, version
from episodekit.outside.media.probing.edges import all_widened
from episodekit.outside.media.recipes.delivery import delivery_command
from episodekit.outside.media.recipes.quality import Quality, drafts_in, look_of, sized
from episodekit.outside.media.rendering.art import Art
from episodekit.outside.media.rendering.cache import Cache, settle, share_of_disk
from episodekit.outside.media.rendering.cluster import joined
from episodekit.outside.media.rendering.parts import Parts, make_parts
from episodekit.outside.media.rendering.recut import notes, read_notes, tell, why, write_notes
from episodekit.outside.media.rendering.soundtrack import make_sounds, write_track
from episodekit.outside.media.rendering.studio import Studio
from episodekit.outside.workers import Task, run_all
from episodekit.timeline.model import Picture, Timeline
from episodekit.timeline.narration import Line

_LEFTOVER_SECONDS = 3600


@dataclass(frozen=True)
class Rendered:
    """A finished draft: its length, what was found on the way, and how many segments were new or kept.

    It was not `delivered` if something private can be seen in it.
    `told` says how many pieces were rendered, and why; `gone` names older drafts and looks that were removed, since
    they might show what is private now.
    """

    frames: Frames
    findings: tuple[Finding, ...]
    segments_rendered: int
    segments_reused: int
    delivered: bool = True
    told: str = ""
    gone: tuple[str, ...] = ()


def render(
    timeline: Timeline,
    clips: Mapping[str, Clip],
    root: Path,
    target: Path,
    cache: Path,
    *,
    workers: int | None = None,
    ffmpeg: str | None = None,
    cluster: str | None = None,
    quality: Quality = Quality.DRAFT,
    keep: int | None = None,
    words: Mapping[str, str] | None = None,
    narration: Sequence[Line] = (),
    timecode: bool = False,
    progress: Callable[[int, int], None] = lambda done, total: None,
    cancelled: threading.Event | None = None,
) -> Rendered:
    """Write the draft to `target`, whole or not at all.

    `clips` are by path inside the job folder `root`, and so are the recordings of `narration`, which is heard
    over the clips' own sound. `timecode` burns timecode and clip names in. `cache` is a folder for rendered
    pieces; deleting it costs time only; it keeps at most `keep` bytes (`share_of_disk` if left out) of what this
    run does not need. `words` are each step's, to tell why it was cut again; without them the draft is a look at
    one place, and not what the next one is compared with. `progress` hears frames done and frames in all, on the
    caller's thread. A stretch that gives no picture becomes a slate and a finding. What is private is filled with
    grey, and looked at again in the finished draft. `cluster` is the address of a Dask scheduler whose workers cut
    the pieces; they must see `root` and `cache` at the same paths. Raises MediaError when ffmpeg, the disk or the
    cluster fails, Cancelled when `cancelled` is set, ValueError for chapters that no player could show.
    """
    if not timeline.frames:
        raise ValueError("a draft needs at least one frame")
    facts = ffmetadata(timeline.title, timeline.chapters, frames_to_ms(timeline.frames, timeline.rate))
    fonts, findings = load_fonts(root / timeline.font if timeline.font else None)
    program = ffmpeg or bundled_ffmpeg()
    stamp = version(program)
    stop = cancelled or threading.Event()
    cache, target, root = cache.absolute(), target.absolute(), root.absolute()
    private = tuple(one for one in timeline.private if one.clip in clips)
    timeline = replace(timeline, private=all_widened(private, clips, root))
    with _disk_errors(target):
        cache.mkdir(parents=True, exist_ok=True)
        target.parent.mkdir(parents=True, exist_ok=True)
        _sweep(cache, target)
        with tempfile.TemporaryDirectory(prefix="work-", dir=cache) as folder:
            look = replace(look_of(timeline, clips, quality), timecode=timecode)
            timeline = sized(timeline, look)
            art = Art(Path(folder), look, fonts)
            studio = Studio(timeline, clips, root, Cache(cache, Path(folder)), art, look, program, stamp)
            with _hands(studio, cluster, ffmpeg, workers) as (children, at_once):
                home = children if children.here else Children()
                sounds = make_sounds(studio, at_once, stop, children)
                track = Path(folder) / "track.m4a"
                cost = timeline.frames * look.width * look.height // 2  # `parts` counts pixels; measured
                whole = Task(cost, partial(write_track, studio, sounds, narration, track, home))
                end = partial(_end, children, home)
                made = make_parts(studio, at_once, progress, stop, children, sounds, whole, end)
            flashing = scan_flashes(studio, made, workers or os.cpu_count() or 1, stop)
            seen = _deliver(studio, made, track, facts, target, private, stop)
            last = read_notes(cache)
            now = notes(made.facts, words or (last.words if last else {}))
            reasons = why(made.made, now, last)
            if words is not None:
                write_notes(cache, studio.cache.work, now)
            gone: tuple[str, ...] = ()
            if _newly_private(cache, studio.cache.work, private):
                keep = 0  # a piece of before may show what is to be hidden, and so may another draft or look
                gone = _others_removed(target)
            studio.cache.trim(share_of_disk(cache) if keep is None else keep)
    return Rendered(
        timeline.frames,
        in_order((*findings, *sounds.findings, *made.findings, *flashing, *seen)),
        len(made.new),
        len(timeline.segments) - len(made.new),
        delivered=not seen,
        told=tell(len(made.made), len(made.facts) - len(made.made), reasons),
        gone=gone,
    )


@contextmanager
def _hands(
    studio: Studio, cluster: str | None, ffmpeg: str | None, workers: int | None
) -> Iterator[tuple[Children, int]]:
    """Who runs ffmpeg, and how many pieces to ask for at once."""
    if cluster is None:
        yield Children(), workers or os.cpu_count() or 1
        return
    used = {s.source.clip for s in studio.timeline.segments if isinstance(s.source, Picture)}
    files = [studio.root / studio.clips[name].path for name in used if name in studio.clips]
    sizes = {file: file.stat().st_size for file in files if file.is_file()}
    with joined(cluster, studio.cache.work, sizes, ffmpeg, studio.version) as far:
        yield far, workers or far.at_once


def _end(*all_children: Children) -> None:
    for children in all_children:
        children.end_all()


def _newly_private(cache: Path, work: Path, private: Sequence[Private]) -> bool:
    """Whether something is private now that was not, or not so, when the cache was last trimmed; it is noted."""
    note, now = cache / "private.txt", "".join(sorted(f"{one}\n" for one in private))
    try:
        before = note.read_text(encoding="utf-8")
    except (OSError, UnicodeDecodeError):
        before = ""
    if now != before:
        draft = work / note.name
        draft.write_text(now, encoding="utf-8")
        draft.replace(note)
    return bool(private) and now != before


def _others_removed(target: Path) -> tuple[str, ...]:
    """Remove every draft and look beside this one; their names. Raises OSError."""
    others = [path for path in drafts_in(target.parent) if path != target]
    for path in others:
        path.unlink()
    return tuple(path.name for path in others)


def _sweep(cache: Path, target: Path) -> None:
    """Remove what a killed run left: work folders and part files that nobody has touched for an hour.

    Younger ones may belong to a draft that is being cut next door.
    """
    left = [*cache.glob("work-*"), *target.parent.glob(".*.work-*.part")]
    for path in left:
        with suppress(OSError):
            newest = max(p.stat().st_mtime for p in [path, *path.glob("*")])
            if time.time() - newest < _LEFTOVER_SECONDS:
                continue
            if path.is_dir():
                shutil.rmtree(path, ignore_errors=True)
            else:
                path.unlink()


def _deliver(
    studio: Studio,
    made: Parts,
    track: Path,
    facts: str,
    target: Path,
    private: Sequence[Private],
    stop: threading.Event,
) -> tuple[Finding, ...]:
    """Join the parts and put the draft in its place, unless something private can be seen in it: then neither it nor
    an older one stays, and what was seen is returned."""
    work, rate = studio.cache.work, studio.timeline.rate
    pictures, told = work / "pictures.h264", work / "facts.txt"
    with pictures.open("wb") as joined:
        for name in made.pictures:
            with studio.cache.entry(name).open("rb") as part:
                shutil.copyfileobj(part, joined, 1 << 20)
    told.write_text(facts, encoding="utf-8", newline="\n")
    # named after this run's work folder: another run may be joining the same draft
    draft = target.with_name(f".{target.name}.{work.name}.part")
    try:
        words = delivery_command(studio.program, str(pictures), str(track), str(told), rate, str(draft))
        children = Children()
        task = Task(1, lambda: children.must_run(words, "join the draft", str(target)))
        (frames,) = run_all([task], 1, stop, lambda: None, children.end_all)
        if frames != studio.timeline.frames:
            message = f"The joined draft has {frames} frames, not {studio.timeline.frames}."
            raise MediaError(message, words, str(target))
        seen = exposed(draft, made.pieces, private, studio.art, studio.look)
        if seen:
            target.unlink(missing_ok=True)
        else:
            settle(draft)
            draft.replace(target)
        return seen
    finally:
        draft.unlink(missing_ok=True)


@contextmanager
def _disk_errors(target: Path) -> Iterator[None]:
    """A disk that refuses is breakage of the outside, not of the program."""
    try:
        yield
    except OSError as error:
        why = f"{error.strerror or error}".lower()
        said = f"The draft cannot be written: {why}. Check {target.parent.name}/ and the free space."
        raise MediaError(said, (), str(target)) from error
