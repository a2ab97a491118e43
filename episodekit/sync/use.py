"""What steps use of the clips, and what of the steps nobody filmed: by the same spans as the cut."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from fractions import Fraction

from episodekit.base.time import Seconds
from episodekit.bench.model import WALL, Span, SpanKind
from episodekit.footage.model import PlacedClip

LEAST_GAP = Seconds(1)
"""A step that nobody filmed for no longer is filmed: a hand starts a camera while the other presses. Common practice,
no source."""

Stretch = tuple[Seconds, Seconds]
"""From and to, in seconds since 1970 UTC, half-open."""


@dataclass(frozen=True)
class Gap:
    """Logged work of a step for which no camera was running; `whole` if that is all of it. `stretches` are in order."""

    step: str
    whole: bool
    stretches: tuple[Stretch, ...]

    @property
    def length(self) -> Seconds:
        """Seconds that nobody filmed."""
        return sum((end - start for start, end in self.stretches), Fraction(0))


def gaps(spans: Sequence[Span], clips: Sequence[PlacedClip]) -> tuple[Gap, ...]:
    """Steps that were logged while no camera was running, by when that began. Waits need no camera."""
    ran = _running(clips)
    missing: dict[str, list[Stretch]] = {}
    filmed: set[str] = set()
    for span in spans:
        if span.kind is SpanKind.WAIT:
            continue
        if span.start.clock != WALL:
            filmed.add(span.step)  # it was marked in a clip
            continue
        begin = span.start.seconds
        if span.end is None:  # how long it lasted nobody knows
            bare = [] if any(first <= begin < last for first, last in ran) else [(begin, begin)]
            some = not bare
        else:
            bare = _without((begin, span.end.seconds), ran)
            some = bare != [(begin, span.end.seconds)]
        missing.setdefault(span.step, []).extend(bare)
        if some:
            filmed.add(span.step)
    found = [Gap(step, step not in filmed, _joined(bare)) for step, bare in missing.items() if bare]
    told = [gap for gap in found if gap.whole or gap.length > LEAST_GAP]
    return tuple(sorted(told, key=lambda gap: gap.stretches[0]))


def used(clips: Iterable[PlacedClip], spans: Sequence[Span]) -> frozenset[str]:
    """The paths of the clips that a span of a step falls into."""
    return frozenset(one.clip.path for one in clips if any(_meets(one, span) for span in spans))


def _meets(one: PlacedClip, span: Span) -> bool:
    if span.start.clock != WALL:
        return span.start.clock == one.clip.path
    if one.start is None or one.end is None:
        return False
    if span.end is None:
        return one.start <= span.start.seconds < one.end
    return span.start.seconds < one.end and one.start < span.end.seconds


def _running(clips: Iterable[PlacedClip]) -> tuple[Stretch, ...]:
    """When any camera was running."""
    return _joined((c.start, c.end) for c in clips if c.start is not None and c.end is not None)


def _joined(stretches: Iterable[Stretch]) -> tuple[Stretch, ...]:
    """In order, and as one what meets or overlaps."""
    found: list[Stretch] = []
    for start, end in sorted(stretches):
        if found and start <= found[-1][1]:
            found[-1] = found[-1][0], max(end, found[-1][1])
        else:
            found.append((start, end))
    return tuple(found)


def _without(whole: Stretch, ran: Sequence[Stretch]) -> list[Stretch]:
    """What of a stretch no other covers."""
    at, end = whole
    found: list[Stretch] = []
    for first, last in ran:
        if last <= at:
            continue
        if first >= end:
            break
        if first > at:
            found.append((at, first))
        at = last
    return [*found, (at, end)] if at < end else found
