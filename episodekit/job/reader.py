"""job.md in, plan and findings out: the one door into this room."""

from __future__ import annotations

import re

from episodekit.base.findings import Finding, finding, in_order
from episodekit.base.place import Place
from episodekit.job import rules
from episodekit.job.check import check_plan
from episodekit.job.front_matter import read_front_matter
from episodekit.job.markdown import read_body
from episodekit.job.model import FrontMatter, Plan

LARGEST = 1_000_000


def read_plan(raw: bytes, file: str = "job.md") -> tuple[Plan | None, tuple[Finding, ...]]:
    """Read a job plan. `file` is the name that findings carry.

    The plan is None only when nothing could be read: too large, not UTF-8, or empty. Otherwise what is
    wrong is reported and left out, and the rest works.

    >>> plan, findings = read_plan(b"---\\ntitle: A lamp\\n---\\n# Cold open\\n> It flickers.\\n")
    >>> plan.steps[0].beats[0].text, findings
    ('It flickers.', ())
    """
    whole = Place(file, 1, 1)
    if len(raw) > LARGEST:
        return None, (too_big(len(raw), file),)
    try:
        text = raw.decode("utf-8-sig")
    except UnicodeDecodeError as error:
        before = raw[: error.start]
        line_start = before.rfind(b"\n") + 1
        column = len(before[line_start:].decode("utf-8", "replace")) + 1
        at = Place(file, before.count(b"\n") + 1, column)
        said = f"The byte 0x{raw[error.start]:02x} is not UTF-8."
        return None, (finding(rules.ENCODING, at, said, "Save the file as UTF-8."),)
    text = text.replace("\r\n", "\n").replace("\r", "\n")
    if not text.strip():
        return None, (finding(rules.EMPTY, whole, "The file is empty.", "Start from `episodekit new DIR`."),)
    front_text, body_text, body_line, findings = _split(text, file)
    front: FrontMatter | None = None
    places = {}
    if front_text is not None:
        front, found_places, front_findings = read_front_matter(front_text, file, 2)
        places = dict(found_places)
        findings += front_findings
    sections, body_findings = read_body(body_text, file, body_line)
    findings += body_findings
    if not any(section.steps for section in sections):
        said = "There is no heading with a spoken line or a fact under it."
        findings += (
            finding(
                rules.EMPTY, Place(file, body_line, 1), said, "Write `# Cold open` and `> ...` below it."
            ),
        )
        return None, in_order(findings)
    known = front is not None
    plan = Plan(file=file, front=front or FrontMatter(title="Untitled"), sections=sections, places=places)
    return plan, in_order((*findings, *check_plan(plan, front_known=known)))


def too_big(size: int, file: str) -> Finding:
    """What is said of a plan of `size` bytes when that is more than `LARGEST`."""
    said = f"It is {size / 1e6:.1f} MB; a plan may have {LARGEST / 1e6:.0f} MB."
    return finding(
        rules.TOO_BIG, Place(file, 1, 1), said, "Move logs and pasted material to files of their own."
    )


def _split(text: str, file: str) -> tuple[str | None, str, int, tuple[Finding, ...]]:
    """Front matter, body, and the body's first line."""
    lines = text.split("\n")
    if lines[0].rstrip() != "---":
        remedy = "Start the file with `---`, `title: ...`, `---`."
        said = "The file does not start with a line `---`."
        return None, text, 1, (finding(rules.FRONT_MATTER, Place(file, 1, 1), said, remedy),)
    for number, line in enumerate(lines[1:], start=1):
        if line.rstrip() == "---":
            return "\n".join(lines[1:number]) + "\n", "\n".join(lines[number + 1 :]), number + 2, ()
    # Not closed: take the lines up to the first heading, so that the rest still works.
    headings = [n for n, line in enumerate(lines) if re.match(r"# \S", line)]
    heading = next((n for n in headings if not lines[n - 1].strip()), headings[0] if headings else len(lines))
    said = "The front matter opened in line 1 is never closed."
    found = finding(
        rules.FRONT_MATTER, Place(file, 1, 1), said, f"Put a line `---` before line {heading + 1}."
    )
    return "\n".join(lines[1:heading]) + "\n", "\n".join(lines[heading:]), heading + 1, (found,)
