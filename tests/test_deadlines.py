"""The deal's days: working days against numpy's calendar, the order of drafts, and the calendar read by others."""

from __future__ import annotations

from collections.abc import Callable
from datetime import date, timedelta
from pathlib import Path

import icalendar
import numpy as np
import pytest
import vobject
from hypothesis import given, settings
from hypothesis import strategies as st

from episodekit.formats.calendar import write_calendar
from episodekit.job.model import Plan
from episodekit.job.reader import read_plan
from episodekit.job.units import Counts
from episodekit.pack.dates import Deadline, check_deadlines, deadlines, first_of, is_working_day, written
from tests.conftest import LAMP, JobFolder, Run

SCENARIOS = Path(__file__).parent / "scenarios"
DAYS = st.dates(date(1970, 1, 1), date(2200, 12, 31))


def plan_with(terms: str, front: str = "publish: 2026-12-18\n", text: str = LAMP) -> Plan:
    """The lamp job with terms for its read and settings of its own."""
    text = text.replace("title: Can", f"{front}title: Can", 1)
    plan, _ = read_plan(text.replace("    length: 8-12 s\n", f"    length: 8-12 s\n{terms}", 1).encode())
    assert plan is not None
    return plan


WITH_APPROVAL = plan_with("    approval: 5 working days\n    revisions: 1\n")


# Source: numpy.busday_offset and numpy.is_busday, NumPy reference, "Datetimes and Timedeltas".
@settings(max_examples=1500)
@given(DAYS, st.integers(0, 60), st.lists(st.integers(-90, 5), max_size=12))
def test_working_days_are_counted_as_numpy_counts_them(before: date, count: int, near: list[int]) -> None:
    holidays = sorted({before + timedelta(days=offset) for offset in near})
    listed = np.array(holidays, dtype="datetime64[D]")
    found = first_of(count, before, frozenset(holidays))
    if count:
        day = np.busday_offset(np.datetime64(before), -count, roll="forward", holidays=listed)
        assert found == day.astype(date)
        assert np.busday_count(np.datetime64(found), np.datetime64(before), holidays=listed) == count
    else:
        assert found == before
    assert is_working_day(before, frozenset(holidays)) == np.is_busday(np.datetime64(before), holidays=listed)


@settings(max_examples=1000)
@given(DAYS, st.integers(1, 10), st.integers(0, 4), st.lists(st.integers(-90, 5), max_size=8))
def test_each_round_leaves_the_sponsor_its_whole_working_days(
    publish: date, approval: int, rounds: int, near: list[int]
) -> None:
    holidays = sorted({publish + timedelta(days=offset) for offset in near})
    read = WITH_APPROVAL.front.reads["tallow"].model_copy(
        update={"approval": approval, "revisions": Counts(0, rounds)}
    )
    front = {"publish": publish, "holidays": tuple(holidays), "reads": {"tallow": read}}
    plan = WITH_APPROVAL.model_copy(update={"front": WITH_APPROVAL.front.model_copy(update=front)})
    days = [d.day for d in deadlines(plan) if d.what.startswith("draft")]
    assert len(days) == rounds + 1
    listed = np.array(holidays, dtype="datetime64[D]")
    # Between two drafts: the sponsor's days and one for the changes. After the last: the sponsor's days alone.
    apart = [
        int(np.busday_count(np.datetime64(a), np.datetime64(b), holidays=listed))
        for a, b in zip(days, [*days[1:], publish], strict=True)
    ]
    assert apart == [approval + 1] * rounds + [approval]
    assert all(np.is_busday(np.datetime64(day), holidays=listed) for day in days)


def test_five_working_days_before_a_friday_are_the_friday_before() -> None:
    plan = plan_with("    approval: 5 working days\n    link stays: 30 days\n")
    assert [(written(d.day), d.what) for d in deadlines(plan)] == [
        ("Fri 11 Dec 2026", "draft to Tallow Tools"),
        ("Fri 18 Dec 2026", "publish"),
        ("Sun 17 Jan 2027", "last day of the link to Tallow Tools"),
    ]
    assert "Fri 11 Dec to Thu 17 Dec" in deadlines(plan)[0].why


def test_publishing_on_a_sunday_leaves_the_sponsor_the_week_before() -> None:
    plan = plan_with("    approval: 5 working days\n", "publish: 2026-12-20\n")
    assert deadlines(plan)[0].day == date(2026, 12, 14)


def test_no_deal_no_deadlines() -> None:
    assert deadlines(plan_with("")) == ()
    assert deadlines(plan_with("    approval: 5 working days\n", "")) == ()


@pytest.mark.parametrize(
    ("terms", "publish", "code", "where", "says"),
    [
        ("    revisions: 2\n", "2026-12-18", "PACK-ROUNDS", "revisions", "2 rounds"),
        ("    approval: 0 working days\n", "2026-12-18", "PACK-SAME-DAY", "approval", "no working day"),
        ("    link stays: 0 days\n", "2026-12-18", "PACK-LINK-GONE", "link stays", "0 days"),
        ("    approval: 5 working days\n", "0001-01-03", "PACK-NO-DAY", "approval", "before the year 1"),
        ("    link stays: 30 days\n", "9999-12-18", "PACK-NO-DAY", "link stays", "beyond the year 9999"),
    ],
)
def test_days_that_make_no_sense_are_told_at_their_line(
    terms: str, publish: str, code: str, where: str, says: str
) -> None:
    plan = plan_with(terms, f"publish: {publish}\n")
    (found,) = check_deadlines(plan)
    assert found.code == code
    assert found.at == plan.where("reads", "tallow", where)
    assert says in found.message
    assert found.remedy
    assert not [d for d in deadlines(plan) if d.what != "publish" and code == "PACK-NO-DAY"]


def test_calendar_is_read_back_by_another_reader() -> None:
    # Source: RFC 5545; vobject is a reader of its own, and icalendar's strict reading finds no error.
    name = (
        "Tools, Ltd; née \\\\ Tallow &amp; Söhne GmbH, makers of drivers with a very long shaft 🔧 since 1899"
    )
    plan = plan_with(
        "    approval: 3 working days\n    revisions: 1\n    link stays: 9 days\n",
        text=LAMP.replace("sponsor: Tallow Tools", f"sponsor: '{name}'"),
    )
    dated = deadlines(plan)
    text = write_calendar(plan, dated)
    read = vobject.readOne(text)
    assert [(e.dtstart.value, e.description.value) for e in read.vevent_list] == [
        (d.day, f"{d.why}.") for d in dated
    ]
    assert [e.summary.value for e in read.vevent_list] == [
        f"{d.what[:1].upper()}{d.what[1:]}: {plan.front.title}" for d in dated
    ]
    assert all(e.dtend.value - e.dtstart.value == timedelta(days=1) for e in read.vevent_list)
    assert len({e.uid.value for e in read.vevent_list}) == len(dated) == 4
    assert not any(event.errors for event in icalendar.Calendar.from_ical(text).walk())
    # Lines of 75 octets at most, each ended by CR LF (3.1).
    assert text.endswith("\r\n")
    assert max(len(line.encode()) for line in text.split("\r\n")) <= 75
    assert "\n" not in text.replace("\r\n", "")


def test_calendar_keeps_its_names_when_the_day_moves_and_its_bytes_when_it_does_not() -> None:
    def made(publish: str) -> tuple[str, set[str]]:
        plan = plan_with("    approval: 3 working days\n", f"publish: {publish}\n")
        text = write_calendar(plan, deadlines(plan))
        return text, {e.uid.value for e in vobject.readOne(text).vevent_list}

    first, again, moved = made("2026-12-18"), made("2026-12-18"), made("2027-01-08")
    assert first == again
    assert moved[0] != first[0]
    assert moved[1] == first[1]


def test_last_day_of_the_calendar_can_be_written() -> None:
    plan = plan_with("    link stays: 30 days\n", "publish: 9999-12-01\n")
    (_, last) = deadlines(plan)
    assert last == Deadline(date(9999, 12, 31), last.what, "tallow", last.why)
    assert "99991231" in write_calendar(plan, [last])


def test_plan_writes_the_calendar_tells_the_days_and_takes_it_away_again(
    job: JobFolder, run: Callable[..., Run]
) -> None:
    calendar = job.root / "out" / "pack" / "deadlines.ics"
    deal = LAMP.replace("title: Can", "publish: 2026-12-18\ntitle: Can").replace(
        "    length: 8-12 s\n", "    length: 8-12 s\n    approval: 5 working days\n"
    )
    job.write("job.md", deal)
    done = run("plan", job.root)
    assert "Fri 11 Dec 2026: draft to Tallow Tools" in done.out
    assert "pack/deadlines.ics" in done.out
    first = calendar.read_bytes()
    assert len(vobject.readOne(first.decode()).vevent_list) == 2
    page = (job.root / "out" / "shot-list.html").read_text()
    assert "Fri 11 Dec 2026</time>" in page
    run("plan", job.root)
    assert calendar.read_bytes() == first
    job.write("job.md", LAMP)
    done = run("plan", job.root)
    assert not calendar.exists()
    assert "deadlines" not in done.out
    assert "Deadlines" not in (job.root / "out" / "shot-list.html").read_text()


# The invented jobs' deals: five working days with a holiday on the way; three, twice, across Thanksgiving; three.
JOBS = {
    "drumlin-speaker": ["2026-08-27", "2026-09-04"],
    "mossgate-handheld": ["2026-11-24", "2026-12-01", "2026-12-04", "2027-01-03"],
    "tarnvale-lathe": ["2026-07-13", "2026-07-17"],
}


@pytest.mark.parametrize("name", JOBS)
def test_deadlines_of_the_whole_jobs_counted_by_hand_on_a_calendar(name: str) -> None:
    plan, _ = read_plan((SCENARIOS / name / "job.md").read_bytes())
    assert plan is not None
    assert [d.day.isoformat() for d in deadlines(plan)] == JOBS[name]
