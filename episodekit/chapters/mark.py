"""Mark chapters at section starts: the first at 0:00, ascending, each long enough."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from episodekit.base.findings import Finding, finding
from episodekit.base.place import Place
from episodekit.base.text import counted
from episodekit.base.time import Ms, clock
from episodekit.chapters import rules


@dataclass(frozen=True)
class SectionStart:
    """A section and when its first picture plays, in ms."""

    title: str
    start: Ms
    at: Place


@dataclass(frozen=True)
class Chapter:
    """A chapter: `start` in ms, as it goes into the file; its stamp is whole seconds, rounded down.

    Rounded down, because a viewer who lands a little early sees the section begin, one who lands late has
    missed it.
    """

    title: str
    start: Ms

    @property
    def stamp(self) -> str:
        """As it stands in a description."""
        return clock(self.start)


def mark_chapters(
    sections: Sequence[SectionStart], runtime: Ms, shortest: Ms, fewest: int, at: Place
) -> tuple[tuple[Chapter, ...], tuple[Finding, ...]]:
    """Chapters of an episode of `runtime` ms, none shorter than `shortest` by its stamps.

    A section that is too short is merged into the longer of its neighbours' chapters; the chapter keeps the title of
    the longer part and the earlier start.
    """
    findings: list[Finding] = []
    parts = [(section.title, section.start if n else Ms(0), section.at) for n, section in enumerate(sections)]
    while len(parts) > 1:
        lengths = _lengths([start for _, start, _ in parts], runtime)
        index = min(range(len(parts)), key=lambda n: (lengths[n], n))
        if lengths[index] >= shortest:
            break
        into = _neighbour(lengths, index)
        first, second = min(index, into), max(index, into)
        kept = parts[into][0]
        said = (
            f"'{parts[index][0]}' plays {lengths[index] / 1000:g} s; a chapter needs {shortest / 1000:g} s. "
            f"It is merged into '{kept}', which starts at {clock(parts[first][1])}."
        )
        findings.append(
            finding(rules.MERGED, parts[index][2], said, "Lengthen the section, or leave it merged.")
        )
        parts[first : second + 1] = [(kept, parts[first][1], parts[into][2])]
    if len(parts) < fewest:
        said = f"There is {counted(len(parts), 'chapter')}; the host shows them from {fewest} on."
        if len(parts) != 1:
            said = f"There are {counted(len(parts), 'chapter')}; the host shows them from {fewest} on."
        findings.append(
            finding(rules.FEW, at, said, "Add a `# Section`, or leave the episode without chapters.")
        )
    return tuple(Chapter(_short(title), start) for title, start, _ in parts), tuple(findings)


def _short(title: str) -> str:
    """A title that players and files can hold: one line of at most 200 characters. Common practice, no source."""
    line = " ".join(title.split())
    return line if len(line) <= 200 else line[:199].rstrip() + "…"


def _lengths(starts: Sequence[Ms], runtime: Ms) -> list[int]:
    """Each chapter's length between whole-second stamps, in ms; the host sees no finer."""
    stamps = [start // 1000 * 1000 for start in starts]
    return [after - start for start, after in zip(stamps, [*stamps[1:], runtime], strict=True)]


def _neighbour(lengths: Sequence[int], index: int) -> int:
    """The longer neighbour; the following one if they are equal."""
    if index == 0:
        return 1
    if index == len(lengths) - 1:
        return index - 1
    return index + 1 if lengths[index + 1] >= lengths[index - 1] else index - 1
