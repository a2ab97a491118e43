"""Measure a finished video against the episode it was made of: boards, sound, takes, chapters."""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass, replace
from math import ceil
from pathlib import Path

from episodekit.base.time import Frames, Ms, frames_to_ms, ms_to_seconds, seconds_to_ms
from episodekit.outside.media.drawing.fonts import Fonts, load_fonts
from episodekit.outside.media.drawing.overlays import overlay_room
from episodekit.outside.media.proving.boards import Board, board_of, board_of_cautions, geometry
from episodekit.outside.media.proving.gauge import gauge
from episodekit.outside.media.proving.listen import ALIKE, Levels, find, levels, loudness, speech_of
from episodekit.outside.media.proving.watch import Film, Run, Wanted, open_film, stills, watch
from episodekit.outside.media.recipes.pieces import pieces
from episodekit.outside.media.rendering.art import look_of
from episodekit.outside.takes import read_takes
from episodekit.pack.measured import HeardTake, LookedFor, Measured, ReadSeen, Role, Seen, Span, looked_for
from episodekit.timeline.episode import Episode
from episodekit.timeline.model import Card

_GAUGED_AT = (0.1, 0.5, 0.9)
"""Where in its longest run a board's letters are measured."""


@dataclass(frozen=True)
class _Look:
    """A board as it looks, wherever it plays: who it stands for, and the stretches of the draft it plays in."""

    board: Board
    whole: bool
    owners: tuple[tuple[Role, str, int, int], ...]


def measure(
    video: Path,
    episode: Episode,
    root: Path,
    *,
    draft: bool,
    progress: Callable[[int, int], None] = lambda done, total: None,
) -> tuple[Measured, Film]:
    """Watch and listen to a video. `draft`: it is the job's own, which speaks with its takes.

    Raises MediaError with one plain line for what is no video.
    """
    film = open_film(video)
    timeline = episode.timeline
    fonts, _ = load_fonts(root / timeline.font if timeline.font else None)
    looks = _looks(episode, fonts)
    size = (timeline.width, timeline.height)
    seen = watch(film, [Wanted(look.board, look.whole) for look in looks], size, progress)
    sound = levels(video, film.clip.first)
    reads = {
        placed.name: _read_seen(placed.name, looks, seen, film, size, episode, sound)
        for placed in episode.reads
    }
    measured = Measured(
        video=video.name,
        draft=draft,
        runtime=seconds_to_ms(film.clip.duration),
        frame=Ms(ceil(film.frame * 1000)),
        size=film.size,
        sound=sound is not None,
        reads=reads,
        steps=_steps_seen(looks, seen, episode),
        takes={} if sound is None else _takes(root, episode, sound),
        chapters=tuple((seconds_to_ms(at), title) for at, title in film.chapters),
    )
    return measured, film


def _looks(episode: Episode, fonts: Fonts) -> list[_Look]:
    """Every board to look for, each once: the deal's, and cautions on footage and on slates."""
    width, height = episode.timeline.width, episode.timeline.height
    asked: dict[object, list[LookedFor]] = {}
    for one in looked_for(episode):
        asked.setdefault(look_of(one.overlay), []).append(one)
    found = [
        _Look(
            board_of(same[0].overlay, width, height, fonts),
            any(one.role is not Role.CAUTION for one in same),
            tuple((one.role, one.owner, one.start, one.end) for one in same),
        )
        for same in asked.values()
    ]
    slates: dict[object, _Look] = {}
    drawn: dict[object, Board | None] = {}
    for piece in pieces(episode.timeline, episode.clips_by_path, {}):
        if not isinstance(piece.show, Card) or not piece.show.cautions:
            continue
        overlays = tuple(part.overlay for part in piece.slices)
        card = (piece.show, frozenset(map(look_of, overlays)))
        if card not in drawn:
            room = overlay_room(overlays, width, height, fonts)
            drawn[card] = board_of_cautions(piece.show, width, height, fonts, *room)
        board = drawn[card]
        if board is None:
            continue
        # Two slates of one step differ in their words alone; their cautions are the same board.
        key = (board.x, board.y, board.image.size, board.image.tobytes())
        step = episode.timeline.segments[piece.segment].step
        owner = (Role.CAUTION, step, piece.start, piece.start + piece.frames)
        known = slates.get(key, _Look(board, False, ()))
        slates[key] = replace(known, owners=(*known.owners, owner))
    return [*found, *slates.values()]


def _spans(runs: Sequence[Run]) -> tuple[Span, ...]:
    return tuple(Span(seconds_to_ms(run.start), seconds_to_ms(run.end)) for run in runs)


def _read_seen(
    name: str,
    looks: Sequence[_Look],
    seen: Sequence[tuple[Run, ...]],
    film: Film,
    size: tuple[int, int],
    episode: Episode,
    sound: Levels | None,
) -> ReadSeen:
    """What was found of one read."""
    rate = episode.timeline.rate
    ad, code = Seen(), Seen()
    goods: list[tuple[Ms, Seen]] = []
    for look, runs in zip(looks, seen, strict=True):
        for role, owner, start, end in look.owners:
            if owner != name or role is Role.CAUTION:
                continue
            planned = Span(frames_to_ms(Frames(start), rate), frames_to_ms(Frames(end), rate))
            here = Seen(_nearest(_spans(runs), planned, look, role, episode))
            if role is Role.AD:
                ad = _gauged(here, look.board, film, size)
            elif role is Role.CODE:
                code = _gauged(here, look.board, film, size)
            else:
                goods.append((planned.length, here))
    level = None
    if sound is not None and ad.span is not None:
        level = loudness(sound, ad.span.start, ad.span.end)
    return ReadSeen(ad, code, tuple(goods), level)


def _nearest(
    runs: tuple[Span, ...], planned: Span, look: _Look, role: Role, episode: Episode
) -> tuple[Span, ...]:
    """The runs that belong to one of several boards which look the same: each goes to the nearest as drafted."""
    rate = episode.timeline.rate
    others = [
        frames_to_ms(Frames(start), rate)
        for other, _, start, _ in look.owners
        if other is role and frames_to_ms(Frames(start), rate) != planned.start
    ]
    return tuple(
        run
        for run in runs
        if all(abs(run.start - planned.start) <= abs(run.start - other) for other in others)
    )


def _gauged(seen: Seen, board: Board, film: Film, size: tuple[int, int]) -> Seen:
    """With the worst of the letter heights and contrasts that were measured on its frames."""
    longest = max(seen.runs, key=lambda run: run.length, default=None)
    if longest is None:
        return seen
    shape = geometry(size, film.size, film.pixel)
    times = [ms_to_seconds(Ms(longest.start + int(longest.length * share))) for share in _GAUGED_AT]
    told = [one for frame in stills(film, times).values() if (one := gauge(frame, board, shape))]
    if not told:
        return seen
    return replace(
        seen,
        arc_minutes=min(one.arc_minutes for one in told),
        contrast=min(one.contrast for one in told),
    )


def _steps_seen(
    looks: Sequence[_Look], seen: Sequence[tuple[Run, ...]], episode: Episode
) -> Mapping[str, tuple[Span, ...]]:
    """Where each step's cautions are on screen; steps of which a board was not found as often as drafted left out."""
    found: dict[str, list[Span]] = {}
    lost: set[str] = set()
    for look, runs in zip(looks, seen, strict=True):
        owners = sorted(
            (start, end, owner) for role, owner, start, end in look.owners if role is Role.CAUTION
        )
        apart = sum(index == 0 or start > owners[index - 1][1] for index, (start, _, _) in enumerate(owners))
        for _, _, owner in owners:
            found.setdefault(owner, []).extend(_spans(runs))
            if len(runs) < apart:
                lost.add(owner)
    return {
        step: tuple(sorted(set(spans), key=lambda s: s.start))
        for step, spans in found.items()
        if step not in lost
    }


def _takes(root: Path, episode: Episode, sound: Levels) -> dict[str, HeardTake | None]:
    """Each recorded beat: where its take is heard, the most alike of several; None if none is."""
    takes, _ = read_takes(root, episode.plan)
    found: dict[str, HeardTake | None] = {}
    for take in takes:
        recorded = levels(root / take.file)
        match = None if recorded is None else find(speech_of(recorded), sound)
        best = found.setdefault(take.beat, None)
        if match is not None and match.alike >= ALIKE and (best is None or match.alike > best.alike):
            found[take.beat] = HeardTake(take.file, match.start, round(match.alike, 3))
    return found
