"""From marks to spans: a step is open from its start until it is done; other spans last until the next mark."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass, field, replace

from episodekit.base.findings import Finding, did_you_mean, finding
from episodekit.bench import rules
from episodekit.bench.model import MOVES, WALL, Kind, PlacedMark, Span, SpanKind

_OPENS = {
    Kind.START: SpanKind.WORK,
    Kind.RETAKE: SpanKind.WORK,
    Kind.KEEP: SpanKind.KEEP,
    Kind.WAIT: SpanKind.WAIT,
    Kind.B_ROLL: SpanKind.B_ROLL,
}


@dataclass
class _Bench:
    """The state of the bench on one clock."""

    spans: list[Span] = field(default_factory=list)
    findings: list[Finding] = field(default_factory=list)
    step: str = ""
    kind: SpanKind = SpanKind.WORK
    since: PlacedMark | None = None
    retakes: list[tuple[str, PlacedMark]] = field(default_factory=list)

    def close(self, mark: PlacedMark | None) -> None:
        """End the open span at a mark, or leave it open-ended at the end of the log."""
        if self.since is None:
            return
        first = self.since
        end = None if mark is None else mark.moment
        if end is None or end.seconds > first.moment.seconds:
            self.spans.append(Span(self.step, self.kind, first.moment, end, first.mark.text, first.mark.at))
        elif mark is not None and mark.mark.kind is Kind.DONE and first.mark.kind is Kind.START:
            said = f"'{self.step}' starts and is done at the same instant."
            self.findings.append(finding(rules.NO_TIME, mark.mark.at, said, "Check both marks."))
        self.since = None

    def begin(self, step: str, mark: PlacedMark) -> None:
        self.step, self.kind, self.since = step, _OPENS[mark.mark.kind], mark


def spans_of(
    marks: Sequence[PlacedMark], steps: Iterable[str]
) -> tuple[tuple[Span, ...], tuple[Finding, ...]]:
    """The spans that count, in time order on each clock, and what is wrong with the log.

    A retake voids every earlier span of its step, but no b-roll, which is not part of the attempt. Marks of
    unknown steps are left out.
    """
    known = set(steps)
    findings: list[Finding] = []
    good: list[PlacedMark] = []
    for mark in marks:
        if mark.mark.step and mark.mark.step not in known:
            said = f"The plan has no step '{mark.mark.step}'."
            findings.append(finding(rules.STEP, mark.mark.at, said, did_you_mean(mark.mark.step, known)))
        else:
            good.append(mark)
    findings += _unordered(good)
    place = {id(mark): number for number, mark in enumerate(good)}
    first_told: dict[str, int] = {}
    for number, mark in enumerate(good):
        first_told.setdefault(mark.mark.step, number)
    line_of = {mark.mark.at: number for number, mark in enumerate(good)}
    spans: list[Span] = []
    retakes: list[tuple[str, str, int]] = []
    for clock in sorted({mark.moment.clock for mark in good}, key=lambda name: (name != WALL, name)):
        bench = _Bench()
        own = sorted((m for m in good if m.moment.clock == clock), key=lambda m: m.moment.seconds)
        for mark in own:
            _take(bench, mark, first_told.get(mark.mark.step or bench.step, len(good)) < place[id(mark)])
        if bench.since is not None:
            said = f"'{bench.step}' is never done."
            findings.append(finding(rules.NOT_DONE, bench.since.mark.at, said, "Append a `done` mark."))
            bench.close(None)
        lines = sorted(line_of[span.at] for span in bench.spans)
        spans += [replace(span, order=line) for span, line in zip(bench.spans, lines, strict=True)]
        retakes += [(step, clock, place[id(mark)]) for step, mark in bench.retakes]
        findings += bench.findings
    # A retake also voids what the log tells of before it on other clocks.
    for step, clock, line in retakes:
        spans = [
            s
            for s in spans
            if s.step != step or s.start.clock == clock or s.order > line or s.kind is SpanKind.B_ROLL
        ]
    return tuple(sorted(spans, key=lambda span: span.order)), tuple(findings)


def _unordered(marks: Sequence[PlacedMark]) -> list[Finding]:
    """One finding for all marks that are earlier than the same mark above them: one wrong hour is one mistake."""
    latest: dict[tuple[str, str, str], PlacedMark] = {}
    early: dict[int, tuple[PlacedMark, list[PlacedMark]]] = {}
    for mark in marks:
        if mark.mark.kind in (Kind.PRIVATE, Kind.PUBLIC):
            continue  # mostly written when the footage is looked through, long after the day
        key = (mark.mark.at.file, mark.mark.device, mark.moment.clock)
        before = latest.get(key)
        if before is not None and mark.moment.seconds < before.moment.seconds:
            early.setdefault(id(before), (before, []))[1].append(mark)
        else:
            latest[key] = mark
    found = []
    for before, (first, *others) in early.values():
        which = f"This mark and {len(others)} below it are" if others else "This mark is"
        said = f"{which} earlier than line {before.mark.at.line}."
        remedy = "Check the clock and the hour."
        if any(mark.moment.clip for mark in (before, first, *others)):
            remedy = "Check the place, and the clips' clocks with `episodekit sync`."
        found.append(finding(rules.UNORDERED, first.mark.at, said, remedy))
    return found


def _take(bench: _Bench, placed: PlacedMark, told: bool) -> None:
    """Move the bench on by one mark. `told` says whether the log spoke of its step before."""
    mark = placed.mark
    is_open = bench.since is not None
    if mark.kind not in MOVES:
        return
    step = mark.step or (bench.step if is_open else "")
    if not step or (mark.kind is Kind.DONE and (not is_open or step != bench.step)):
        said = (
            f"'{mark.kind}' stands where '{mark.step}' is not open."
            if mark.step
            else f"'{mark.kind}' stands where no step is open."
        )
        if is_open:
            said = f"'{mark.kind}' names '{mark.step}', but '{bench.step}' is open."
        bench.findings.append(
            finding(rules.NOTHING_OPEN, mark.at, said, "Add the missing `start`, or correct the step.")
        )
        return
    if is_open and step != bench.step:
        said = f"'{step}' begins while '{bench.step}' is open."
        bench.findings.append(finding(rules.OVERLAP, mark.at, said, f"Append a `done` for '{bench.step}'."))
    bench.close(placed)
    if mark.kind is Kind.DONE:
        return
    if mark.kind is Kind.RETAKE:
        bench.retakes.append((step, placed))
        if not told and not any(span.step == step for span in bench.spans):
            said = f"'{step}' has no attempt before this retake."
            bench.findings.append(
                finding(rules.NO_ATTEMPT, mark.at, said, "Write `start`, or correct the step.")
            )
        bench.spans = [s for s in bench.spans if s.step != step or s.kind is SpanKind.B_ROLL]
    bench.begin(step, placed)
