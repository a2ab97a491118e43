"""The body of job.md becomes sections, steps, beats, facts and notes.

`#` opens a section, `##` a step, a block quote is a beat, a list item may be a fact, anything else is a
note. What stands directly under a section heading makes a step of its own, named like the section.
"""

from __future__ import annotations

import re
from dataclasses import dataclass, field

from markdown_it import MarkdownIt
from markdown_it.token import Token

from episodekit.base.findings import Finding, finding
from episodekit.base.place import Place
from episodekit.base.text import slug
from episodekit.job import rules
from episodekit.job.facts import Draft, read_item
from episodekit.job.model import Beat, Note, Section, Step

_HEADING_ID = re.compile(r"\s*\{#([^}]*)\}\s*$")
_GOOD_ID = re.compile(r"[a-z0-9][a-z0-9-]{0,62}")
_QUOTE_MARKS = re.compile(r"\s*(?:>\s?)+\s*")
_ITEM_MARK = re.compile(r"\s*(?:[-*+]|\d{1,9}[.)])\s+")


@dataclass
class _Body:
    """What is gathered while walking the tokens of one file."""

    file: str
    lines: list[str]
    first_line: int
    sections: list[tuple[str, str, Place, list[Draft]]] = field(default_factory=list)
    step: Draft | None = None
    findings: list[Finding] = field(default_factory=list)
    ids: dict[str, Place] = field(default_factory=dict)
    given: frozenset[str] = frozenset()

    def place(self, line: int, marks: re.Pattern[str] | None = None) -> Place:
        """The place of the text in a line of the body (from 0), after its quote or list marks."""
        text = self.lines[line] if line < len(self.lines) else ""
        match = (marks or re.compile(r"\s*")).match(text)
        return Place(self.file, line + self.first_line, (match.end() if match else 0) + 1)


def read_body(text: str, file: str, first_line: int) -> tuple[tuple[Section, ...], tuple[Finding, ...]]:
    """Read the Markdown below the front matter; `first_line` is the file's line of its first line."""
    body = _Body(file, text.split("\n"), first_line)
    tokens = MarkdownIt("commonmark", {"maxNesting": 40}).parse(text)
    headings = (match for line in body.lines if line.startswith("#") and (match := _HEADING_ID.search(line)))
    body.given = frozenset(match[1].strip() for match in headings)
    index = 0
    while index < len(tokens):
        token = tokens[index]
        close = _closing(tokens, index)
        if token.type == "heading_open":
            _heading(body, token, tokens[index + 1])
        elif token.type == "blockquote_open":
            _beat(body, tokens[index : close + 1])
        elif token.type in {"bullet_list_open", "ordered_list_open"}:
            _list(body, tokens[index : close + 1])
        elif token.type == "paragraph_open":
            _note(body, tokens[index + 1])
        index = close + 1
    sections = tuple(
        Section(id=name, title=title, at=at, steps=tuple(_freeze(draft, name) for draft in drafts))
        for name, title, at, drafts in body.sections
    )
    return sections, tuple(body.findings)


def _closing(tokens: list[Token], index: int) -> int:
    """The index of the token that closes the one at `index`."""
    depth = 0
    for position in range(index, len(tokens)):
        depth += tokens[position].nesting
        if depth <= 0:
            return position
    return len(tokens) - 1


def _plain(inline: Token) -> str:
    """The text as it is read aloud: marks of emphasis, links and markup gone."""
    words = []
    for child in inline.children or []:
        if child.type in {"text", "code_inline"}:
            words.append(child.content)
        elif child.type in {"softbreak", "hardbreak"}:
            words.append(" ")
        elif child.type == "image":
            words.append(child.content)
    return " ".join("".join(words).split())


def _heading(body: _Body, token: Token, inline: Token) -> None:
    line = token.map[0] if token.map else 0
    at = body.place(line, re.compile(r"\s*#*\s*"))
    text = _plain(inline)
    given = _HEADING_ID.search(text)
    title = _HEADING_ID.sub("", text).strip()
    if token.tag not in {"h1", "h2"} or not token.markup.startswith("#"):
        remedy = "Write `## Title` for a step, or put a blank line above the `---`."
        if token.markup.startswith("#"):
            remedy = "Use ## for a step."
        body.findings.append(finding(rules.DEEP, at, f"'{title[:60]}' is kept as a note.", remedy))
        if body.step is not None:
            body.step.notes.append(Note(text=title, at=at))
        return
    name = _id(body, given[1] if given else None, title, at)
    if token.tag == "h1" or not body.sections:
        if token.tag == "h2":
            body.findings.append(
                finding(
                    rules.LOOSE, at, f"The step '{title}' is in no section.", "Put a `# Section` above it."
                )
            )
        body.sections.append((name, title or name, at, []))
        body.step = None if token.tag == "h1" else Draft(name, title or name, at, implicit=False)
        if body.step is not None:
            body.sections[-1][3].append(body.step)
        return
    body.step = Draft(name, title or name, at, implicit=False)
    body.sections[-1][3].append(body.step)


def _id(body: _Body, given: str | None, title: str, at: Place) -> str:
    """The id that a heading gives or implies; a bad or doubled one is reported and made usable."""
    name = given.strip() if given is not None else slug(title)
    if given is None and name in body.given:  # an id that somebody wrote goes before one that is only implied
        name = f"{name}-{at.line}"
    if not _GOOD_ID.fullmatch(name):
        made = slug(name) or slug(title) or f"step-{at.line}"
        if given is not None:
            said, rule = f"'{given}' cannot be an id.", rules.ID
        else:
            said, rule = f"No id can be made from '{title}'; it is '{made}'.", rules.NO_ID
        body.findings.append(
            finding(rule, at, said, f"Write {{#{made}}} after the title, or a name of your own.")
        )
        name = made
    if name in body.ids:
        first = body.ids[name]
        number = 2
        while f"{name}-{number}" in body.ids:
            number += 1
        said = f"The id '{name}' was already used in line {first.line}."
        name = f"{name}-{number}"
        body.findings.append(finding(rules.TWICE, at, said, f"Write {{#{name}}} after the title."))
    body.ids[name] = at
    return name


def _current(body: _Body, at: Place) -> Draft | None:
    """The step that a beat or fact belongs to: the open one, or one made of the section itself."""
    if body.step is None and body.sections:
        name, title, section_at, drafts = body.sections[-1]
        body.step = Draft(name, title, section_at, implicit=True)
        drafts.append(body.step)
    if body.step is None:
        body.findings.append(
            finding(rules.LOOSE, at, "This stands before the first heading.", "Put a heading above it.")
        )
    return body.step


def _beat(body: _Body, tokens: list[Token]) -> None:
    first = tokens[0].map[0] if tokens[0].map else 0
    at = body.place(first, _QUOTE_MARKS)
    step = _current(body, at)
    if step is None:
        return
    paragraphs = []
    for token in tokens:
        if token.type != "inline":
            continue
        text = _plain(token)
        if text:
            paragraphs.append(text)
        for line in range(*(token.map or (0, 0))):
            if not body.lines[line].lstrip().startswith(">"):
                said = f"'{body.lines[line].strip()[:40]}' is spoken as part of the quote above."
                remedy = "Put a blank line before it, or start it with `>`."
                body.findings.append(finding(rules.SPOKEN_ON, body.place(line), said, remedy))
        if "{{" in text:
            said = "{{ ... }} is not filled in yet and will be read as written."
            body.findings.append(finding(rules.QUOTE, at, said, "Write the number out for now."))
    if paragraphs:
        beat = Beat(id=f"{step.id}.{len(step.beats) + 1}", paragraphs=tuple(paragraphs), at=at)
        step.beats.append(beat)


def _list(body: _Body, tokens: list[Token]) -> None:
    for index, token in enumerate(tokens):
        if token.type != "inline":
            continue
        line = token.map[0] if token.map else 0
        at = body.place(line, _ITEM_MARK)
        step = _current(body, at)
        if step is None:
            return
        if tokens[index - 2].type == "list_item_open":
            # The source text, not the rendered one: a fact's value may hold * or _ that is no emphasis.
            source = body.lines[line][at.column - 1 :] if line < len(body.lines) else token.content
            read_item(step, " ".join(token.content.split()), at, body.findings, source)
        else:
            step.notes.append(Note(text=_plain(token), at=at))


def _note(body: _Body, inline: Token) -> None:
    line = inline.map[0] if inline.map else 0
    at = body.place(line)
    if body.step is not None:
        body.step.notes.append(Note(text=_plain(inline), at=at))


def _freeze(draft: Draft, section: str) -> Step:
    lists = {name: tuple(values) for name, values in draft.lists.items()}
    return Step(
        id=draft.id,
        title=draft.title,
        section=section,
        at=draft.at,
        implicit=draft.implicit,
        beats=tuple(draft.beats),
        notes=tuple(draft.notes),
        places=draft.places,
        **draft.values,
        **lists,
    )
