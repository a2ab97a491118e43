"""Several cameras on one step: which angle is seen when, and which microphone is heard.

Work stays on the step's first camera. Where it names more of them, the angle changes at the beginning of a
beat, when the words turn to something new, as long as every angle stands for as long as a ramp, or a shot,
needs. A must-show is never cut. Sound comes from one microphone as long as that one was running, so that
it does not jump when the picture does.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace
from fractions import Fraction

from episodekit.base.time import Frames, Rate, Seconds, ms_to_frames, ms_to_frames_up
from episodekit.bench.model import SpanKind
from episodekit.fit.model import FittedStep, Heard, Plays, Slate
from episodekit.footage.clocks import snapped
from episodekit.footage.model import PlacedClip
from episodekit.job.model import Limits, Microphone, Plan, Step
from episodekit.timing.steps import StepTime


def with_angles(
    fitted: FittedStep, step: Step, time: StepTime, clips: Sequence[PlacedClip], plan: Plan
) -> FittedStep:
    """The step with its angles in turns and the best microphone for each part. Frames and speeds stay."""
    rate = plan.front.frame_rate
    by_path = {placed.clip.path: placed for placed in clips}
    beats = [ms_to_frames(beat.start, rate) for beat in time.beats[1:]] if len(step.angles) > 1 else []
    parts: list[Plays | Slate] = []
    done = turn = 0
    for part in fitted.parts:
        if isinstance(part, Slate):
            parts.append(part)
        elif part.kind is not SpanKind.WORK or part.shot is not None or len(step.angles) < 2:
            parts.append(_heard(part, part, clips, by_path, plan))
        else:
            pieces = _cut(part, [beat - done for beat in beats], rate, plan.front.limits)
            seen: list[tuple[Plays, Plays]] = []
            for number, piece in enumerate(pieces, start=turn):
                camera = step.angles[number % len(step.angles)]
                angle = _from_angle(piece, camera, clips, by_path, rate)
                if seen and angle is piece and seen[-1][0] is seen[-1][1]:  # nothing changes here after all
                    joined = _joined(seen.pop()[0], piece)
                    seen.append((joined, joined))
                else:
                    seen.append((angle, piece))
            turn += len(pieces)
            parts += [_heard(angle, piece, clips, by_path, plan) for angle, piece in seen]
        done += part.frames
    return replace(fitted, parts=tuple(parts))


def _cut(part: Plays, places: Sequence[int], rate: Rate, limits: Limits) -> list[Plays]:
    """A part cut where its moving picture can be, every piece as long as a ramp, or a shot, must be."""
    least = ms_to_frames_up(limits.ramp if part.speed > 1 else limits.shortest_shot, rate)
    moving = part.frames - part.hold
    found: list[Plays] = []
    begin = 0
    for at in places:
        if at - begin >= least and moving - at >= least:
            found.append(_piece(part, begin, at, rate))
            begin = at
    found.append(_piece(part, begin, part.frames, rate) if begin else part)
    return found


def _joined(one: Plays, two: Plays) -> Plays:
    return replace(two, frames=Frames(one.frames + two.frames), start=one.start)


def _piece(part: Plays, begin: int, end: int, rate: Rate) -> Plays:
    start = part.start + begin / rate.exact * part.speed
    if end == part.frames:
        return replace(part, frames=Frames(end - begin), start=start)
    until = part.start + end / rate.exact * part.speed
    return replace(part, frames=Frames(end - begin), start=start, end=until, hold=Frames(0))


def _from_angle(
    part: Plays, camera: str, clips: Sequence[PlacedClip], by_path: dict[str, PlacedClip], rate: Rate
) -> Plays:
    """The same moments from another camera, if it was running all the while; else as it is."""
    own = by_path[part.clip]
    if own.camera == camera or own.start is None:
        return part
    begin, end = own.start + part.start * own.pace, own.start + part.end * own.pace
    for placed in clips:
        if placed.camera != camera or placed.start is None:
            continue
        if placed.start <= begin and end <= placed.start + placed.clip.duration * placed.pace:
            start = snapped((begin - placed.start) / placed.pace, placed.clip)
            until = min(start + part.end - part.start, placed.clip.duration)
            if until - start >= (part.frames - part.hold) / rate.exact * part.speed:
                return replace(part, clip=placed.clip.path, start=start, end=until)
    return part


def _heard(
    seen: Plays, filmed: Plays, clips: Sequence[PlacedClip], by_path: dict[str, PlacedClip], plan: Plan
) -> Plays:
    """The part with the best microphone that was running: a good one, else the step's own, else another.

    `filmed` is the part as the log places it; an angle may lie a fraction of a frame beside it, sound does not.
    """
    own = by_path[filmed.clip]
    rate = plan.front.frame_rate
    heard: list[tuple[int, str, Seconds]] = []
    for placed in clips:
        rank, start = _rank(placed, own, plan), _same_moment(filmed, own, placed, rate)
        if rank and start is not None:
            heard.append((-rank, placed.clip.path, start))
    if not heard:
        silent = _microphone(by_path[seen.clip], plan) is Microphone.NONE
        return replace(seen, heard=Heard(None, Fraction(0))) if silent else seen
    _, clip, start = min(heard)
    return seen if (clip, start) == (seen.clip, seen.start) else replace(seen, heard=Heard(clip, start))


def _rank(placed: PlacedClip, own: PlacedClip, plan: Plan) -> int:
    """How good a microphone is for this picture; 0 if it is not to be heard."""
    microphone = _microphone(placed, plan)
    if not placed.clip.has_audio or microphone is Microphone.NONE:
        return 0
    return (4 if microphone is Microphone.GOOD else 0) + (2 if placed is own else 1)


def _microphone(placed: PlacedClip, plan: Plan) -> Microphone:
    camera = plan.front.cameras.get(placed.camera or "")
    return camera.microphone if camera is not None else Microphone.PLAIN


def _same_moment(part: Plays, own: PlacedClip, other: PlacedClip, rate: Rate) -> Seconds | None:
    """Where in another clip the part begins, if that clip was running for all of it."""
    if other is own:
        return part.start
    if own.start is None or other.start is None:
        return None
    long = (part.frames - part.hold) / rate.exact * part.speed
    apart = long * abs(own.pace / other.pace - 1) / 2
    if apart > 1 / rate.exact:
        return None  # its sound would leave the picture by more than a frame: better the picture's own
    # The two agree in the middle of the part, so that both ends are off by half of what they drift apart.
    middle = part.start + long / 2
    start = (own.start + middle * own.pace - other.start) / other.pace - long / 2
    return start if start >= 0 and start + long <= other.clip.duration else None
