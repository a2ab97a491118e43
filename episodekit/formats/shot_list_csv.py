"""shot-list.csv: the numbered shots in screen order, for a spreadsheet or a phone. RFC 4180, UTF-8.

Carries no pictures of the timeline: speeds, holds and slates are in plan.json.
"""

from __future__ import annotations

import csv
import io

from episodekit.base.text import no_formula
from episodekit.formats.plan_document import PlanDocument

COLUMNS = (
    "shot",
    "filming order",
    "section",
    "step",
    "title",
    "kind",
    "what",
    "camera",
    "view",
    "screen s",
    "asked s",
    "bench min",
    "beats",
    "filmed",
    "no return",
    "cautions",
)


def write_shot_list_csv(document: PlanDocument) -> str:
    """The table. Screen time in seconds with one decimal, as laid; what is asked of a must-show or
    b-roll in seconds; bench time in minutes; empty where unknown."""
    out = io.StringIO()
    writer = csv.writer(out)
    writer.writerow(COLUMNS)
    turn = {
        number: index for index, number in enumerate((n for s in document.set_ups for n in s.shots), start=1)
    }
    steps = {step.id: step for step in reversed(document.steps)}
    sections = {section.id: section.title for section in document.sections}
    for shot in document.shots:
        step = steps[shot.step]
        writer.writerow(
            no_formula(cell)
            for cell in (
                str(shot.number),
                str(turn[shot.number]),
                sections[step.section],
                step.id,
                step.title,
                shot.kind,
                shot.what,
                shot.camera,
                shot.view,
                f"{shot.screen_ms / 1000:.1f}",
                "" if shot.asked_ms is None else f"{shot.asked_ms / 1000:g}",
                "" if shot.bench_ms is None else f"{shot.bench_ms / 60_000:g}",
                " ".join(shot.beats),
                "yes" if shot.filmed else "no",
                "yes" if shot.no_return else "",
                "; ".join(shot.cautions),
            )
        )
    return out.getvalue()
