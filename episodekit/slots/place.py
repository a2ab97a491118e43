"""Place reads at boundaries between steps: inside the window, clear of hazards, best at a section's start.

A simple search: each read in turn, each boundary tried, the first of the best taken.
"""

from __future__ import annotations

import re
from collections.abc import Sequence
from dataclasses import dataclass
from math import ceil

from episodekit.base.findings import Finding, finding
from episodekit.base.text import counted
from episodekit.base.time import Ms, clock
from episodekit.job.model import Plan, Read, Step
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


def place_reads(
    plan: Plan, story: Sequence[Stretch], texts: Sequence[Stretch]
) -> tuple[tuple[Stretch, ...], tuple[PlacedRead, ...], tuple[Finding, ...]]:
    """Insert each read's text into the story.

    Returns everything in screen order, where each read went, and findings. Percents of a window refer to
    the final run time, all reads included.
    """
    order = list(story)
    runtime = Ms(sum(stretch.length for stretch in (*story, *texts)))
    findings: list[Finding] = []
    chosen: list[tuple[Stretch, str]] = []
    for text in texts:
        read = plan.front.reads[text.step.read or ""]
        if not order:  # a plan that is nothing but a read
            chosen.append((text, "there is nothing else to play"))
            order.append(text)
            continue
        candidates = [_weigh(order, index, text.length, read, runtime) for index in range(1, len(order) + 1)]
        wanted = _written_before(plan, text.step, order)
        best = min(
            candidates,
            key=lambda c: (
                c.miss > 0,
                c.miss,
                c.index != wanted,
                not c.section_start,
                c.before_payoff,
                c.index,
            ),
        )
        if best.miss > 0:
            findings.append(_no_place(plan, read, text, best))
        elif wanted is not None and wanted != best.index:
            findings.append(_moved(text, candidates, wanted, best, order))
        chosen.append((text, _why(best, order, read, runtime)))
        order.insert(best.index, text)
    placed = []
    for text, why in chosen:
        index = order.index(text)
        start = Ms(sum(stretch.length for stretch in order[:index]))
        follower = order[index + 1].step.id if index + 1 < len(order) else ""
        name = text.step.read or ""
        placed.append(PlacedRead(name, plan.front.reads[name].sponsor, start, text.length, follower, why))
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
    return finding(
        rules.MOVED, text.step.at, said, "Move the section, or change the read's terms, to have it there."
    )


def _weigh(order: Sequence[Stretch], index: int, length: Ms, read: Read, runtime: Ms) -> _Candidate:
    """How a read would stand before `order[index]`; `miss` is by how many ms its terms are broken."""
    start = sum(stretch.length for stretch in order[:index])
    reasons: list[str] = []
    miss = 0
    if read.starts is not None:
        low, high = read.starts.low.at(runtime), read.starts.high.at(runtime)
        outside = max(low - start, start - high, 0)
        if outside:
            miss += outside
            reasons.append(f"it would start at {clock(Ms(start))}, outside {clock(low)} to {clock(high)}")
    clear = read.keep_clear_of.hazard
    if clear:
        near = _nearest_hazard(order, index)
        if near is not None and near[0] < clear:
            miss += clear - near[0]
            reasons.append(
                f"'{near[1].title}' is {near[0] / 1000:g} s away, and {clear / 1000:g} s are asked"
            )
    following = order[index].step if index < len(order) else None
    previous = order[index - 1].step
    return _Candidate(
        index=index,
        start=Ms(start),
        miss=Ms(miss),
        reasons=tuple(reasons),
        section_start=following is not None and following.section != previous.section,
        before_payoff=following is not None and bool(following.answers),
    )


def _nearest_hazard(order: Sequence[Stretch], index: int) -> tuple[int, Step] | None:
    """Distance in ms from a read before `order[index]` to the nearest risky step, and that step."""
    found: list[tuple[int, Step]] = []
    for stretches in (list(reversed(order[:index])), order[index:]):
        distance = 0
        for stretch in stretches:
            if stretch.step.risky:
                found.append((distance, stretch.step))
                break
            distance += stretch.length
    return min(found, key=lambda pair: pair[0], default=None)


def _why(best: _Candidate, order: Sequence[Stretch], read: Read, runtime: Ms) -> str:
    where = f"before '{order[best.index].step.title}'" if best.index < len(order) else "at the end"
    reasons = []
    if best.section_start:
        reasons.append("a section starts there")
    if read.starts is not None and best.miss == 0:
        low, high = read.starts.low.at(runtime), read.starts.high.at(runtime)
        reasons.append(f"{clock(best.start)} lies in the window {clock(low)} to {clock(high)}")
    near = _nearest_hazard(order, best.index)
    if near is not None and read.keep_clear_of.hazard:
        reasons.append(f"the nearest hazard, '{near[1].title}', is {near[0] / 1000:.0f} s away")
    if best.miss:
        reasons = [f"the nearest miss: {'; '.join(best.reasons)}"]
    return f"{where}: {'; '.join(reasons) or 'the first boundary'}"


def _no_place(plan: Plan, read: Read, text: Stretch, best: _Candidate) -> Finding:
    name = text.step.read or ""
    said = f"No boundary suits the read '{name}'; the nearest miss is {clock(best.start)}: {'; '.join(best.reasons)}."
    remedy = "Widen `starts`, lower `keep clear of`, or split or move a step."
    return finding(rules.NO_PLACE, plan.where("reads", name, "starts"), said, remedy)


_PAID = re.compile(r"\b(sponsor\w*|paid|advert\w*|ad|promotion)\b", re.IGNORECASE)


def check_read(plan: Plan, text: Stretch, spoken: Ms, words: int) -> tuple[Finding, ...]:
    """Whether the read's words keep the contract. `spoken` and `words` count its beats."""
    name = text.step.read or ""
    read = plan.front.reads[name]
    found: list[Finding] = []
    if read.length is not None and text.length not in read.length:
        found.append(_length(plan, name, read, text.length, spoken, words))
    said = " ".join(" ".join(beat.text for beat in text.step.beats).lower().split())
    for phrase in read.must_say:
        if " ".join(phrase.lower().split()) not in said:
            remedy = "Put these words into the read."
            message = f"The read '{name}' never says '{phrase}'."
            found.append(finding(rules.MUST_SAY, plan.where("reads", name, "must say"), message, remedy))
    if "heard" in read.disclosure and text.step.beats and not _PAID.search(text.step.beats[0].text):
        message = f"The first lines of the read '{name}' do not say that it is paid for."
        found.append(
            finding(rules.NOT_HEARD, text.step.beats[0].at, message, "Say who sponsors it in the first line.")
        )
    if "seen" not in read.disclosure:
        message = f"The read '{name}' asks for no disclosure on screen."
        remedy = "Write `disclosure: heard and seen`."
        found.append(finding(rules.NOT_SEEN, plan.where("reads", name, "disclosure"), message, remedy))
    return tuple(found)


def _length(plan: Plan, name: str, read: Read, length: Ms, spoken: Ms, words: int) -> Finding:
    assert read.length is not None
    each = spoken / words if words else 400
    low, high = read.length.low, read.length.high
    message = f"The read '{name}' runs {length / 1000:.1f} s; its contract asks {low / 1000:g} to {high / 1000:g} s."
    if length > high:
        remedy = f"Trim about {counted(max(1, ceil((length - high) / each)), 'word')}, or widen `length`."
    else:
        remedy = f"Add about {counted(max(1, ceil((low - length) / each)), 'word')}, or widen `length`."
    return finding(rules.LENGTH, plan.where("reads", name, "length"), message, remedy)
