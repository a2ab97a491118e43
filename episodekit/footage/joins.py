"""Recordings that a camera split into several files, because a file or a card was full, laid end to end.

Nothing is lost between such files, but the creation times of most cameras are whole seconds, and some write the
recording's beginning into each. So where one file goes on in the next, its length says when the next began.
"""

from __future__ import annotations

import re
from collections.abc import Sequence
from dataclasses import dataclass, replace
from fractions import Fraction

from episodekit.base.time import Seconds, nearest
from episodekit.base.timecode import label_to_frames
from episodekit.footage.model import Clip, PlacedClip
from episodekit.footage.rates import timecode_rate

WHOLE_SECONDS = Fraction(1)
"""How far two creation times of whole seconds may be off from the length between them."""

FINER = Fraction(1, 10)
"""The same for times that are written finer. Common practice, no source."""

PACKET = Fraction(1, 40)
"""Sound that is off by no more, a packet of AAC at 44.1 kHz, was not interrupted; beyond that the stamps rule."""

_DIGITS = re.compile(r"\d+")


@dataclass(frozen=True)
class Joint:
    """Two files of one recording, by their paths, and what says so."""

    first: str
    second: str
    by: str


def joined(clips: Sequence[PlacedClip]) -> tuple[tuple[PlacedClip, ...], tuple[Joint, ...]]:
    """The clips with the later files of each recording where the earlier ones end. In the order given."""
    timed = sorted(
        (p for p in clips if p.start is not None and p.camera is not None),
        key=lambda p: (p.camera or "", p.start or Fraction(0), p.clip.path),
    )
    placed = {p.clip.path: p for p in clips}
    joints: list[Joint] = []
    last: PlacedClip | None = None
    for original in timed:
        if last is not None and last.camera == original.camera:
            before = placed[last.clip.path]
            by = _goes_on(before, last, original)
            if by and before.start is not None:
                bare = replace(before.clip, before=None, after=None)
                second = replace(original.clip, before=bare, audio_late=_audio_late(bare, original.clip))
                first = replace(before.clip, after=original.clip)
                placed[before.clip.path] = replace(before, clip=first)
                start = before.end
                placed[original.clip.path] = replace(
                    original, clip=second, start=start, pace=before.pace, within=before.within
                )
                joints.append(Joint(before.clip.path, original.clip.path, by))
        last = original
    return tuple(placed[p.clip.path] for p in clips), tuple(joints)


def _goes_on(before: PlacedClip, as_written: PlacedClip, after: PlacedClip) -> str:
    """By what the second file is known to go on where the first ends; empty if it does not.

    `before` stands where joints have put it, `as_written` where its own creation time does.
    """
    one, two = before.clip, after.clip
    if before.start is None or after.start is None or not _alike(one, two):
        return ""
    if one.start_timecode and two.start_timecode and one.start_timecode != two.start_timecode:
        return "timecode" if _labels_meet(one, two) else ""
    if not _named_in_turn(one, two):
        return ""
    if as_written.start == after.start and one.duration > WHOLE_SECONDS:
        return "name"
    assert two.created is not None
    room = WHOLE_SECONDS if two.created.microsecond == 0 else FINER
    return "creation time" if abs(before.start + one.duration * before.pace - after.start) <= room else ""


def _audio_late(one: Clip, two: Clip) -> Seconds:
    """How much later than stamped the second's sound begins if it follows the first's without a gap."""
    if one.audio_end is None or not two.has_audio:
        return Fraction(0)
    over = one.audio_end + one.audio_late - one.first - one.duration
    late = over - (two.audio_start - two.first)
    return late if abs(late) <= PACKET else Fraction(0)


def _alike(one: Clip, two: Clip) -> bool:
    shape = (one.width, one.height, one.codec, one.rotation, one.variable, one.has_audio)
    other = (two.width, two.height, two.codec, two.rotation, two.variable, two.has_audio)
    same_rate = one.variable or one.rate == two.rate
    return shape == other and same_rate and one.identity != two.identity


def _labels_meet(one: Clip, two: Clip) -> bool:
    """Whether the second's first label is the next after the first's last."""
    assert one.start_timecode is not None
    assert two.start_timecode is not None
    if one.variable:
        return False
    rate = timecode_rate(one.rate, ";" in one.start_timecode)
    day = label_to_frames(f"23:59:59{';' if rate.drop else ':'}{rate.nominal - 1:02d}", rate) + 1
    try:
        starts = [label_to_frames(label, rate) for label in (one.start_timecode, two.start_timecode)]
    except ValueError:
        return False
    return (starts[0] + nearest(one.duration * rate.exact) - starts[1]) % day == 0


def _named_in_turn(one: Clip, two: Clip) -> bool:
    """Whether two paths differ in their numbers alone, and the second's come later."""
    return one.path < two.path and _DIGITS.sub("#", one.path) == _DIGITS.sub("#", two.path)
