"""A step's parts from what the optimum bought for it: work, keeps, b-roll, holds, slates."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace
from fractions import Fraction
from math import ceil

from episodekit.base.findings import Finding
from episodekit.base.time import (
    Frames,
    Ms,
    Rate,
    Seconds,
    ms_to_frames,
    nearest,
)
from episodekit.bench.model import SpanKind
from episodekit.fit.case import B_ROLL_OFFER, WAIT_OFFERS, WORK_OFFERS, Case, asked_frames, normal_frames
from episodekit.fit.model import FittedStep, Plays, Slate, same_stretch
from episodekit.fit.optimum import Bought
from episodekit.fit.runs import (
    NORMAL,
    Cut,
    Run,
    at_normal_speed,
    bounds,
    chosen,
    keeps_of,
    least_frames,
    runs_of,
)
from episodekit.fit.told import ANY, May, brief, left_out, longer, pickup, unfilmed
from episodekit.footage.cover import Piece
from episodekit.job.model import Limits
from episodekit.shots.model import Shot, ShotKind


def parts_of(
    case: Case, bought: Bought, rate: Rate, limits: Limits, may: May = ANY
) -> tuple[FittedStep, tuple[Finding, ...]]:
    """Play what was bought, `bought.total` frames in all, and say what a creator should know.

    Work plays at one common speed, never beyond its legible one, and no stretch of it is shorter than a ramp
    needs (`runs.chosen`). Waits play only if they were bought, and b-roll only where the words outrun the work.
    """
    step, planned = case.step, case.planned
    shown = bought.frames[B_ROLL_OFFER]
    if not case.items:
        return FittedStep(step.id, planned, _unfilmed_parts(case, bought.total, shown, rate, limits)), ()
    findings = [unfilmed(shot, case, rate) for shot in case.missing]
    work, wait = sum(bought.frames[WORK_OFFERS]), sum(bought.frames[WAIT_OFFERS])
    played = _played(case, work, wait, rate, limits)
    if case.brief:
        played = _held(played, bought.total - shown - sum(case.slates.values()), rate)
    left = left_out(case, played, work, rate, limits, may)
    if left is not None:
        findings.append(left)
    if not played:  # nothing of what was filmed is long enough to be seen
        findings.append(brief(case))
        return FittedStep(step.id, planned, _all_slates(case, bought.total, rate)), tuple(findings)
    played += _cutaways(case, shown, rate)
    short = bought.total - sum(case.slates.values()) - sum(part.frames for part in played)
    parts, short_of = _fill(played, short, case, rate, limits, may)
    findings += short_of
    if bought.total > planned + nearest(rate.exact):
        findings.append(longer(case, bought.total - planned, may, rate))
    return FittedStep(step.id, planned, tuple(_with_slates(parts, case, rate, limits))), tuple(findings)


def _played(case: Case, work: int, wait: int, rate: Rate, limits: Limits) -> list[Plays]:
    """Work, waits and keeps in bench order."""
    found: list[tuple[int, Seconds, list[Plays]]] = []
    for kind, frames, high in (
        (SpanKind.WORK, work, case.speeds.high),
        (SpanKind.WAIT, wait, limits.curing.high),
    ):
        runs = runs_of(case.items, kind)
        cuts = chosen(runs, frames, bounds(high, limits.ramp, rate), rate) if runs and frames else ()
        found += [(cut.run.at, cut.start, _plays(cut, kind, rate)) for cut in cuts]
    for run in keeps_of(case.items):
        shot = case.items[run.at].shot
        found.append((run.at, run.pieces[0].start, [replace(part, shot=shot) for part in _kept(run, rate)]))
    return [part for _, _, parts in sorted(found, key=lambda one: one[:2]) for part in parts]


def _kept(run: Run, rate: Rate) -> list[Plays]:
    """A keep at normal speed, in as many parts as it has files."""
    frames = normal_frames(run.length, rate)
    if len(run.pieces) > 1:
        return _plays(Cut(run, Fraction(0), run.length, frames, NORMAL), SpanKind.KEEP, rate)
    (piece,) = run.pieces
    return [Plays(frames, piece.clip, piece.start, piece.end, NORMAL, kind=SpanKind.KEEP)]


def _held(played: list[Plays], room: int, rate: Rate) -> list[Plays]:
    """The only piece of a step, held until it can be seen; nothing, if there is no room for that."""
    least = least_frames(rate)
    if not played or room < least:
        return []
    (only,) = played
    hold = max(0, least - only.frames)
    return [replace(only, frames=Frames(only.frames + hold), hold=Frames(hold))]


def _plays(cut: Cut, kind: SpanKind, rate: Rate) -> list[Plays]:
    """A cut as parts, one a clip; frames are cut from one running sum, so that no rounding adds up."""
    parts: list[Plays] = []
    at, done = Fraction(0), 0
    for piece in cut.run.pieces:
        first, last = max(cut.start, at), min(cut.end, at + piece.length)
        if last > first:
            until = min(cut.frames, _reaching(piece, last - cut.start, cut.speed / rate.exact))
            until = cut.frames if last == cut.end else until
            # what the part before ran over its file's end is gone from this file's beginning
            first = max(first, cut.start + done * cut.speed / rate.exact)
            begin, end = piece.start + first - at, piece.start + last - at
            end = min(end, begin + (until - done) * cut.speed / rate.exact)
            if until > done:
                parts.append(Plays(Frames(until - done), piece.clip, begin, end, cut.speed, kind=kind))
            done = until
        at += piece.length
    return parts


def _reaching(piece: Piece, seconds: Seconds, step: Seconds) -> int:
    """How many frames of the draft, `step` seconds of footage apart, show a piece up to there: as many as look
    at it, a quarter of the shorter frame behind their beginning (`timeline/reading.py`).
    """
    ahead = min(step, piece.frame or step) / 4
    return ceil((seconds - ahead) / step)


def _cutaways(case: Case, frames: int, rate: Rate) -> list[Plays]:
    """So many frames of b-roll at normal speed, the planned first."""
    if not case.b_roll:
        return []
    runs = [Run(n, n + 1, (item.piece,), item.piece.length) for n, item in enumerate(case.b_roll)]
    parts = []
    for cut in at_normal_speed(runs, frames, least_frames(rate), rate, ends=False):
        item = case.b_roll[cut.run.at]
        (part,) = _plays(cut, SpanKind.B_ROLL, rate)
        parts.append(replace(part, shot=item.shot, what=item.what))
    return parts


def _unfilmed_parts(
    case: Case, total: int, cutaways: int, rate: Rate, limits: Limits
) -> tuple[Plays | Slate, ...]:
    """Slates as planned, and at the end b-roll for words that outrun the bench time; slates for it, too."""
    found: list[Plays | Slate] = [*_cutaways(case, cutaways, rate)]
    left = cutaways - sum(part.frames for part in found)
    for shot, frames in _wanted(case, left, rate, limits):
        found.append(Slate(Frames(frames), shot.index))
        left -= frames
    return (*_all_slates(case, total - cutaways + left, rate), *found)


def _wanted(case: Case, frames: int, rate: Rate, limits: Limits) -> list[tuple[Shot, int]]:
    """Unfilmed b-roll that could fill up to `frames` frames, none of it for less than a shot's shortest time."""
    least = min(ms_to_frames(limits.shortest_shot, rate), frames)
    found: list[tuple[Shot, int]] = []
    for shot in case.wanted:
        take = min(asked_frames(shot, rate), frames)
        take = frames if frames - take < least else take
        if take >= least and take > 0:
            found.append((shot, take))
            frames -= take
    return found


def _fill(
    parts: list[Plays], short: int, case: Case, rate: Rate, limits: Limits, may: May
) -> tuple[list[Plays | Slate], list[Finding]]:
    """Hold the last picture for what is short, and slate the rest: b-roll that was wanted, then the work."""
    if short <= 0:
        return list(parts), []
    last = parts[-1]
    longest = max(0, ms_to_frames(limits.longest_hold, rate) - last.hold)
    over = max(0, short - longest)
    # A slate that flashes by for less than a shot's shortest time helps nobody: the picture is held instead.
    slate = over if over >= ms_to_frames(limits.shortest_shot, rate) else 0
    hold = short - slate
    filled: list[Plays | Slate] = [
        *parts[:-1],
        replace(last, frames=Frames(last.frames + hold), hold=Frames(last.hold + hold)),
    ]
    if not over:
        return filled, []
    for shot, frames in _wanted(case, slate, rate, limits):
        filled.append(Slate(Frames(frames), shot.index, pickup=True))
        slate -= frames
    if slate:
        filled.append(Slate(Frames(slate), main_shot(case).index, pickup=True))
    return filled, [pickup(case, over, may, rate)]


def main_shot(case: Case) -> Shot:
    """The shot of the step's work; its first one, if it was planned with must-shows alone."""
    work = (ShotKind.WORK, ShotKind.READ)
    return next((shot for shot in case.shots if shot.kind in work), case.shots[0])


def _all_slates(case: Case, total: int, rate: Rate) -> tuple[Slate, ...]:
    """One slate a shot, cut where the shots change as planned; the last one lasts to `total`."""
    shots = [shot for shot in case.shots if shot.kind is not ShotKind.B_ROLL]
    slates: list[Slate] = []
    done = 0
    for shot in shots:
        until = total if shot is shots[-1] else min(total, ms_to_frames(Ms(shot.start + shot.length), rate))
        if until > done:
            slates.append(Slate(Frames(until - done), shot.index))
        done = max(done, until)
    return tuple(slates)


def _with_slates(
    parts: Sequence[Plays | Slate], case: Case, rate: Rate, limits: Limits
) -> list[Plays | Slate]:
    """Put each unfilmed must-show's slate at its planned place, splitting a ramp if both ends stay ramps."""
    out = list(parts)
    ramp = bounds(NORMAL, limits.ramp, rate).ramp if case.missing else 0
    for shot in sorted(case.missing, key=lambda s: s.start):
        wanted = ms_to_frames(shot.start, rate)
        out = _insert(out, Slate(case.slates[shot.index], shot.index), wanted, ramp, rate)
    return out


def _insert(
    parts: list[Plays | Slate], slate: Slate, wanted: int, ramp: int, rate: Rate
) -> list[Plays | Slate]:
    at = 0
    for index, part in enumerate(parts):
        inside = wanted - at
        if inside <= 0:
            return _between(parts, index, slate)
        if inside < part.frames:
            if (
                isinstance(part, Plays)
                and part.speed != NORMAL
                and ramp <= inside <= part.frames - part.hold - ramp
            ):
                cut = part.start + inside / rate.exact * part.speed
                first = replace(part, frames=Frames(inside), end=cut, hold=Frames(0))
                second = replace(part, frames=Frames(part.frames - inside), start=cut)
                return [*parts[:index], first, slate, second, *parts[index + 1 :]]
            return _between(parts, index if inside < part.frames - inside else index + 1, slate)
        at += part.frames
    return [*parts, slate]


def _between(parts: list[Plays | Slate], index: int, slate: Slate) -> list[Plays | Slate]:
    """Put the slate before a part; after it, if the part only goes on in the next file of its camera."""
    while 0 < index < len(parts) and same_stretch(parts[index - 1], parts[index]):
        index += 1
    return [*parts[:index], slate, *parts[index:]]
