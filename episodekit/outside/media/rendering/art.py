"""Cards and overlays as picture files for ffmpeg, each drawn once, named by what it looks like."""

from __future__ import annotations

import hashlib
from pathlib import Path

from PIL import Image

from episodekit.outside.media.drawing.burn import COLUMNS, draw_labels, draw_name, strip
from episodekit.outside.media.drawing.cards import draw_card, draw_overlay, overlay_room
from episodekit.outside.media.drawing.fonts import Fonts
from episodekit.outside.media.recipes.picture import Graphic, Look, Sheet
from episodekit.outside.media.recipes.pieces import Piece, Slice
from episodekit.timeline.model import Card, Overlay, OverlayKind

_Look = tuple[OverlayKind, str, str]


def look_of(overlay: Overlay) -> _Look:
    """What an overlay looks like, wherever it plays."""
    return overlay.kind, overlay.text, overlay.small


class Art:
    """Draws on demand and remembers what it drew. Used by one thread only."""

    def __init__(self, folder: Path, look: Look, fonts: Fonts) -> None:
        self._folder = folder
        self._look = look
        self._fonts = fonts
        self._cards: dict[tuple[Card, frozenset[_Look]], str] = {}
        self._overlays: dict[_Look, tuple[str, int, int]] = {}

    def card(self, card: Card, under: tuple[Slice, ...] = ()) -> str:
        """The name of the card's picture, which leaves room for the overlays that lie over it."""
        overlays = tuple(part.overlay for part in under)
        wanted = (card, frozenset(look_of(overlay) for overlay in overlays))
        if wanted not in self._cards:
            width, height = self._look.width, self._look.height
            top, bottom = overlay_room(overlays, width, height, self._fonts)
            self._cards[wanted] = self._keep(
                draw_card(card, width, height, self._fonts, top=top, bottom=bottom)
            )
        return self._cards[wanted]

    def graphic(self, part: Slice) -> Graphic:
        """The overlay's picture, by name, and its place."""
        overlay = part.overlay
        wanted = look_of(overlay)
        if wanted not in self._overlays:
            image, x, y = draw_overlay(overlay, self._look.width, self._look.height, self._fonts)
            self._overlays[wanted] = (self._keep(image), x, y)
        name, x, y = self._overlays[wanted]
        return Graphic(name, x, y, part)

    def covers(self, part: Slice) -> tuple[int, int, int, int]:
        """The pixels that the overlay lies over: left, top, right, bottom, half-open."""
        graphic = self.graphic(part)
        with Image.open(self.path(graphic.file)) as image:
            width, height = image.size
        return graphic.x, graphic.y, graphic.x + width, graphic.y + height

    def burnt(self, piece: Piece) -> tuple[Sheet, ...]:
        """The timecodes of a piece's frames, and the name of the clip that it shows."""
        width, height = self._look.width, self._look.height
        x, y = strip(width, height)
        image, (wide, tall) = draw_labels(piece.start, piece.frames, self._look.rate, width, height)
        running = Sheet(self._keep(image), x, y, wide, tall, COLUMNS)
        if isinstance(piece.show, Card):
            return (running,)
        name = draw_name(piece.show.clip.path.removeprefix("footage/"), x + wide, width, height, self._fonts)
        return running, Sheet(self._keep(name), x + wide, y, name.width, name.height)

    def path(self, name: str) -> str:
        """The file behind a name."""
        return str(self._folder / name)

    def _keep(self, image: Image.Image) -> str:
        digest = hashlib.sha256(f"{image.mode} {image.size} ".encode() + image.tobytes()).hexdigest()[:32]
        name = f"{digest}.png"
        image.save(self._folder / name, compress_level=1)
        return name
