"""Which boxes of which clips nobody may see, and from when to when.

In doubt more is hidden: a box that moves is hidden on its whole way, a camera's clock counts as off by as much as it
may be, and a clip whose place in time is not known is hidden all through.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass
from fractions import Fraction

from episodekit.base.box import Box
from episodekit.base.findings import Finding, did_you_mean, finding
from episodekit.base.place import Place
from episodekit.base.time import Seconds
from episodekit.bench import rules as log_rules
from episodekit.bench.model import WALL, Kind, Moment, PlacedMark
from episodekit.footage import rules
from episodekit.footage.cameras import BY_HAND_WITHIN, UNCHECKED_WITHIN, clock_by_hand
from episodekit.footage.model import PlacedClip
from episodekit.job import rules as job_rules
from episodekit.job.model import Plan

CLOCK_STEP = Seconds(1)
"""Most cameras write their creation time in whole seconds, so two clips of one lie within a second of each other."""


@dataclass(frozen=True)
class Private:
    """A box that is hidden in a clip, `start` to `end` seconds from its first frame, half-open.

    Its margins in time and in the picture are part of it; those counted in frames are added where it is rendered.
    """

    clip: str
    start: Seconds
    end: Seconds
    box: Box
    what: str = ""


@dataclass(frozen=True)
class _Span:
    """A box from one moment to another on the same clock; `who` is a camera's name, or a clip's path."""

    who: str
    box: Box
    start: Moment
    end: Moment | None
    what: str
    at: Place


def private_in(
    marks: Sequence[PlacedMark], clips: Sequence[PlacedClip], plan: Plan
) -> tuple[tuple[Private, ...], tuple[Finding, ...]]:
    """What the log and the front matter hide, clip by clip, and what is wrong with it."""
    spans, findings = _spans(marks, clips, plan)
    found: list[Private] = []
    unchecked: set[str] = set()
    for span in spans:
        private = [*_in_clips(span, clips, plan, findings, unchecked)]
        if not private and clips:
            said = f"No clip of '{span.who}' shows the time of this mark, so nothing is hidden by it."
            findings.append(
                finding(rules.PRIVATE_UNFILMED, span.at, said, "Check the time and the camera's clock.")
            )
        found += private
    found += _always(clips, plan, findings)
    order = sorted(set(found), key=lambda p: (p.clip, p.start, p.end, p.box.left, p.box.top, p.what))
    return tuple(order), tuple(findings)


def _spans(
    marks: Sequence[PlacedMark], clips: Sequence[PlacedClip], plan: Plan
) -> tuple[list[_Span], list[Finding]]:
    """Spans from private marks: each until a public mark, or the next private one of the same name."""
    cameras = {placed.clip.path: placed.camera or placed.clip.path for placed in clips}
    found: list[_Span] = []
    findings: list[Finding] = []
    for clock in sorted({mark.moment.clock for mark in marks}):
        own = [m for m in marks if m.moment.clock == clock and m.mark.kind in (Kind.PRIVATE, Kind.PUBLIC)]
        opened: dict[tuple[str, str], PlacedMark] = {}
        for placed in sorted(own, key=lambda m: m.moment.seconds):
            mark = placed.mark
            who = _whose(placed, cameras, plan)
            if isinstance(who, Finding):
                findings.append(who)
            elif mark.kind is Kind.PRIVATE:
                before = opened.pop((who, mark.text), None)
                if before is not None:
                    found.append(_until(who, before, placed))
                opened[who, mark.text] = placed
            else:
                ended = [key for key in opened if who in ("", key[0]) and mark.text in ("", key[1])]
                found += [_until(key[0], opened.pop(key), placed) for key in ended]
                if not ended:
                    said = "Nothing is private here" + (
                        f" under the name '{mark.text}'." if mark.text else "."
                    )
                    remedy = "Give it the camera and the text of the private mark, or take it out."
                    findings.append(finding(log_rules.PUBLIC, mark.at, said, remedy))
        for (who, what), placed in opened.items():
            said = f"'{what or 'This'}' is never public again; it is hidden to the end of what '{who}' films."
            findings.append(finding(log_rules.PRIVATE_OPEN, placed.mark.at, said, "Append a `public` mark."))
            found.append(_until(who, placed, None))
    return found, findings


def _until(who: str, first: PlacedMark, last: PlacedMark | None) -> _Span:
    box, end = first.mark.box, None if last is None else last.moment
    assert box is not None
    if last is not None and last.mark.box is not None:
        box = box.around(last.mark.box)
    return _Span(who, box, first.moment, end, first.mark.text, first.mark.at)


def _whose(placed: PlacedMark, cameras: dict[str, str], plan: Plan) -> str | Finding:
    """The camera of a mark, or the clip if that belongs to none; "" is any camera, for a public mark."""
    mark, known = placed.mark, plan.front.cameras
    hides = mark.kind is Kind.PRIVATE
    own = None if placed.moment.clip is None else cameras[placed.moment.clip]
    if mark.camera:
        if mark.camera not in known:
            rule = log_rules.PRIVATE if hides else log_rules.PUBLIC
            said = f"There is no camera '{mark.camera}'."
            return finding(rule, mark.at, said, did_you_mean(mark.camera, known))
        if own not in (None, mark.camera) and hides:
            said = f"The clip of this mark is of '{own}', not of '{mark.camera}'."
            return finding(
                log_rules.PRIVATE, mark.at, said, "Correct the camera or the clip, or leave the camera out."
            )
        return mark.camera
    if own is not None:
        return own
    if hides:
        if len(known) == 1:
            return next(iter(known))
        said = "It does not say on which camera."
        return finding(
            log_rules.PRIVATE, mark.at, said, 'Add "camera": "...", or write the time as a place in a clip.'
        )
    return ""


def _in_clips(
    span: _Span, clips: Iterable[PlacedClip], plan: Plan, findings: list[Finding], unchecked: set[str]
) -> Iterator[Private]:
    limits = plan.front.limits
    box, extra = span.box.grown(limits.private_margin), Fraction(limits.private_extra, 1000)
    for placed in clips:
        path, length = placed.clip.path, placed.clip.duration
        if span.who not in (placed.camera, path):
            continue
        zero = placed.start if span.start.clock == WALL else Fraction(0)
        if span.start.clock not in (WALL, path):
            continue
        if zero is None and span.start.clip is not None:
            continue  # the mark lies in another clip
        if zero is None:
            said = (
                f"It cannot be told where this mark lies in {path}; the box is hidden all through that clip."
            )
            remedy = f"Log it as `{path.rpartition('/')[2]} @ 0:12.5`."
            findings.append(finding(rules.PRIVATE_WHOLE, span.at, said, remedy))
            yield Private(path, Seconds(0), length, box, span.what)
            continue
        pace = placed.pace if span.start.clock == WALL else Fraction(1)
        before = _loose(span.start, placed, plan)
        after = before if span.end is None else _loose(span.end, placed, plan)
        start, end = (span.start.seconds - zero) / pace - extra - before, length
        if span.end is not None:
            end = (span.end.seconds - zero) / pace + extra + after
        if start < length and end > 0:
            if max(before, after) == UNCHECKED_WITHIN and span.who not in unchecked:
                unchecked.add(span.who)
                findings.append(_told_unchecked(span))
            yield Private(path, max(Fraction(0), start), min(length, end), box, span.what)


def _told_unchecked(span: _Span) -> Finding:
    said = f"Nothing checks the clock of '{span.who}', so the box is hidden {UNCHECKED_WITHIN} s longer on either side."
    remedy = "To hide less, log it as a place in the clip (`clip @ 0:12.5`), run `episodekit sync`, or set `clock:`."
    return finding(rules.PRIVATE_UNCHECKED, span.at, said, remedy)


def _loose(moment: Moment, placed: PlacedClip, plan: Plan) -> Seconds:
    """How far off a moment may lie in a clip: not at all if it was given there. Never less than a clock's step."""
    if placed.clip.path in (moment.clip, moment.clock):
        return Seconds(0)
    if placed.within is not None:
        return max(CLOCK_STEP, placed.within)
    if moment.clip is not None:
        return CLOCK_STEP
    return UNCHECKED_WITHIN if clock_by_hand(placed.camera, plan) is None else BY_HAND_WITHIN


def _always(clips: Sequence[PlacedClip], plan: Plan, findings: list[Finding]) -> Iterator[Private]:
    """What the front matter hides in whole clips."""
    for name, hidden in plan.front.private.items():
        box = hidden.box.grown(plan.front.limits.private_margin)
        own = [p for p in clips if hidden.camera == p.camera or (hidden.clip and _named(p, hidden.clip))]
        if hidden.clip is not None and clips and not own:
            names = [p.clip.path.rpartition("/")[2] for p in clips]
            said = f"There is no clip '{hidden.clip}' in footage/."
            at = plan.where("private", name, "clip")
            findings.append(finding(job_rules.PRIVATE, at, said, did_you_mean(hidden.clip, names)))
        for placed in own:
            yield Private(placed.clip.path, Seconds(0), placed.clip.duration, box, name)


def _named(placed: PlacedClip, name: str) -> bool:
    return placed.clip.path == name or placed.clip.path.endswith("/" + name)
