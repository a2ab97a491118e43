"""bench.jsonl: one JSON object a line, only ever appended. A line that cannot be read costs only itself."""

from __future__ import annotations

import json
import re

from episodekit.base.findings import Finding, did_you_mean, finding
from episodekit.base.place import Place
from episodekit.bench import rules
from episodekit.bench.marks import FIELDS, hidden_from, may_hide, read_mark
from episodekit.bench.model import Mark

LONGEST_LINE = 20_000
_WRITTEN = b'{"id": "'
"""How each line begins that `mark_line` writes; what is typed by hand seldom begins so."""


def mark_line(*, id: str, time: str, kind: str, step: str = "", text: str = "", of: str = "") -> str:
    """One mark as a line of the log, without its line break. What is empty is left out.

    >>> mark_line(id="phone1-17", time="2026-11-07T10:04:03.120-05:00", kind="start", step="screen")
    '{"id": "phone1-17", "time": "2026-11-07T10:04:03.120-05:00", "kind": "start", "step": "screen"}'
    """
    fields = {"id": id, "time": time, "kind": kind, "step": step, "text": text, "of": of}
    return json.dumps({name: value for name, value in fields.items() if value}, ensure_ascii=False)


def read_bench_jsonl(raw: bytes, file: str = "bench.jsonl") -> tuple[tuple[Mark, ...], tuple[Finding, ...]]:
    """The marks in the order of the file, and what is wrong with the lines left out.

    Blank lines are skipped. Every field is text; all but `time` and `kind` may be left out. A broken line
    that may have hidden something says so. A line that a power cut tore is a note.
    """
    marks: list[Mark] = []
    findings: list[Finding] = []
    before = b""
    for number, line in enumerate(raw.removeprefix(b"\xef\xbb\xbf").split(b"\n"), start=1):
        at = Place(file, number, 1)
        if not line.strip():
            continue
        mark = _line(line, at)
        if not isinstance(mark, Finding):
            marks.append(mark)
        elif _torn(line, before):
            said = "The line was cut off before its mark was told to be safe."
            remedy = "Delete the line. If no line below is that mark, type it again."
            findings.append(finding(rules.TORN, at, said, remedy))
        else:
            hides = may_hide(line.decode("utf-8", "replace"))
            findings.append(hidden_from(mark) if hides else mark)
        before = line
    return tuple(marks), tuple(findings)


def _torn(line: bytes, before: bytes) -> bool:
    """Whether a line that cannot be read is the beginning of one that `mark_line` wrote.

    A file system may have made room for a line and not filled it: then zeros stand where it was. One that may
    have hidden something is not taken for torn.
    """
    text = line.strip(b"\0\r")
    if text != line.strip(b"\r") and not before.startswith(_WRITTEN):
        return False
    if not text:
        return True
    if len(line) > LONGEST_LINE or not (text.startswith(_WRITTEN) or _WRITTEN.startswith(text)):
        return False
    kind = re.search(rb'", "kind": "([a-z-]+)"', text)
    if may_hide(text.decode("utf-8", "replace")) and (kind is None or may_hide(kind[1].decode())):
        return False
    return not text.rstrip().endswith(b"}")


def _line(line: bytes, at: Place) -> Mark | Finding:
    if len(line) > LONGEST_LINE:
        return finding(rules.LINE, at, f"The line has {len(line)} bytes.", "A mark fits on one short line.")
    try:
        data = json.loads(line.decode("utf-8"))
    except UnicodeDecodeError as error:
        where = Place(at.file, at.line, error.start + 1)
        return finding(rules.LINE, where, "The line is not UTF-8.", "Save the log as UTF-8.")
    except json.JSONDecodeError as error:
        where = Place(at.file, at.line, error.colno)
        return finding(
            rules.LINE,
            where,
            f"The line is not JSON: {error.msg.lower()}.",
            "Correct it, or delete the line.",
        )
    except (RecursionError, ValueError):
        return finding(rules.LINE, at, "The line is not a mark.", "Correct it, or delete the line.")
    if not isinstance(data, dict):
        return finding(
            rules.LINE, at, "The line is JSON, but no object.", 'Write {"time": ..., "kind": ...}.'
        )
    for name, value in data.items():
        if name not in FIELDS:
            return finding(rules.FIELD, at, f"'{name}' is no field of a mark.", did_you_mean(name, FIELDS))
        if not isinstance(value, str):
            return finding(rules.FIELD, at, f"'{name}' is not text.", f'Write "{name}": "...".')
    return read_mark(**{"time": "", "kind": "", "step": "", "text": "", **data}, at=at)
