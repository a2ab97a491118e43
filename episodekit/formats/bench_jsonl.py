"""bench.jsonl: one JSON object a line, only ever appended. A line that cannot be read costs only itself."""

from __future__ import annotations

import json

from episodekit.base.findings import Finding, did_you_mean, finding
from episodekit.base.place import Place
from episodekit.bench import rules
from episodekit.bench.marks import FIELDS, hidden_from, may_hide, read_mark
from episodekit.bench.model import Mark

LONGEST_LINE = 20_000


def read_bench_jsonl(raw: bytes, file: str = "bench.jsonl") -> tuple[tuple[Mark, ...], tuple[Finding, ...]]:
    """The marks in the order of the file, and what is wrong with the lines left out.

    Blank lines are skipped. Every field is text; all but `time` and `kind` may be left out. A broken line
    that may have hidden something says so.
    """
    marks: list[Mark] = []
    findings: list[Finding] = []
    for number, line in enumerate(raw.removeprefix(b"\xef\xbb\xbf").split(b"\n"), start=1):
        at = Place(file, number, 1)
        if not line.strip():
            continue
        mark = _line(line, at)
        if isinstance(mark, Finding):
            hides = may_hide(line.decode("utf-8", "replace"))
            findings.append(hidden_from(mark) if hides else mark)
        else:
            marks.append(mark)
    return tuple(marks), tuple(findings)


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
    return read_mark(
        time=data.get("time", ""),
        kind=data.get("kind", ""),
        step=data.get("step", ""),
        text=data.get("text", ""),
        camera=data.get("camera", ""),
        box=data.get("box", ""),
        at=at,
    )
