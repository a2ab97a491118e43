"""What a deal says in job.md: read as written, refused with place and remedy where it cannot be."""

from __future__ import annotations

from datetime import date

import pytest

from episodekit.job.contract import KeepClear
from episodekit.job.hazards import HAZARDS
from episodekit.job.reader import read_plan

PLAN = """---
title: A dead speaker
publish: 2026-12-18
holidays: [2026-12-08]
reads:
  ledgerleaf:
    sponsor: Ledgerleaf
    must say: [reads the receipt | receipt from a photo]
    never say: [never strips]
    code: BENCH
    code shown: 5 s
    link: https://ledgerleaf.example/bench
    link pays: yes
    link stays: 30 days
    goods: a year of the program
    approval: 5 working days
    revisions: 1
    marker: yes
    keep clear of: {cell: 30 s, ad break: 60 s}
ad breaks: {count: 2-4, apart: 4-6 min}
free goods:
  iron: {from: Ashbourne Tools, what: a soldering iron}
chapters: {apart: 1-3 min, most: 12}
preferences: {near goods: 80}
---
# Open
> It is dead.
# Solder
- uses: iron, ledgerleaf
- failure: the pad lifts
> I solder it.
# Read
- read: ledgerleaf
> Paid for by Ledgerleaf. Code BENCH.
"""


def test_a_deal_is_read_as_written() -> None:
    plan, findings = read_plan(PLAN.encode())
    assert plan is not None
    assert findings == ()
    read = plan.front.reads["ledgerleaf"]
    assert (read.approval, read.link_stays, read.link_pays, read.code) == (5, 30, True, "BENCH")
    assert read.keep_clear_of.distances() == {
        "hazard": 5000,
        "caution": 5000,
        "ad break": 60_000,
        "cell": 30_000,
    }
    assert plan.front.publish == date(2026, 12, 18)
    assert plan.front.ad_breaks is not None
    assert (plan.front.ad_breaks.count.low, plan.front.ad_breaks.count.high) == (2, 4)
    assert plan.front.free_goods["iron"].giver == "Ashbourne Tools"
    assert plan.steps[1].uses == ("iron", "ledgerleaf")
    assert plan.steps[1].failure == "the pad lifts"


@pytest.mark.parametrize(
    ("old", "new", "code", "remedy"),
    [
        ("5 working days", "5", "JOB-VALUE", "Write 5 working days"),
        ("30 days", "a month", "JOB-VALUE", "Write 30 days"),
        ("2026-12-18", "18.12.2026", "JOB-VALUE", "Write 2026-12-18"),
        ("[2026-12-08]", "[8 December]", "JOB-VALUE", "Write 2026-12-18"),
        ("    code: BENCH\n", "", "JOB-VALUE", "Add `code: ...`"),
        ("pays: yes", "pays: sometimes", "JOB-VALUE", "Write yes or no"),
        ("2-4", "4-2", "JOB-VALUE", "smaller number first"),
        ("2-4", "many", "JOB-VALUE", "Write 2 or 2-4"),
        ("{cell:", "{cells:", "JOB-KEY", "'cell'"),
        ("near goods: 80", "near goods: 8000", "JOB-VALUE", "from 0 to 1000"),
        ("uses: iron, ", "uses: irn, ", "JOB-NAME", "'iron'"),
        ("iron: {from", "ledgerleaf: {from", "JOB-TWICE", "another name"),
        ("publish: 2026-12-18\n", "", "JOB-NO-DATE", "Add `publish"),
        ("https://ledgerleaf.example/bench", "ledgerleaf.example", "JOB-VALUE", "https://"),
    ],
)
def test_a_deal_that_cannot_be_read_says_where_and_what_to_write(
    old: str, new: str, code: str, remedy: str
) -> None:
    assert PLAN.count(old) >= 1
    plan, findings = read_plan(PLAN.replace(old, new, 1).encode())
    assert plan is not None
    first = next(f for f in findings if f.code == code)
    assert remedy in first.remedy
    assert first.at.line > 1


def test_every_hazard_can_be_kept_clear_of() -> None:
    assert set(HAZARDS) <= set(KeepClear.model_fields)
