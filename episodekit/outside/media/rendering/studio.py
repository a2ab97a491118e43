"""What every task of one render works with."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from pathlib import Path

from episodekit.footage.model import Clip
from episodekit.outside.media.recipes.picture import Look
from episodekit.outside.media.rendering.art import Art
from episodekit.outside.media.rendering.cache import Cache
from episodekit.timeline.model import Picture, Timeline


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

    def lost(self) -> frozenset[int]:
        """The numbers of the segments whose clip is not there."""
        return frozenset(
            number
            for number, segment in enumerate(self.timeline.segments)
            if isinstance(segment.source, Picture) and not self._is_there(segment.source)
        )

    def _is_there(self, picture: Picture) -> bool:
        clip = self.clips.get(picture.clip)
        return clip is not None and (self.root / clip.path).is_file()
