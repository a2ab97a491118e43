"""One piece of a draft's picture: under which key it is kept, what decides it, and how it is rendered."""

from __future__ import annotations

import threading
from collections.abc import Sequence
from dataclasses import replace
from pathlib import Path

from episodekit.outside.media.ffmpeg_door import Children, Command
from episodekit.outside.media.flashes.count import grid_of
from episodekit.outside.media.recipes.decoding import frames_decoded
from episodekit.outside.media.recipes.picture import (
    Graphic,
    Laid,
    Small,
    still_command,
    stretch_command,
)
from episodekit.outside.media.recipes.pieces import Piece, Stretch
from episodekit.outside.media.rendering.cache import key
from episodekit.outside.media.rendering.recut import Facts
from episodekit.outside.media.rendering.studio import Studio
from episodekit.timeline.model import Card


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


class PictureJob:
    """One piece of picture: its key in the cache, and how to render it.

    `new` is set once it had to be rendered, `why` if its footage gave no picture. `threads` decode; `scanned` pieces
    are made small too, for the flash scan.
    """

    def __init__(self, studio: Studio, children: Children, tally: Tally, index: int, piece: Piece) -> None:
        self.piece = piece
        self.new = False
        self.why = ""
        self.threads = 1
        self.scanned = False
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
        small = self._small(target)
        for plain in (False, True):
            words = self._words(file, graphics, str(target), plain, small, self.threads)
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

    def _small(self, target: Path) -> Small | None:
        """Frames for the flash scan, if it is rendered here; a far worker writes one file only."""
        if not self.scanned or not self._children.here:
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
        threads: int = 1,
    ) -> Command:
        piece, studio = self.piece, self._studio
        look, program = studio.look, studio.program
        if isinstance(piece.show, Card):
            return still_command(program, file, tuple(graphics), piece.frames, look, target)
        return stretch_command(
            program,
            piece.show,
            file,
            tuple(graphics),
            piece.frames,
            look,
            target,
            plain=plain,
            small=small,
            threads=threads,
        )
