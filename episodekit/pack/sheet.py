"""The proof sheet of one read: what is sent to its sponsor, as a value."""

from __future__ import annotations

from dataclasses import dataclass

from episodekit.base.text import counted, slug
from episodekit.base.time import Ms
from episodekit.pack.dates import written
from episodekit.pack.measured import Measured
from episodekit.pack.proof import prove
from episodekit.pack.term import Met, Term
from episodekit.timeline.episode import Episode


@dataclass(frozen=True)
class Sheet:
    """One read's terms with what they were measured on. `file` is its name in file names, `published` a day or ""."""

    read: str
    file: str
    sponsor: str
    title: str
    device: str
    published: str
    video: str
    draft: bool
    runtime: Ms
    size: tuple[int, int]
    terms: tuple[Term, ...]

    def count(self, met: Met) -> int:
        """How many terms are so."""
        return sum(term.met is met for term in self.terms)

    @property
    def summary(self) -> str:
        """The counts in words, failed ones first."""
        told = ((self.count(met), words) for met, words in ((Met.FAIL, "failed"), (Met.OPEN, "open")))
        parts = [f"{count} {words}" for count, words in told if count]
        return ", ".join((*parts, f"{self.count(Met.PASS)} of {counted(len(self.terms), 'term')} passed"))


def sheets(episode: Episode, measured: Measured, description: str | None) -> tuple[Sheet, ...]:
    """A sheet for each read, in playing order. File names are plain letters, and no two are the same."""
    found: list[Sheet] = []
    front = episode.plan.front
    for number, (name, terms) in enumerate(prove(episode, measured, description).items(), start=1):
        file = slug(name) or f"read-{number}"
        while file in {sheet.file for sheet in found}:
            file += f"-{number}"
        found.append(
            Sheet(
                name,
                file,
                front.reads[name].sponsor,
                front.title,
                front.device,
                "" if front.publish is None else written(front.publish),
                measured.video,
                measured.draft,
                measured.runtime,
                measured.size,
                terms,
            )
        )
    return tuple(found)
