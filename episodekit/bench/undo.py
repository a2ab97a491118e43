"""Which marks stand: those that no undo withdraws, and of two with the same id the first."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from heapq import heappop, heappush

from episodekit.base.findings import Finding, finding
from episodekit.base.place import Place
from episodekit.bench import rules
from episodekit.bench.model import Kind, Mark


def standing(
    marks: Sequence[Mark], unread: Iterable[Place] = ()
) -> tuple[tuple[Mark, ...], tuple[Finding, ...]]:
    """The marks that count, undos themselves left out, and what is wrong with the undos.

    `unread` are the places of lines that cannot be read. An undo that names no mark might have meant one of
    those just above it, and then withdraws nothing: a wrong guess could show what another mark hides.

    An undo that is withdrawn itself no longer counts: what it withdrew stands again.
    """
    single, findings = _single(marks)
    lines: dict[str, list[int]] = {}
    for place in sorted(unread):
        lines.setdefault(place.file, []).append(place.line)
    log = _Log(single)
    for number, mark in enumerate(single):
        if mark.kind is not Kind.UNDO:
            log.add(number)
            continue
        target = log.named(mark.of) if mark.of else log.latest(mark.at.file)
        if mark.of and target is None:
            said = f"No mark above has the id '{mark.of}'."
            findings.append(finding(rules.UNDO, mark.at, said, "Correct its `of`, or delete the line."))
        elif target is None:
            said = "No mark above it still stands."
            findings.append(finding(rules.UNDO, mark.at, said, "Delete the line."))
        elif not mark.of and _between(single[target].at, mark.at, lines.get(mark.at.file, [])):
            said = "A line above it cannot be read, so it cannot be told which mark is meant."
            findings.append(
                finding(rules.UNDO, mark.at, said, "Mend that line, or name the mark's id in `of`.")
            )
        else:
            log.withdraw(target, by=number)
        log.add(number)
    return log.left(), tuple(findings)


def _single(marks: Sequence[Mark]) -> tuple[list[Mark], list[Finding]]:
    """Each id once; marks that hide or show something are all kept."""
    first: dict[str, Mark] = {}
    kept: list[Mark] = []
    findings: list[Finding] = []
    for mark in marks:
        before = first.setdefault(mark.id, mark) if mark.id else mark
        if before is not mark:
            said = f"The mark in line {before.at.line} has the id '{mark.id}' too."
            findings.append(
                finding(rules.TWICE, mark.at, said, "Delete one of the two, or the id of one typed by hand.")
            )
            if mark.kind not in (Kind.PRIVATE, Kind.PUBLIC):
                continue
        kept.append(mark)
    return kept, findings


def _between(first: Place, last: Place, lines: Sequence[int]) -> bool:
    return any(first.line < line < last.line for line in lines)


class _Log:
    """Who withdraws whom, while the log is read from its top."""

    def __init__(self, marks: Sequence[Mark]) -> None:
        self.marks = marks
        self.by_id: dict[str, int] = {}
        self.target: dict[int, int] = {}
        self.holds = [0] * len(marks)  # how many undos that count withdraw each mark
        self.top: dict[str, list[int]] = {}  # by file: marks that stand, or stood, the last one first

    def add(self, number: int) -> None:
        mark = self.marks[number]
        if mark.id:
            self.by_id.setdefault(mark.id, number)
        if mark.kind is not Kind.UNDO:
            self._may_be_latest(number)

    def named(self, id: str) -> int | None:
        """The mark above with that id."""
        return self.by_id.get(id)

    def latest(self, file: str) -> int | None:
        """The last mark above in that file that stands and is no undo."""
        top = self.top.get(file, [])
        while top and self.holds[-top[0]]:
            heappop(top)
        return -top[0] if top else None

    def withdraw(self, number: int, by: int) -> None:
        """Let one mark count no more. If that was an undo, what it withdrew stands again, and so on."""
        self.target[by] = number
        change = 1
        while True:
            before = self.holds[number]
            self.holds[number] += change
            if bool(before) == bool(self.holds[number]):
                return
            if self.marks[number].kind is not Kind.UNDO:
                if not self.holds[number]:
                    self._may_be_latest(number)
                return
            if number not in self.target:
                return
            number, change = self.target[number], -change

    def left(self) -> tuple[Mark, ...]:
        return tuple(
            mark
            for mark, holds in zip(self.marks, self.holds, strict=True)
            if not holds and mark.kind is not Kind.UNDO
        )

    def _may_be_latest(self, number: int) -> None:
        heappush(self.top.setdefault(self.marks[number].at.file, []), -number)
