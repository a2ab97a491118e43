"""proof-NAME.csv: a read's terms for a spreadsheet. RFC 4180, UTF-8. Carries no frames."""

from __future__ import annotations

import csv
import io

from episodekit.base.text import no_formula
from episodekit.pack.sheet import Sheet

COLUMNS = ("term", "asks", "result", "where", "measured", "words", "to do")


def write_proof_csv(sheet: Sheet) -> str:
    """The table, a row a term. `where` is a place in the video in minutes and seconds."""
    out = io.StringIO()
    writer = csv.writer(out)
    writer.writerow(COLUMNS)
    for term in sheet.terms:
        row = (term.name, term.asks, term.met.value, term.where, term.measured, term.words, term.todo)
        writer.writerow(no_formula(cell) for cell in row)
    return out.getvalue()
