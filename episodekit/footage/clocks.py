"""Clips on the wall clock, and marks on the clips' or the wall's clock.

A clip stands on the wall clock at its creation time plus its camera's offset in job.md. A clip without a
creation time is a clock of its own: marks inside it reach it, and no others.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from datetime import UTC, datetime, timedelta, timezone
from fractions import Fraction
from itertools import pairwise
from math import floor

from episodekit.base.findings import Finding, did_you_mean, finding
from episodekit.base.place import Place
from episodekit.base.time import Frames, Seconds, clock, frames_to_seconds, seconds_to_ms
from episodekit.base.timecode import label_to_frames, looks_like_timecode
from episodekit.bench import rules as log_rules
from episodekit.bench.marks import hidden_from
from episodekit.bench.model import WALL, InClip, Kind, Mark, Moment, PlacedMark
from episodekit.footage import rules
from episodekit.footage.cameras import camera_of
from episodekit.footage.joins import Joint, joined
from episodekit.footage.model import Clip, Known, PlacedClip
from episodekit.footage.rates import timecode_rate
from episodekit.job.model import Plan
from episodekit.job.units import duration

FAR_DAYS = 100
_EPOCH = datetime(1970, 1, 1, tzinfo=UTC)
_MICROSECOND = timedelta(microseconds=1)


def place_clips(
    clips: Sequence[Clip], plan: Plan, known: Mapping[str, Known] | None = None
) -> tuple[tuple[PlacedClip, ...], tuple[Finding, ...]]:
    """Put clips on the wall clock. Sorted by path.

    `known` are the places that were found by path; they stand for what the files and `clock:` say.
    """
    known = known or {}
    placed: list[PlacedClip] = []
    findings: list[Finding] = []
    for clip in sorted(clips, key=lambda c: c.path):
        camera = camera_of(clip.path, plan.front.cameras)
        at = Place(clip.path)
        if camera is None:
            declared = ", ".join(plan.front.cameras) or "none"
            findings.append(
                finding(
                    rules.NO_CAMERA,
                    at,
                    f"It belongs to no camera (declared: {declared}).",
                    "Rename it, or add the camera to job.md.",
                )
            )
        start = None
        if clip.path in known:
            start = known[clip.path].start
        elif clip.created is None:
            findings.append(
                finding(
                    rules.NO_CLOCK,
                    at,
                    "It has no creation time.",
                    f"Log its marks as `{_name(clip)} @ 00:01:12:04`.",
                )
            )
        else:
            offset = plan.front.cameras[camera].clock if camera is not None else Fraction(0)
            start = wall(clip.created) + offset
        if clip.variable:
            findings.append(
                finding(
                    rules.VARIABLE,
                    at,
                    "Its frame rate varies.",
                    "Nothing to do: cuts follow its time stamps.",
                )
            )
        if not clip.has_audio:
            findings.append(
                finding(rules.NO_SOUND, at, "It has no sound.", "The draft is silent where it plays.")
            )
        found = known.get(clip.path, Known(start))
        placed.append(PlacedClip(clip, camera, start, found.pace, found.within))
    laid, joints = joined(placed)
    findings += [_told(joint) for joint in joints]
    findings += _two_at_a_time(laid)
    return laid, tuple(findings)


def _told(joint: Joint) -> Finding:
    said = f"It goes on where {joint.first.rpartition('/')[2]} ends, by its {joint.by}."
    remedy = "Nothing to do: they are laid end to end."
    return finding(rules.JOINED, Place(joint.second), said, remedy)


def _two_at_a_time(placed: Sequence[PlacedClip]) -> list[Finding]:
    found = []
    timed = [p for p in placed if p.start is not None and p.camera is not None]
    timed.sort(key=lambda p: (p.camera or "", p.start or 0, p.clip.path))
    for before, after in pairwise(timed):
        assert before.end is not None
        assert after.start is not None
        common = before.end - after.start
        # Cameras stamp whole seconds, so files split without a gap may seem to overlap by up to a second.
        if before.camera == after.camera and common > 1:
            said = f"It covers {float(common):.1f} s of the same time as {_name(before.clip)}."
            found.append(
                finding(
                    rules.TWO_CLIPS, Place(after.clip.path), said, "Remove the copy, or correct the clock."
                )
            )
    return found


def wall(instant: datetime) -> Seconds:
    """Exact seconds since 1970 UTC of an instant with an offset."""
    return Fraction((instant - _EPOCH) // _MICROSECOND, 1_000_000)


def place_marks(
    marks: Sequence[Mark], clips: Sequence[PlacedClip], utc_offset: timedelta | None = None
) -> tuple[tuple[PlacedMark, ...], tuple[Finding, ...]]:
    """Put each mark on a clock: the wall's, or its clip's own if that clip's place on the wall is unknown.

    `utc_offset` is for instants written without one. A mark that lies far from all others is left out.
    """
    placed: list[PlacedMark] = []
    findings: list[Finding] = []
    for mark in marks:
        moment = (
            _instant(mark, mark.when, utc_offset)
            if isinstance(mark.when, datetime)
            else _in_clip(mark, mark.when, clips)
        )
        if isinstance(moment, Finding):
            findings.append(hidden_from(moment) if mark.kind is Kind.PRIVATE else moment)
        else:
            placed.append(PlacedMark(mark, moment))
    near, far = _far_from_the_rest(placed)
    return near, (*findings, *far)


def _instant(mark: Mark, when: datetime, utc_offset: timedelta | None) -> Moment | Finding:
    if when.tzinfo is None and utc_offset is None:
        said = f"'{when.isoformat(sep=' ')}' has no offset from UTC."
        remedy = f"Write {when.isoformat(sep=' ')}+01:00 with yours, or set `utc offset:` in job.md once."
        return finding(log_rules.TIME, mark.at, said, remedy)
    return Moment(
        WALL, wall(when if utc_offset is None or when.tzinfo else when.replace(tzinfo=timezone(utc_offset)))
    )


def _far_from_the_rest(marks: Sequence[PlacedMark]) -> tuple[tuple[PlacedMark, ...], list[Finding]]:
    """Marks on the wall clock that lie more than `FAR` from the middle one are no part of this job."""
    seconds = sorted(mark.moment.seconds for mark in marks if mark.moment.clock == WALL)
    if not seconds:
        return tuple(marks), []
    middle = seconds[len(seconds) // 2]
    near: list[PlacedMark] = []
    found: list[Finding] = []
    for placed in marks:
        days = int(abs(placed.moment.seconds - middle) // 86_400)
        if placed.moment.clock != WALL or days <= FAR_DAYS:
            near.append(placed)
            continue
        when = f"{days} days {'before' if placed.moment.seconds < middle else 'after'} the rest of the log"
        clip = placed.moment.clip
        said = f"This mark lies {when}" + (f", by where {clip} is placed." if clip else ".")
        remedy = (
            "Set its camera's `clock:` in job.md, or check the dates of the others."
            if clip
            else "Check the date."
        )
        told = finding(log_rules.FAR, placed.mark.at, said, remedy)
        found.append(hidden_from(told) if placed.mark.kind is Kind.PRIVATE else told)
    return tuple(near), found


def _in_clip(mark: Mark, place: InClip, clips: Sequence[PlacedClip]) -> Moment | Finding:
    named = [
        p
        for p in clips
        if p.clip.path == place.clip or _name(p.clip) == place.clip or p.clip.path.endswith("/" + place.clip)
    ]
    if not named:
        hint = did_you_mean(place.clip, [_name(p.clip) for p in clips])
        return finding(log_rules.CLIP, mark.at, f"There is no clip '{place.clip}' in footage/.", hint)
    if len(named) > 1:
        paths = ", ".join(p.clip.path for p in named)
        return finding(
            log_rules.CLIP, mark.at, f"'{place.clip}' could be any of {paths}.", "Write the whole path."
        )
    placed = named[0]
    clip = placed.clip
    try:
        seconds = _seconds(place.label, clip)
    except ValueError as error:
        said, _, remedy = str(error).partition("; ")
        return finding(
            log_rules.TIME, mark.at, f"{said}.", f"{remedy[:1].upper()}{remedy[1:]}." if remedy else ""
        )
    if not 0 <= seconds <= clip.duration:
        length = clock(seconds_to_ms(clip.duration))
        first = f", whose first frame is {clip.start_timecode}" if clip.start_timecode else ""
        said = f"{place.label} lies outside {_name(clip)}, which lasts {length}{first}."
        return finding(log_rules.BEYOND, mark.at, said, "Check the clip's name and the place.")
    on_wall = placed.wall(seconds)
    if on_wall is None:
        return Moment(clip.path, seconds, clip.path)
    return Moment(WALL, on_wall, clip.path)


def _seconds(label: str, clip: Clip) -> Seconds:
    """Seconds from the clip's first frame.

    hh:mm:ss:ff is the camera's timecode: counted from its start timecode if the clip has one, else from
    00:00:00:00. Anything else is a time since the first frame, as a player shows it. Raises ValueError.
    """
    if not looks_like_timecode(label):
        try:
            return Fraction(duration(label), 1000)
        except ValueError:
            said = f"'{label}' is no place in a clip; write 00:01:12:04 (timecode) or 1:12.5 (minutes and seconds)"
            raise ValueError(said) from None
    start = clip.start_timecode
    drop = ";" in label if start is None else ";" in start
    rate = timecode_rate(clip.rate, drop)
    first = label_to_frames(start, rate) if start is not None else 0
    frames = label_to_frames(label, rate) - first
    day = label_to_frames(f"23:59:59{';' if rate.drop else ':'}{rate.nominal - 1:02d}", rate) + 1
    if frames < 0 and frames + day < clip.duration * rate.exact:
        frames += day  # the camera's timecode ran over midnight
    seconds: Fraction = frames / rate.exact
    return seconds


def snapped(seconds: Seconds, clip: Clip) -> Seconds:
    """The start of the frame on screen at that time, for a clip of constant rate; else the time itself."""
    if clip.variable:
        return seconds
    # One millisecond of grace: a wall clock is written to the millisecond, a frame's start may not be.
    frame = floor((seconds + Fraction(1, 1000)) * clip.rate.exact)
    return frames_to_seconds(Frames(max(0, frame)), clip.rate)


def _name(clip: Clip) -> str:
    return clip.path.rpartition("/")[2]
