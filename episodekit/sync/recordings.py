"""Files that a camera split are one recording, on one clock: what is known of one of them holds for all."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from fractions import Fraction

from episodekit.base.time import Seconds
from episodekit.base.timecode import label_to_frames
from episodekit.footage.clocks import wall
from episodekit.footage.model import Clip, PlacedClip
from episodekit.footage.rates import timecode_rate


@dataclass(frozen=True)
class Recording:
    """Files that follow each other without a gap; `offsets` are their beginnings in it, in its own seconds, by path."""

    camera: str | None
    files: tuple[PlacedClip, ...]
    offsets: Mapping[str, Seconds]

    @property
    def first(self) -> Clip:
        """Its first file."""
        return self.files[0].clip

    @property
    def length(self) -> Seconds:
        """Seconds by its camera's clock."""
        return sum((file.clip.duration for file in self.files), Fraction(0))

    @property
    def created(self) -> Seconds | None:
        """Its creation time in seconds since 1970 UTC, as the camera's clock has it."""
        return None if self.first.created is None else wall(self.first.created)

    @property
    def label(self) -> Seconds | None:
        """Its start timecode in seconds since that clock's midnight."""
        clip = self.first
        if clip.start_timecode is None or clip.variable:
            return None
        rate = timecode_rate(clip.rate, ";" in clip.start_timecode)
        try:
            return Fraction(label_to_frames(clip.start_timecode, rate)) / rate.exact
        except ValueError:
            return None


def recordings_of(clips: Sequence[PlacedClip]) -> list[Recording]:
    """The clips as recordings, in the order of their first files. `clips` as `place_clips` gives them."""
    by_path = {placed.clip.path: placed for placed in clips}
    found = []
    for placed in clips:
        if placed.clip.before is not None:
            continue
        files, offsets, at = [placed], {placed.clip.path: Fraction(0)}, placed.clip.duration
        while files[-1].clip.after is not None:
            following = by_path[files[-1].clip.after.path]
            offsets[following.clip.path] = at
            at += following.clip.duration
            files.append(following)
        found.append(Recording(placed.camera, tuple(files), offsets))
    return found
