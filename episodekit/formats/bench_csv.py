"""bench.csv: the bench log typed by hand in a spreadsheet, with the columns time, kind, step, text; camera
and box for private marks; id and of where an undo is to name a mark.

Separated by commas or semicolons, as spreadsheets save in different countries.
"""

from __future__ import annotations

import csv
import io

from episodekit.base.findings import Finding, did_you_mean, finding
from episodekit.base.place import Place
from episodekit.bench import rules
from episodekit.bench.marks import FIELDS, hidden_from, may_hide, read_mark
from episodekit.bench.model import Mark


def read_bench_csv(raw: bytes, file: str = "bench.csv") -> tuple[tuple[Mark, ...], tuple[Finding, ...]]:
    """The marks in the order of the file, and what is wrong with the rows left out."""
    try:
        text = raw.decode("utf-8-sig")
    except UnicodeDecodeError as error:
        line = raw[: error.start].count(b"\n") + 1
        at = Place(file, line, 1)
        return (), (
            _whole(finding(rules.LINE, at, "The file is not UTF-8.", "Save it as CSV in UTF-8."), raw),
        )
    if not text.strip():
        return (), ()
    header = next((line for line in text.splitlines() if line.strip(" ,;\t")), "")
    separator = ";" if header.count(";") > header.count(",") else ","
    reader = csv.reader(io.StringIO(text.replace("\x00", "")), delimiter=separator)
    marks: list[Mark] = []
    findings: list[Finding] = []
    columns: list[str] = []
    line = 0
    try:
        for row in reader:
            at = Place(file, line + 1, 1)  # a row with line breaks stands where it begins
            line = reader.line_num
            if not any(cell.strip() for cell in row):
                continue
            if not columns:
                columns = [cell.strip().lower() for cell in row]
                problem = _header(columns, at)
                if problem is not None:
                    return (), (_whole(problem, raw),)
                continue
            if len(row) > len(columns):
                said = f"The row has {len(row)} cells, the header {len(columns)}."
                wrong = finding(rules.LINE, at, said, "Put quotes around a text that holds a separator.")
                findings.append(hidden_from(wrong) if may_hide(" ".join(row)) else wrong)
                continue
            cells = dict(zip(columns, row, strict=False))
            mark = read_mark(
                time=cells.get("time", ""),
                kind=cells.get("kind", ""),
                step=cells.get("step", ""),
                text=cells.get("text", ""),
                camera=cells.get("camera", ""),
                box=cells.get("box", ""),
                id=cells.get("id", ""),
                of=cells.get("of", ""),
                at=at,
            )
            if isinstance(mark, Finding):
                findings.append(mark)
            else:
                marks.append(mark)
    except csv.Error as error:
        at = Place(file, reader.line_num, 1)
        wrong = finding(rules.LINE, at, f"The row cannot be read: {error}.", "Check the quotes.")
        findings.append(_whole(wrong, raw))
    return tuple(marks), tuple(findings)


def _whole(found: Finding, raw: bytes) -> Finding:
    """What keeps the rest of the file from being read, as a finding that stops the draft if it may hide something."""
    return hidden_from(found) if may_hide(raw.decode("utf-8", "replace")) else found


def _header(columns: list[str], at: Place) -> Finding | None:
    if not set(columns) & set(FIELDS):
        said = "The first line does not name the columns."
        return finding(rules.FIELD, at, said, "Put `time,kind,step,text` above it.")
    for name in columns:
        if name not in FIELDS:
            return finding(
                rules.FIELD, at, f"'{name}' is no column of a bench log.", did_you_mean(name, FIELDS)
            )
    missing = [name for name in ("time", "kind") if name not in columns]
    if missing:
        return finding(
            rules.FIELD, at, f"There is no column '{missing[0]}'.", "Start with: time,kind,step,text"
        )
    return None
