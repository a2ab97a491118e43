"""A small renderer of OpenTimelineIO files: what an editor would show and play, from the file and its media alone.

It knows nothing of the project: it reads through the library, follows the file's own addresses, ranges, time warps
and freeze frames, and picks frames that PyAV decodes. Frame n of a clip is the one on screen at
`start + n / rate * time scalar`, as the OpenTimelineIO documentation defines a linear time warp.
"""

from __future__ import annotations

from bisect import bisect_right
from dataclasses import dataclass, field
from pathlib import Path
from urllib.parse import unquote

import av
import numpy as np
import opentimelineio as otio
from numpy.typing import NDArray

from tests.media import kit

GRACE = 1e-6
"""Seconds: rates are binary fractions in the file."""


@dataclass
class Media:
    """Decoded files, each once."""

    folder: Path
    frames: dict[str, tuple[list[float], list[kit.Image]]] = field(default_factory=dict)
    sounds: dict[str, NDArray[np.float32]] = field(default_factory=dict)

    def path(self, url: str) -> Path:
        """The file an address relative to the timeline's names."""
        return self.folder / unquote(url)

    def pictures(self, url: str) -> tuple[list[float], list[kit.Image]]:
        """Stamps in seconds from the first frame, and the frames as brightness."""
        if url not in self.frames:
            with av.open(str(self.path(url))) as container:
                decoded = list(container.decode(video=0))
            first = decoded[0].time
            self.frames[url] = (
                [frame.time - first for frame in decoded],
                [frame.reformat(format="gray").to_ndarray() for frame in decoded],
            )
        return self.frames[url]

    def sound(self, url: str) -> NDArray[np.float32]:
        """The first sound stream as mono at 48 kHz."""
        if url not in self.sounds:
            self.sounds[url] = kit.mono_sound(self.path(url))
        return self.sounds[url]


def track(timeline: otio.schema.Timeline, name: str) -> otio.schema.Track:
    """The track of that name."""
    return next(one for one in timeline.tracks if one.name == name)


def scalar(clip: otio.schema.Clip) -> float:
    """How fast its source runs; 0 for a held picture."""
    product = 1.0
    for effect in clip.effects:
        product *= 0.0 if isinstance(effect, otio.schema.FreezeFrame) else effect.time_scalar
    return product


def start(clip: otio.schema.Clip) -> float:
    """Seconds from the first frame of its media, whose label begins the available range if there is one."""
    there = clip.media_reference.available_range
    zero = there.start_time.to_seconds() if there is not None else 0.0
    return float(clip.source_range.start_time.to_seconds() - zero)


def pictures(path: Path) -> list[kit.Image | None]:
    """Every frame of the picture track; None where there is no media."""
    timeline = otio.adapters.read_from_file(str(path))
    media = Media(path.parent)
    shown: list[kit.Image | None] = []
    rate = timeline.global_start_time.rate
    for clip in track(timeline, "Picture"):
        count = clip.range_in_parent().duration
        assert count.rate == rate
        frames = count.to_frames()
        if not isinstance(clip.media_reference, otio.schema.ExternalReference):
            shown += [None] * frames
            continue
        stamps, images = media.pictures(clip.media_reference.target_url)
        for n in range(frames):
            at = start(clip) + n / rate * scalar(clip)
            shown.append(images[max(0, bisect_right(stamps, at + GRACE) - 1)])
    return shown


def sound(path: Path, name: str) -> NDArray[np.float32]:
    """A track of sound as mono at 48 kHz, with the gains its metadata tells."""
    timeline = otio.adapters.read_from_file(str(path))
    media = Media(path.parent)
    parts = []
    for item in track(timeline, name):
        where = item.range_in_parent()
        first = round(where.start_time.to_seconds() * kit.SAMPLE_RATE)
        count = round(where.end_time_exclusive().to_seconds() * kit.SAMPLE_RATE) - first
        if isinstance(item, otio.schema.Gap):
            parts.append(np.zeros(count, np.float32))
            continue
        whole = media.sound(item.media_reference.target_url)
        at = start(item) * kit.SAMPLE_RATE + np.arange(count) * scalar(item)
        gain = 10 ** (item.metadata["episodekit"].get("gain_db", 0) / 20)
        parts.append((gain * np.interp(at, np.arange(len(whole)), whole, right=0.0)).astype(np.float32))
    return np.concatenate(parts)
