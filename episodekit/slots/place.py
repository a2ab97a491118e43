"""Place reads at boundaries between steps: inside the window, clear of hazards, best at a section's start.

A simple search: each read in turn, each boundary tried, the first of the best taken.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from itertools import accumulate

from episodekit.base.findings import Finding, finding
from episodekit.base.time import Ms, clock
from episodekit.job.contract import Read
from episodekit.job.model import Plan, Step
from episodekit.slots import rules


@dataclass(frozen=True)
class Stretch:
    """A step in screen order with the length it plays, in ms."""

    step: Step
    length: Ms


@dataclass(frozen=True)
class PlacedRead:
    """A read at its place. `before` is the id of the step that follows it, "" at the very end."""

    name: str
    sponsor: str
    start: Ms
    length: Ms
    before: str
    why: str


@dataclass(frozen=True)
class _Candidate:
    index: int
    start: Ms
    miss: Ms
    reasons: tuple[str, ...]
    section_start: bool
    before_payoff: bool


@dataclass(frozen=True)
class _Row:
    """Steps in screen order: when each starts, and how far each boundary lies from the nearest risky step.

    Boundary n lies before step n; the last one lies at the end.
    """

    order: tuple[Stretch, ...]
    starts: tuple[Ms, ...]
    hazards: tuple[tuple[int, Step] | None, ...]


def _row(order: Sequence[Stretch]) -> _Row:
    starts = tuple(Ms(at) for at in accumulate((stretch.length for stretch in order), initial=0))
    back: list[tuple[int, Step] | None] = [None]
    for stretch in order:
        last = back[-1]
        further = None if last is None else (last[0] + stretch.length, last[1])
        back.append((0, stretch.step) if stretch.step.risky else further)
    ahead: list[tuple[int, Step] | None] = [None]
    for stretch in reversed(order):
        last = ahead[-1]
        further = None if last is None else (last[0] + stretch.length, last[1])
        ahead.append((0, stretch.step) if stretch.step.risky else further)
    ahead.reverse()
    near = (
        min((side for side in sides if side is not None), key=lambda side: side[0], default=None)
        for sides in zip(back, ahead, strict=True)
    )
    return _Row(tuple(order), starts, tuple(near))


def place_reads(
    plan: Plan, story: Sequence[Stretch], texts: Sequence[Stretch]
) -> tuple[tuple[Stretch, ...], tuple[PlacedRead, ...], tuple[Finding, ...]]:
    """Insert each read's text into the story.

    Returns everything in screen order, where each read went, and findings. Percents of a window refer to
    the final run time, all reads included. When all stand, each is weighed once more where it stands: a
    later read may have pushed it out of its window.
    """
    order = list(story)
    runtime = Ms(sum(stretch.length for stretch in (*story, *texts)))
    findings: list[Finding] = []
    for text in texts:
        read = plan.front.reads[text.step.read or ""]
        row = _row(order)
        candidates = [
            _weigh(row, index, read, runtime) for index in range(min(1, len(order)), len(order) + 1)
        ]
        wanted = _written_before(plan, text.step, order)

        def worth(c: _Candidate, wanted: int | None = wanted) -> tuple[bool, int, bool, bool, bool, int]:
            return c.miss > 0, c.miss, c.index != wanted, not c.section_start, c.before_payoff, c.index

        best = min(candidates, key=worth)
        if best.miss == 0 and wanted is not None and wanted != best.index:
            findings.append(_moved(text, candidates, wanted, best, order))
        order.insert(best.index, text)
    placed = []
    for text in texts:
        index = order.index(text)
        row = _row([stretch for stretch in order if stretch is not text])
        name = text.step.read or ""
        read = plan.front.reads[name]
        stands = _weigh(row, index, read, runtime)
        if stands.miss > 0:
            findings.append(_no_place(plan, name, stands))
        follower = order[index + 1].step.id if index + 1 < len(order) else ""
        why = _why(stands, row, read, runtime)
        placed.append(PlacedRead(name, read.sponsor, stands.start, text.length, follower, why))
    return tuple(order), tuple(sorted(placed, key=lambda p: p.start)), tuple(findings)


def _written_before(plan: Plan, text: Step, order: Sequence[Stretch]) -> int | None:
    """The boundary at which the creator wrote the read; None if it stands after all of the story."""
    after = False
    for step in plan.all_steps():
        after = after or step.id == text.id
        if after and step.read is None:
            index = next(n for n, stretch in enumerate(order) if stretch.step.id == step.id)
            return index if index > 0 else None
    return None


def _moved(
    text: Stretch, candidates: Sequence[_Candidate], wanted: int, best: _Candidate, order: Sequence[Stretch]
) -> Finding:
    written = next(c for c in candidates if c.index == wanted)
    where = f"before '{order[best.index].step.title}'" if best.index < len(order) else "to the end"
    said = f"The read was moved {where}: where it was written, {'; '.join(written.reasons)}."
    remedy = "Move the section, or change the read's terms, to have it there."
    return finding(rules.MOVED, text.step.at, said, remedy)


def _weigh(row: _Row, index: int, read: Read, runtime: Ms) -> _Candidate:
    """How a read would stand at a boundary; `miss` is by how many ms its terms are broken."""
    start = row.starts[index]
    reasons: list[str] = []
    miss = 0
    if read.starts is not None:
        low, high = read.starts.low.at(runtime), read.starts.high.at(runtime)
        outside = max(low - start, start - high, 0)
        if low > high:
            miss += low - high
            reasons.append(f"its window is empty: {read.starts} is {clock(low)} to {clock(high)} here")
        elif outside:
            miss += outside
            reasons.append(f"it would start at {clock(start)}, outside {clock(low)} to {clock(high)}")
    clear = read.keep_clear_of.hazard
    near = row.hazards[index]
    if near is not None and near[0] < clear:
        miss += clear - near[0]
        reasons.append(f"'{near[1].title}' is {near[0] / 1000:g} s away, and {clear / 1000:g} s are asked")
    following = row.order[index].step if index < len(row.order) else None
    previous = row.order[index - 1].step if index else None
    return _Candidate(
        index=index,
        start=start,
        miss=Ms(miss),
        reasons=tuple(reasons),
        section_start=following is not None
        and previous is not None
        and following.section != previous.section,
        before_payoff=following is not None and bool(following.answers),
    )


def _why(stands: _Candidate, row: _Row, read: Read, runtime: Ms) -> str:
    where = (
        f"before '{row.order[stands.index].step.title}'" if stands.index < len(row.order) else "at the end"
    )
    if stands.miss:
        return f"{where}: the nearest miss: {'; '.join(stands.reasons)}"
    reasons = ["a section starts there"] if stands.section_start else []
    if read.starts is not None:
        low, high = read.starts.low.at(runtime), read.starts.high.at(runtime)
        reasons.append(f"{clock(stands.start)} lies in the window {clock(low)} to {clock(high)}")
    near = row.hazards[stands.index]
    if near is not None and read.keep_clear_of.hazard:
        reasons.append(f"the nearest hazard, '{near[1].title}', is {near[0] / 1000:.0f} s away")
    return f"{where}: {'; '.join(reasons) or 'the first boundary'}"


def _no_place(plan: Plan, name: str, stands: _Candidate) -> Finding:
    said = (
        f"No boundary suits the read '{name}'; the nearest miss is {clock(stands.start)}: "
        f"{'; '.join(stands.reasons)}."
    )
    remedy = "Widen `starts`, lower `keep clear of`, or split or move a step."
    return finding(rules.NO_PLACE, plan.where("reads", name, "starts"), said, remedy)
