"""What was remarked at the bench: notes, problems and readings, each with the step it belongs to."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass

from episodekit.bench.model import MOVES, Kind, PlacedMark

_REMARKS = (Kind.NOTE, Kind.PROBLEM, Kind.READING)


@dataclass(frozen=True)
class Remark:
    """A remark as written, and the id of its step; "" between steps."""

    step: str
    kind: Kind
    text: str


def remarks_of(marks: Sequence[PlacedMark], steps: Iterable[str]) -> tuple[Remark, ...]:
    """The remarks in the order of their times on each clock. One that names no step belongs to the open one.

    Those of an attempt that a retake voids stay: what went wrong is worth telling.
    """
    known = set(steps)
    found: list[Remark] = []
    for clock in sorted({placed.moment.clock for placed in marks}):
        own = (placed for placed in marks if placed.moment.clock == clock)
        step = ""
        for placed in sorted(own, key=lambda one: one.moment.seconds):
            mark = placed.mark
            if mark.step and mark.step not in known:
                continue
            if mark.kind in _REMARKS and mark.text:
                found.append(Remark(mark.step or step, mark.kind, mark.text))
            elif mark.kind in MOVES:
                step = "" if mark.kind is Kind.DONE else mark.step or step
    return tuple(found)
