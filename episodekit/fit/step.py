"""Fit one step: keep at normal speed, must-shows filmed or slated, and the work fills what the words leave.

A later, better fit may take this module's place; its door is `fit_step`.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from fractions import Fraction
from math import ceil

from episodekit.base.findings import Finding, finding
from episodekit.base.time import Frames, Rate, ms_to_frames, nearest, seconds_to_frames
from episodekit.bench.model import Span, SpanKind
from episodekit.fit import rules
from episodekit.fit.model import FittedStep, Plays, Slate
from episodekit.footage.cover import Piece
from episodekit.job.model import Limits, Step
from episodekit.shots.model import Shot, ShotKind

_LEAST_WORK_MS = 1500
_NORMAL = Fraction(1)


@dataclass(frozen=True)
class Filmed:
    """A span of a step with the footage that shows it. `shot` is the must-show it answers, if it does."""

    span: Span
    pieces: tuple[Piece, ...]
    shot: int | None = None


@dataclass(frozen=True)
class _Item:
    """A piece on its way to the screen, in bench order."""

    piece: Piece
    keep: bool
    shot: int | None


def fit_step(
    step: Step, shots: Sequence[Shot], planned: Frames, filmed: Sequence[Filmed], rate: Rate, limits: Limits
) -> tuple[FittedStep, tuple[Finding, ...]]:
    """Parts of one step over `planned` frames, or more if what must play at normal speed needs more.

    Without footage each shot is a slate. With footage: kept pieces play at normal speed; a must-show that
    no kept piece answers is a slate at its place; work plays at one common speed, from normal speed to
    `limits.fastest_work`. More work than that: its middle is left out. Less: the last picture is held up
    to `limits.longest_hold`, then a slate stands for the pickup.
    """
    items = _items(filmed)
    missing = [
        s
        for s in shots
        if s.kind is ShotKind.MUST_SHOW and s.index not in {f.shot for f in filmed if f.pieces}
    ]
    findings = [_unfilmed(shot) for shot in missing] if items else []
    if not items:
        return FittedStep(step.id, planned, _all_slates(shots, planned)), ()

    slates = {shot.index: ms_to_frames(shot.length, rate) for shot in missing}
    kept = sum(_normal_frames(item.piece, rate) for item in items if item.keep)
    work = sum((item.piece.length for item in items if not item.keep), Fraction(0))
    fixed = kept + sum(slates.values())
    least = min(nearest(work * rate.exact), nearest(Fraction(_LEAST_WORK_MS, 1000) * rate.exact))
    total = max(planned, fixed + least)
    if total > planned:
        findings.append(_keep_long(step, total - planned, rate))
    room = total - fixed
    if work > 0 and room > 0:
        speed = max(_NORMAL, work * rate.exact / room)
        if speed > limits.fastest_work:
            left = work - limits.fastest_work * room / rate.exact
            findings.append(_left_out(step, left, limits))
            items = _without_middle(items, left)
            speed = limits.fastest_work
    else:
        speed = _NORMAL
        items = [item for item in items if item.keep]
    played = _parts(items, speed, room, rate)
    if not played:  # marks so close together that no frame lies between them
        return FittedStep(step.id, planned, _all_slates(shots, planned)), tuple(findings)
    short = total - sum(slates.values()) - sum(part.frames for part in played)
    parts, pickup = _fill(played, short, step, shots, rate, limits)
    findings += pickup
    return FittedStep(step.id, planned, tuple(_with_slates(parts, missing, slates, rate))), tuple(findings)


def _items(filmed: Sequence[Filmed]) -> list[_Item]:
    ordered = sorted(filmed, key=lambda one: one.span.order)
    return [
        _Item(piece, one.span.kind is SpanKind.KEEP, one.shot)
        for one in ordered
        if one.span.kind is not SpanKind.WAIT
        for piece in one.pieces
    ]


def _all_slates(shots: Sequence[Shot], planned: Frames) -> tuple[Slate, ...]:
    """One slate a shot over the planned frames, cut where the shots change."""
    whole = sum(shot.length for shot in shots)
    slates: list[Slate] = []
    at, done = 0, 0
    for shot in shots:
        at += shot.length
        until = planned if shot is shots[-1] else nearest(Fraction(planned * at, whole))
        if until > done:
            slates.append(Slate(Frames(until - done), shot.index))
        done = until
    return tuple(slates)


def _normal_frames(piece: Piece, rate: Rate) -> Frames:
    return Frames(max(1, seconds_to_frames(piece.length, rate)))


def _without_middle(items: Sequence[_Item], left: Fraction) -> list[_Item]:
    """Take `left` seconds out of the middle of the work."""
    work = sum((item.piece.length for item in items if not item.keep), Fraction(0))
    first, last = (work - left) / 2, (work + left) / 2
    out: list[_Item] = []
    at = Fraction(0)
    for item in items:
        if item.keep:
            out.append(item)
            continue
        piece = item.piece
        begin, end = at, at + piece.length
        at = end
        if begin < first:
            until = min(end, first)
            out.append(
                _Item(Piece(piece.clip, piece.start, piece.start + until - begin, piece.since), False, None)
            )
        if end > last:
            skip = max(begin, last) - begin
            out.append(
                _Item(Piece(piece.clip, piece.start + skip, piece.end, piece.since + skip), False, None)
            )
    return out


def _parts(items: Sequence[_Item], speed: Fraction, room: int, rate: Rate) -> list[Plays]:
    """Play the items; the frames of the work are cut from one running sum, so that no rounding adds up."""
    parts: list[Plays] = []
    at, done = Fraction(0), 0
    for item in items:
        piece = item.piece
        if item.keep:
            frames = _normal_frames(piece, rate)
            parts.append(Plays(frames, piece.clip, piece.start, piece.end, _NORMAL, shot=item.shot))
            continue
        at += piece.length
        until = min(room, nearest(at * rate.exact / speed))
        if until > done:
            count = Frames(until - done)
            parts.append(Plays(count, piece.clip, piece.start, piece.end, speed))
        done = until
    return parts


def _fill(
    parts: list[Plays], short: int, step: Step, shots: Sequence[Shot], rate: Rate, limits: Limits
) -> tuple[list[Plays | Slate], list[Finding]]:
    """Hold the last picture for what is short, and slate the rest."""
    if short <= 0 or not parts:
        return list(parts), []
    longest = ms_to_frames(limits.longest_hold, rate)
    over = max(0, short - longest)
    # A slate that flashes by for less than a shot's shortest time helps nobody: the picture is held instead.
    slate = over if over >= ms_to_frames(limits.shortest_shot, rate) else 0
    hold = short - slate
    last = parts[-1]
    held = Plays(
        Frames(last.frames + hold), last.clip, last.start, last.end, last.speed, Frames(hold), last.shot
    )
    filled: list[Plays | Slate] = [*parts[:-1], held]
    if not over:
        return filled, []
    work = next((shot for shot in shots if shot.kind is not ShotKind.MUST_SHOW), shots[0])
    if slate:
        filled.append(Slate(Frames(slate), work.index, pickup=True))
    seconds = float(over / rate.exact)
    said = f"'{step.title}' has {seconds:.1f} s more words than picture."
    return filled, [
        finding(rules.PICKUP, step.at, said, f"Film a pickup of {ceil(seconds)} s, or trim the words.")
    ]


def _with_slates(
    parts: Sequence[Plays | Slate], missing: Sequence[Shot], slates: dict[int, Frames], rate: Rate
) -> list[Plays | Slate]:
    """Put each unfilmed must-show's slate at its planned place, splitting work but never a kept piece."""
    out = list(parts)
    for shot in sorted(missing, key=lambda s: s.start):
        wanted = ms_to_frames(shot.start, rate)
        out = _insert(out, Slate(slates[shot.index], shot.index), wanted, rate)
    return out


def _insert(parts: list[Plays | Slate], slate: Slate, wanted: int, rate: Rate) -> list[Plays | Slate]:
    at = 0
    for index, part in enumerate(parts):
        inside = wanted - at
        if inside <= 0:
            return [*parts[:index], slate, *parts[index:]]
        if inside < part.frames:
            one_second = nearest(rate.exact)
            splits = (
                isinstance(part, Plays)
                and part.shot is None
                and part.speed != _NORMAL
                and one_second <= inside <= part.frames - part.hold - one_second
            )
            if splits and isinstance(part, Plays):
                cut = part.start + inside / rate.exact * part.speed
                first = Plays(Frames(inside), part.clip, part.start, cut, part.speed)
                second = Plays(Frames(part.frames - inside), part.clip, cut, part.end, part.speed, part.hold)
                return [*parts[:index], first, slate, second, *parts[index + 1 :]]
            nearer_start = inside < part.frames - inside
            here = index if nearer_start else index + 1
            return [*parts[:here], slate, *parts[here:]]
        at += part.frames
    return [*parts, slate]


def _unfilmed(shot: Shot) -> Finding:
    said = (
        f"'{shot.what}' is not filmed: no `keep` mark of the step is covered by {shot.camera or 'a camera'}."
    )
    return finding(rules.UNFILMED, shot.at, said, f"Film a pickup of {shot.length / 1000:.0f} s.")


def _left_out(step: Step, left: Fraction, limits: Limits) -> Finding:
    said = f"'{step.title}' leaves out {float(left):.0f} s of work at {float(limits.fastest_work):g}x."
    return finding(
        rules.LEFT_OUT, step.at, said, "Mark idle time as `wait`, say more, or raise `fastest work`."
    )


def _keep_long(step: Step, over: int, rate: Rate) -> Finding:
    said = f"'{step.title}' plays {float(over / rate.exact):.1f} s longer than its words."
    return finding(rules.KEEP_LONG, step.at, said, "End a keep earlier, or say more.")
