"""A step's parts from what the optimum bought for it: kept at normal speed, work at one speed, holds, slates."""

from __future__ import annotations

from collections.abc import Sequence
from fractions import Fraction
from itertools import groupby
from math import ceil

from episodekit.base.findings import Finding, finding
from episodekit.base.time import Frames, Ms, Rate, clock, ms_to_frames, nearest, seconds_to_ms
from episodekit.bench.model import SpanKind
from episodekit.fit import rules
from episodekit.fit.case import Case, Item, normal_frames
from episodekit.fit.model import FittedStep, Plays, Slate
from episodekit.fit.optimum import Bought
from episodekit.footage.cover import Piece
from episodekit.job.model import Limits
from episodekit.shots.model import Shot, ShotKind

_NORMAL = Fraction(1)
ACTION = Fraction(1, 2)
"""Seconds on screen that an action needs at least to be seen. Common practice, no source."""


def parts_of(
    case: Case, bought: Bought, rate: Rate, limits: Limits
) -> tuple[FittedStep, tuple[Finding, ...]]:
    """Play what was bought, `bought.total` frames in all, and say what a creator should know.

    Work plays at one common speed, never beyond its legible one: what does not fit is left out, from the
    middle, and so are whole runs that would get less than a ramp needs. Waits play only if they were bought.
    """
    step, planned = case.step, case.planned
    if not case.items:
        return FittedStep(step.id, planned, _all_slates(case.shots, Frames(bought.total), rate)), ()
    findings = [_unfilmed(shot, case, rate) for shot in case.missing]
    work, wait = sum(bought.frames[:4]), sum(bought.frames[4:6])  # in the order of Case.demand.offers
    items = [
        item for item in case.items if item.kind is SpanKind.KEEP or (item.kind is SpanKind.WORK and work)
    ]
    filmed = sum((item.piece.length for item in case.items if item.kind is SpanKind.WORK), Fraction(0))
    items, left = _legible(items, work, case, rate, limits) if work else (items, filmed)
    items = _without_slivers(items, work, rate)
    if left > 2:
        findings.append(_left_out(case, left))
    if wait:
        waits = [item for item in case.items if item.kind is SpanKind.WAIT]
        whole = sum((item.piece.length for item in waits), Fraction(0))
        most = limits.curing.high * wait / rate.exact
        waits = _without_middle(waits, whole - most, SpanKind.WAIT) if whole > most else waits
        items = sorted([*items, *waits], key=lambda item: _rank(item, case))
    played = _parts(items, {SpanKind.WORK: work, SpanKind.WAIT: wait}, rate)
    if not played:  # marks so close together that no frame lies between them
        return FittedStep(step.id, planned, _all_slates(case.shots, Frames(bought.total), rate)), tuple(
            findings
        )
    short = bought.total - sum(case.slates.values()) - sum(part.frames for part in played)
    parts, pickup = _fill(played, short, case, rate, limits)
    findings += pickup
    if bought.total > planned + nearest(rate.exact):
        findings.append(_longer(case, bought.total - planned, rate))
    return FittedStep(step.id, planned, tuple(_with_slates(parts, case, rate))), tuple(findings)


def _rank(item: Item, case: Case) -> tuple[int, Fraction]:
    """Bench order of a piece that may have been cut from one of the case's."""
    for number, other in enumerate(case.items):
        piece, whole = item.piece, other.piece
        if piece.clip == whole.clip and other.kind is item.kind and whole.start <= piece.start < whole.end:
            return number, piece.start
    return len(case.items), item.piece.start


def _legible(
    items: list[Item], frames: int, case: Case, rate: Rate, limits: Limits
) -> tuple[list[Item], Fraction]:
    """The items with the work cut to what `frames` can show legibly, and the seconds left out."""
    most = case.speeds.high * frames / rate.exact
    runs = [list(run) for kind, run in groupby(items, key=lambda item: item.kind) if kind is SpanKind.WORK]
    lengths = [sum((item.piece.length for item in run), Fraction(0)) for run in runs]
    whole = sum(lengths, Fraction(0))
    room = max(1, frames // max(1, ms_to_frames(limits.ramp, rate)))
    if len(runs) > room and whole * rate.exact > frames:
        keep = _best_runs(lengths, room)
        if sum((lengths[n] for n in keep), Fraction(0)) * rate.exact >= frames:
            dropped = {id(item) for n, run in enumerate(runs) if n not in keep for item in run}
            items = [item for item in items if id(item) not in dropped]
    kept = sum((item.piece.length for item in items if item.kind is SpanKind.WORK), Fraction(0))
    if kept > most:
        items = _without_middle(items, kept - most, SpanKind.WORK)
    return items, whole - min(kept, most)


def _without_slivers(items: list[Item], frames: int, rate: Rate) -> list[Item]:
    """Leave out pieces of work that would flash by for less than half a second, if the others can fill in."""
    work = [item for item in items if item.kind is SpanKind.WORK]
    whole = sum((item.piece.length for item in work), Fraction(0))
    if not frames or not whole:
        return items
    speed = max(_NORMAL, whole * rate.exact / frames)
    short = {id(item) for item in work if item.piece.length / speed < ACTION}
    rest = whole - sum((item.piece.length for item in work if id(item) in short), Fraction(0))
    return [item for item in items if id(item) not in short] if rest * rate.exact >= frames else items


def _best_runs(lengths: Sequence[Fraction], room: int) -> set[int]:
    """The last run, which shows the result, the first, and then the longest."""
    order = [len(lengths) - 1, 0, *sorted(range(len(lengths)), key=lambda n: (-lengths[n], n))]
    return set(list(dict.fromkeys(order))[:room])


def _without_middle(items: Sequence[Item], left: Fraction, kind: SpanKind) -> list[Item]:
    """Take `left` seconds out of the middle of a kind: how it begins and how it ends tell the most."""
    work = sum((item.piece.length for item in items if item.kind is kind), Fraction(0))
    first, last = (work - left) / 2, (work + left) / 2
    out: list[Item] = []
    at = Fraction(0)
    for item in items:
        if item.kind is not kind:
            out.append(item)
            continue
        piece = item.piece
        begin, end = at, at + piece.length
        at = end
        if begin < first:
            until = piece.start + min(end, first) - begin
            out.append(Item(Piece(piece.clip, piece.start, until, piece.since), item.kind, None))
        if end > last:
            skip = max(begin, last) - begin
            out.append(
                Item(Piece(piece.clip, piece.start + skip, piece.end, piece.since + skip), item.kind, None)
            )
    return out


def _parts(items: Sequence[Item], room: dict[SpanKind, int], rate: Rate) -> list[Plays]:
    """Play the items; the frames of each kind are cut from one running sum, so that no rounding adds up."""
    whole = {
        kind: sum((item.piece.length for item in items if item.kind is kind), Fraction(0)) for kind in room
    }
    speed = {
        kind: max(_NORMAL, whole[kind] * rate.exact / frames) if frames else _NORMAL
        for kind, frames in room.items()
    }
    parts: list[Plays] = []
    at, done = dict.fromkeys(room, Fraction(0)), dict.fromkeys(room, 0)
    for item in items:
        piece, kind = item.piece, item.kind
        if kind is SpanKind.KEEP:
            frames = normal_frames(piece, rate)
            parts.append(Plays(frames, piece.clip, piece.start, piece.end, _NORMAL, shot=item.shot))
            continue
        at[kind] += piece.length
        until = min(room[kind], nearest(at[kind] * rate.exact / speed[kind]))
        if until > done[kind]:
            count = Frames(until - done[kind])
            parts.append(Plays(count, piece.clip, piece.start, piece.end, speed[kind]))
        done[kind] = until
    return parts


def _fill(
    parts: list[Plays], short: int, case: Case, rate: Rate, limits: Limits
) -> tuple[list[Plays | Slate], list[Finding]]:
    """Hold the last picture for what is short, and slate the rest."""
    if short <= 0:
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
    work = next((shot for shot in case.shots if shot.kind is not ShotKind.MUST_SHOW), case.shots[0])
    if slate:
        filled.append(Slate(Frames(slate), work.index, pickup=True))
    seconds = float(over / rate.exact)
    said = f"'{case.step.title}' has {seconds:.1f} s more words than picture."
    remedy = f"Film a pickup of {ceil(seconds)} s, or trim the words."
    return filled, [finding(rules.PICKUP, case.step.at, said, remedy)]


def _all_slates(shots: Sequence[Shot], total: Frames, rate: Rate) -> tuple[Slate, ...]:
    """One slate a shot, cut where the shots change as planned; the last one lasts to `total`."""
    slates: list[Slate] = []
    done = 0
    for shot in shots:
        until = total if shot is shots[-1] else min(total, ms_to_frames(Ms(shot.start + shot.length), rate))
        if until > done:
            slates.append(Slate(Frames(until - done), shot.index))
        done = max(done, until)
    return tuple(slates)


def _with_slates(parts: Sequence[Plays | Slate], case: Case, rate: Rate) -> list[Plays | Slate]:
    """Put each unfilmed must-show's slate at its planned place, splitting work but never a kept piece."""
    out = list(parts)
    for shot in sorted(case.missing, key=lambda s: s.start):
        wanted = ms_to_frames(shot.start, rate)
        out = _insert(out, Slate(case.slates[shot.index], shot.index), wanted, rate)
    return out


def _insert(parts: list[Plays | Slate], slate: Slate, wanted: int, rate: Rate) -> list[Plays | Slate]:
    at = 0
    for index, part in enumerate(parts):
        inside = wanted - at
        if inside <= 0:
            return [*parts[:index], slate, *parts[index:]]
        if inside < part.frames:
            one_second = nearest(rate.exact)
            if (
                isinstance(part, Plays)
                and part.shot is None
                and part.speed != _NORMAL
                and one_second <= inside <= part.frames - part.hold - one_second
            ):
                cut = part.start + inside / rate.exact * part.speed
                first = Plays(Frames(inside), part.clip, part.start, cut, part.speed)
                second = Plays(Frames(part.frames - inside), part.clip, cut, part.end, part.speed, part.hold)
                return [*parts[:index], first, slate, second, *parts[index + 1 :]]
            here = index if inside < part.frames - inside else index + 1
            return [*parts[:here], slate, *parts[here:]]
        at += part.frames
    return [*parts, slate]


def _unfilmed(shot: Shot, case: Case, rate: Rate) -> Finding:
    said = (
        f"'{shot.what}' is not filmed: no `keep` mark of the step is covered by {shot.camera or 'a camera'}."
    )
    seconds = float(case.slates[shot.index] / rate.exact)
    return finding(rules.UNFILMED, shot.at, said, f"Film a pickup of {seconds:g} s.")


def _left_out(case: Case, left: Fraction) -> Finding:
    said = f"'{case.step.title}' leaves out {clock(seconds_to_ms(left))} of its work."
    remedy = f"Mark idle time as `wait`, say more, or raise `{case.step.work.value}` in `limits`."
    return finding(rules.LEFT_OUT, case.step.at, said, remedy)


def _longer(case: Case, over: int, rate: Rate) -> Finding:
    said = f"'{case.step.title}' plays {float(over / rate.exact):.1f} s longer than its words."
    if any(item.kind is SpanKind.KEEP for item in case.items):
        remedy = "End a keep earlier, or say more."
    elif case.missing:
        remedy = "Its must-shows need that long."
    else:
        remedy = "It was lengthened to reach the run time; `limits: {open stretch: 0 s}` forbids that."
    return finding(rules.LONGER, case.step.at, said, remedy)


def answer_of(fitted: FittedStep, case: Case, rate: Rate, limits: Limits) -> str:
    """What the fit does with a step, in a creator's words: keep, ramp, cut, hold, pickup, film."""
    plays = [part for part in fitted.parts if isinstance(part, Plays)]
    seconds = {True: 0.0, False: 0.0}
    for part in fitted.parts:
        if isinstance(part, Slate):
            seconds[part.pickup] += float(part.frames / rate.exact)
    words: list[str] = []
    if any(part.speed < Fraction(21, 20) for part in plays):
        kept = any(item.kind is SpanKind.KEEP for item in case.items)
        words.append("keep" if kept else "normal speed")
    fastest = max((part.speed for part in plays), default=_NORMAL)
    if fastest >= Fraction(21, 20):
        words.append(f"ramp {float(fastest):.1f}x")
    shown = sum((part.end - part.start for part in plays), Fraction(0))
    have = sum((item.piece.length for item in case.items if item.kind is not SpanKind.WAIT), Fraction(0))
    if case.items and have - shown > 2:
        words.append(f"cut {clock(Ms(seconds_to_ms(have - shown)))}")
    held = sum(part.hold for part in plays)
    if held:
        words.append(f"hold {float(held / rate.exact):.1f} s")
    too_long = held - ms_to_frames(limits.longest_hold, rate)
    if too_long > 0 and not seconds[True]:
        seconds[True] = float(too_long / rate.exact)
    if seconds[True]:
        words.append(f"pickup needed: {ceil(seconds[True])} s of {case.step.title}")
    if seconds[False] and case.missing:
        shots = ", ".join(shot.what for shot in case.missing)
        words.append(f"pickup needed: {ceil(seconds[False])} s of {shots}")
    elif seconds[False]:
        words.append(f"film {ceil(seconds[False])} s")
    return "; ".join(words)
