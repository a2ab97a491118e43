"""The description under the video: who paid, codes, links and free goods first; then the promise, chapters, links.

The first lines are what a host shows before "more": about 157 characters or three lines (common practice, no source;
`limits: {first lines: 157}`). A disclosure that has to be unfolded is not "difficult to miss" (16 CFR 255.0(f)). It
repeats what is said and shown in the video and never stands for it (FTC, Disclosures 101 for Social Media
Influencers). Hosts refuse `<` and `>` and more than 5,000 characters (common practice, no source). Local law decides.
"""

from __future__ import annotations

import re
from collections.abc import Iterator, Sequence
from dataclasses import dataclass

from episodekit.base.findings import Finding, finding
from episodekit.base.text import counted
from episodekit.chapters.mark import Chapter
from episodekit.job.contract import Read
from episodekit.job.model import Plan
from episodekit.pack import rules

FIRST_LINES = 3
_REFUSED = str.maketrans({"<": "‹", ">": "›"})
_STAMP = re.compile(r"\d{1,2}:\d\d")
_LINK = re.compile(r"\blinks?\b", re.IGNORECASE)
_DOWN_THERE = re.compile(r"\b(?:description|below|down there|under the video)\b", re.IGNORECASE)


@dataclass(frozen=True)
class FirstLine:
    """A line that has to be seen without unfolding. `keys` lead to what it discloses, as in `Plan.where`."""

    text: str
    keys: tuple[str, ...]


@dataclass(frozen=True)
class Description:
    """The description by its parts; `text` is all of it."""

    first: tuple[FirstLine, ...]
    promise: str
    chapters: tuple[str, ...]
    links: tuple[str, ...]

    @property
    def text(self) -> str:
        """As it is pasted, with a newline at its end."""
        blocks = (tuple(line.text for line in self.first), (self.promise,), self.chapters, self.links)
        return "\n\n".join("\n".join(block) for block in blocks if block) + "\n"


def describe(plan: Plan, chapters: Sequence[Chapter], order: Sequence[str] = ()) -> Description:
    """The description. `order` names the reads as they play; others follow."""
    names = [*order, *(name for name in plan.front.reads if name not in order)]
    links = [f"{_taken(read.sponsor)}: {_address(read)}" for _, read in _reads(plan, names) if read.link]
    return Description(
        first=tuple(_first_lines(plan, names)),
        promise=_promise(plan),
        chapters=tuple(f"{chapter.stamp} {_taken(chapter.title)}" for chapter in chapters),
        links=("Links", *links) if links else (),
    )


def check_description(plan: Plan, description: Description) -> tuple[Finding, ...]:
    """Links that are promised and missing, first lines that are folded away, a text that is too long."""
    return (*_links(plan), *_fold(plan, description), *_size(plan, description))


def _reads(plan: Plan, names: Sequence[str]) -> list[tuple[str, Read]]:
    return [(name, plan.front.reads[name]) for name in names]


def _first_lines(plan: Plan, names: Sequence[str]) -> Iterator[FirstLine]:
    """One read tells all in one line; of several, the first line names all who paid."""
    reads = _reads(plan, names)
    if len(reads) == 1:
        ((name, read),) = reads
        goods = f", who also gave me {_taken(read.goods)} free" if read.goods else ""
        yield FirstLine(f"Ad: paid for by {_name(read.sponsor)}{goods}.{_offer(read)}", ("reads", name))
    elif reads:
        sponsors = list(dict.fromkeys(_name(read.sponsor) for _, read in reads))
        paid = " and ".join(filter(None, (", ".join(sponsors[:-1]), sponsors[-1])))
        yield FirstLine(f"Ads: paid for by {paid}.", ("reads",))
        for name, read in reads:
            goods = f" gave me {_taken(read.goods)} free." if read.goods else ":"
            if read.goods or read.code or read.link:
                yield FirstLine(f"{_taken(read.sponsor)}{goods}{_offer(read)}", ("reads", name))
    for name, free in plan.front.free_goods.items():
        yield FirstLine(f"Received free from {_taken(free.giver)}: {_name(free.what)}.", ("free goods", name))


def _offer(read: Read) -> str:
    """Code and link, and whether the link pays, each behind a space."""
    code = f" Code {_taken(read.code)}{'' if read.link else '.'}" if read.code else ""
    link = f"{',' if code else ''} {_address(read)}" if read.link else ""
    return code + link + (" (I earn if you buy there)" if read.link and read.link_pays else "")


def _promise(plan: Plan) -> str:
    """The title, and the story's first question where the title asks none. One line.

    A line that begins like a stamp would be taken for a chapter, so it is put in quotes.
    """
    title = _taken(plan.front.title)
    asked = next((_taken(question.text) for step in plan.steps for question in step.asks), "")
    if asked and not title.endswith("?"):
        title = f"{title}{'' if title.endswith(('.', '!')) else '.'} {asked}"
    return f'"{title}"' if _STAMP.match(title) else title


def _taken(text: str) -> str:
    """Text as hosts take it: one line, no angle brackets, nothing that does not print."""
    return "".join(c for c in " ".join(text.translate(_REFUSED).split()) if c.isprintable() or c == "\u200d")


def _name(text: str) -> str:
    """A name before a full stop: that of "Line Ltd." is left out."""
    return _taken(text).rstrip(".")


def _address(read: Read) -> str:
    return (read.link or "").replace("<", "%3C").replace(">", "%3E")


def _links(plan: Plan) -> Iterator[Finding]:
    for name, read in plan.front.reads.items():
        if read.link is not None:
            continue
        remedy = "Add `link: https://...` to the read."
        for key, given in (("link pays", read.link_pays), ("link stays", read.link_stays is not None)):
            if given:
                said = f"The read '{name}' has '{key}', but no link."
                yield finding(rules.NO_LINK, plan.where("reads", name, key), said, remedy)
        text = plan.read_texts.get(name)
        beat = next((b for b in text.beats if _promises(b.text)), None) if text else None
        if beat is not None:
            said = f"The read '{name}' speaks of a link in the description, and the plan has none."
            yield finding(rules.NO_LINK, beat.at, said, f"{remedy[:-1]}, or leave the sentence out.")


def _promises(text: str) -> bool:
    """Whether a text speaks of a link in the description."""
    link = _LINK.search(text)
    return link is not None and _DOWN_THERE.search(text, link.end()) is not None


def _fold(plan: Plan, description: Description) -> Iterator[Finding]:
    most = plan.front.limits.first_lines
    end = -1
    for number, line in enumerate(description.first, start=1):
        end += 1 + len(line.text)
        if end > most or number > FIRST_LINES:
            said = (
                f"'{line.text[:40].rstrip()}...' ends in line {number} of the description, after {end} characters; "
                f"hosts show about {most} and {FIRST_LINES} lines."
            )
            remedy = "Use shorter names and addresses, or agree on fewer things for the first lines."
            yield finding(rules.FOLD, plan.where(*line.keys), said, remedy)


def _size(plan: Plan, description: Description) -> Iterator[Finding]:
    long, most = len(description.text), plan.front.limits.description
    if long > most:
        said = f"The description has {counted(long, 'character')}; hosts take {most}."
        remedy = "Shorten titles, or have fewer chapters."
        yield finding(rules.LONG, plan.where("limits", "description"), said, remedy)
