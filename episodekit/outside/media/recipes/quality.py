"""How good a draft shall look: a size and the encoder's settings, by name."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, replace
from enum import StrEnum
from pathlib import Path

from episodekit.footage.model import Clip
from episodekit.outside.media.recipes.picture import Look
from episodekit.timeline.model import Picture, Timeline

LARGEST_SIDE = 4320


class Quality(StrEnum):
    """Draft: the plan's size, cut fast. Review: at least 1080 lines, to show to others. Full: the cameras' size."""

    DRAFT = "draft"
    REVIEW = "review"
    FULL = "full"


@dataclass(frozen=True)
class Setting:
    """x264's preset and constant rate factor (lower looks better), and the least shorter side in pixels."""

    preset: str
    crf: int
    shorter_side: int


SETTINGS = {
    Quality.DRAFT: Setting("veryfast", 20, 0),
    Quality.REVIEW: Setting("medium", 20, 1080),
    Quality.FULL: Setting("slow", 16, 1080),
}
"""Presets and factors are common practice, no source."""


def look_of(timeline: Timeline, clips: Mapping[str, Clip], quality: Quality) -> Look:
    """The plan's shape at this quality; never smaller than the plan's own size.

    `full` takes the shorter side of the largest clip that the timeline shows.
    """
    setting = SETTINGS[quality]
    least = setting.shorter_side
    if quality is Quality.FULL:
        shown = {segment.source.clip for segment in timeline.segments if isinstance(segment.source, Picture)}
        sides = [min(clips[name].width, clips[name].height) for name in shown if name in clips]
        least = min(LARGEST_SIDE, max([least, *sides]))
    own = min(timeline.width, timeline.height)
    width, height = timeline.width, timeline.height
    if own < least:  # H.264 in 4:2:0 needs even sides
        width, height = (round(side * least / own / 2) * 2 for side in (width, height))
    return Look(width, height, timeline.rate, setting.preset, setting.crf)


def sized(timeline: Timeline, look: Look) -> Timeline:
    """The timeline at the look's size."""
    return replace(timeline, width=look.width, height=look.height)


def named(quality: Quality, place: str = "", *, timecode: bool = False) -> str:
    """The file name of a draft of this quality; `place` says which part it is a look at.

    `timecode` says that it is burnt in.

    >>> named(Quality.DRAFT), named(Quality.REVIEW), named(Quality.FULL, "flex")
    ('draft.mp4', 'draft-review.mp4', 'look-flex-full.mp4')
    """
    head = (f"look-{place}" if place else "draft") + ("-timecode" if timecode else "")
    return f"{head}.mp4" if quality is Quality.DRAFT else f"{head}-{quality}.mp4"


def drafts_in(out: Path) -> tuple[Path, ...]:
    """Every draft and look in a folder, of whatever quality: the files that `named` names, sorted."""
    wholes = {named(quality, timecode=burnt) for quality in Quality for burnt in (False, True)}
    looks = [path for path in out.glob("look-*.mp4") if path.is_file()]
    return tuple(sorted([*looks, *(out / name for name in wholes if (out / name).is_file())]))
