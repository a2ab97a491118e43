"""Which spans of the log answer which shots, and with which footage."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from fractions import Fraction

from episodekit.base.findings import Finding, finding
from episodekit.base.time import Ms, lasting, ms_to_seconds, seconds_to_ms
from episodekit.bench.model import WALL, Span, SpanKind
from episodekit.fit.case import Filmed, Near
from episodekit.footage import rules
from episodekit.footage.cover import LEAST_GAP, cover
from episodekit.footage.model import PlacedClip
from episodekit.job.model import Plan, Step
from episodekit.shots.model import Shot, ShotKind


def match_step(
    step: Step, shots: Sequence[Shot], spans: Sequence[Span], clips: Sequence[PlacedClip], plan: Plan
) -> tuple[tuple[Filmed, ...], Mapping[int, Near], tuple[Finding, ...]]:
    """The step's `spans` with their footage, and how near each must-show came that has none.

    Each must-show takes the first free keep span that its camera covers; it may run longer than asked, but
    if it is shorter the must-show stays unfilmed. Planned b-roll takes the b-roll span whose text names it,
    else the first free one that its camera covers. Other spans are shown by the step's camera, or by
    another one if that has nothing.
    """
    main = step.camera or next(iter(plan.front.cameras), None)
    own = list(spans)
    taken: dict[int, Filmed] = {}
    for shot in shots:
        if shot.kind is not ShotKind.MUST_SHOW:
            continue
        for index, span in enumerate(own):
            if index in taken or span.kind is not SpanKind.KEEP:
                continue
            found = cover(span, shot.camera or main, clips, others=shot.camera == "")
            length = sum((piece.length for piece in found.pieces), Fraction(0))
            asked = ms_to_seconds(shot.asked or Ms(0))
            # A mark is pressed by a busy hand: a tenth of a second short is still the shot.
            if found.pieces and length >= asked - Fraction(1, 10):
                taken[index] = Filmed(span, found.pieces, shot.index)
                break
    filled = {one.shot for one in taken.values()}
    near = {
        shot.index: _near(shot, main, own, taken, clips)
        for shot in shots
        if shot.kind is ShotKind.MUST_SHOW and shot.index not in filled
    }
    _match_b_roll(shots, own, taken, main, clips)
    filmed: list[Filmed] = []
    findings: list[Finding] = []
    for index, span in enumerate(own):
        if index in taken:
            filmed.append(taken[index])
            continue
        found = cover(span, main, clips)
        filmed.append(Filmed(span, found.pieces))
        if span.kind is SpanKind.WAIT:
            continue
        if found.missing > 0 and found.pieces:
            said = f"The footage of '{step.title}' lacks {lasting(seconds_to_ms(found.missing))} of what was logged."
            remedy = f"{_look(main, clips).capitalize()}, or film a pickup."
            findings.append(finding(rules.UNCOVERED, span.at, said, remedy))
        if found.filled:
            names = ", ".join(name or "a clip of no camera" for name in found.filled)
            said = f"'{step.title}' is shown from {names} where {main or 'no camera'} was not running."
            remedy = f"Nothing to do, unless that camera was: then {_look(main, clips)}."
            findings.append(finding(rules.OTHER_CAMERA, span.at, said, remedy))
        if found.pieces and found.camera != main and span.kind is not SpanKind.B_ROLL:
            shown = found.camera or found.pieces[0].clip
            said = f"'{step.title}' is shown from {shown} instead of {main or 'no camera'}."
            findings.append(
                finding(
                    rules.OTHER_CAMERA,
                    span.at,
                    said,
                    f"Add `- camera: {found.camera or '...'}` if that is meant.",
                )
            )
    bare = [one.span for one in filmed if not one.pieces and one.span.kind is not SpanKind.WAIT]
    if len(bare) < len(filmed):
        bare = [span for span in bare if not _brief(span)]
    if bare:
        part = "" if len(bare) == len(filmed) else "part of "
        said = f"No clip covers {part}'{step.title}' as logged."
        findings.append(finding(rules.UNCOVERED, bare[0].at, said, _how_far(bare[0], main, clips)))
    return tuple(filmed), near, tuple(findings)


def _brief(span: Span) -> bool:
    """Whether it is so short that nobody misses it, as between two buttons that were pressed at once."""
    return span.end is not None and span.end.seconds - span.start.seconds < LEAST_GAP


def _near(
    shot: Shot,
    main: str | None,
    spans: Sequence[Span],
    taken: Mapping[int, Filmed],
    clips: Sequence[PlacedClip],
) -> Near:
    """What the shot's camera has of the step."""
    kept = ran = Fraction(0)
    for index, span in enumerate(spans):
        if span.kind not in (SpanKind.KEEP, SpanKind.WORK):
            continue
        found = cover(span, shot.camera or main, clips, others=shot.camera == "")
        length = sum((piece.length for piece in found.pieces), Fraction(0))
        ran += length
        if span.kind is SpanKind.KEEP and index not in taken:
            kept = max(kept, length)
    return Near(kept, ran)


def _match_b_roll(
    shots: Sequence[Shot],
    spans: Sequence[Span],
    taken: dict[int, Filmed],
    main: str | None,
    clips: Sequence[PlacedClip],
) -> None:
    """Give each planned b-roll its span; first by name, so that two cutaways may be filmed in any order."""
    left = [shot for shot in shots if shot.kind is ShotKind.B_ROLL]
    for by_name in (True, False):
        for shot in list(left):
            for index, span in enumerate(spans):
                if index in taken or span.kind is not SpanKind.B_ROLL:
                    continue
                if by_name and _plain(span.text) != _plain(shot.what):
                    continue
                found = cover(span, shot.camera or main, clips, others=shot.camera == "")
                if found.pieces:
                    taken[index] = Filmed(span, found.pieces, shot.index)
                    left.remove(shot)
                    break


def _plain(text: str) -> str:
    return " ".join(text.casefold().split()).rstrip(".")


def _how_far(span: Span, camera: str | None, clips: Sequence[PlacedClip]) -> str:
    """What to check, with the distance to the camera's nearest clip, which is the error of a wrong clock."""
    if not clips:
        return "Put the clips into footage/."
    gaps = []
    for placed in clips:
        if placed.camera == camera and placed.start is not None and span.start.clock == WALL:
            end = placed.start + placed.clip.duration * placed.pace
            gaps.append((placed.start - span.start.seconds, "starts {} after it"))
            gaps.append((span.start.seconds - end, "ends {} before it"))
    gaps = [gap for gap in gaps if gap[0] >= 0]
    if not gaps:
        return f"{_look(camera, clips).capitalize()}, or film a pickup."
    far, words = min(gaps, key=lambda gap: gap[0])
    away = words.format(lasting(seconds_to_ms(far)))
    return f"The nearest clip of {camera} {away}: {_look(camera, clips)}, or film a pickup."


def _look(camera: str | None, clips: Sequence[PlacedClip]) -> str:
    """What to do about a camera's clock."""
    if _synced(camera, clips):
        return "look at out/sync.html"
    return "check the camera's clock with `episodekit sync`"


def _synced(camera: str | None, clips: Sequence[PlacedClip]) -> bool:
    """Whether sync put the camera's clips where they lie, so that its `clock:` moves none of them."""
    by_file = any(one.camera == camera and one.start is not None and one.within is None for one in clips)
    return not by_file and any(one.within is not None for one in clips)
