"""The deal's deadlines, counted back from the day of publishing. No clock is read: all days come from the plan.

**How working days are counted.** Monday to Friday, without the plan's `holidays`. `approval: 5 working days` gives
the sponsor five whole ones: the draft is in the sponsor's hands when the first of them begins, and the episode goes out
on the day after the last. For a Friday with no holiday in between that is the Friday before.

**Rounds of changes.** Each round that the deal allows takes the sponsor's days once more, and one working day before
them for your changes. The plan provides for every round, used or not. (The one day: common practice, no source.)

**The link.** The day of publishing is not counted: 30 days from the 1st end with the 31st, so the link has been there
for 30 times 24 hours whatever the hour of publishing.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from datetime import date, timedelta

from episodekit.base.findings import Finding, finding
from episodekit.base.text import counted
from episodekit.job.contract import Read
from episodekit.job.model import Plan
from episodekit.pack import rules

CHANGES = 1  # working days between the sponsor's answer and the changed draft

_DAYS = ("Mon", "Tue", "Wed", "Thu", "Fri", "Sat", "Sun")
_MONTHS = ("Jan", "Feb", "Mar", "Apr", "May", "Jun", "Jul", "Aug", "Sep", "Oct", "Nov", "Dec")


@dataclass(frozen=True)
class Deadline:
    """A day on which something is due. `read` is the read's name, "" if it concerns the whole episode.

    `why` says how the day was counted. Within a read `what` is told once, so the two name a deadline.
    """

    day: date
    what: str
    read: str
    why: str


def written(day: date) -> str:
    """A day as pages and the terminal write it; never in the machine's own language.

    >>> written(date(2026, 12, 11))
    'Fri 11 Dec 2026'
    """
    return f"{_DAYS[day.weekday()]} {day.day} {_MONTHS[day.month - 1]} {day.year:04d}"


def _short(day: date) -> str:
    """A day beside one that is written with its year."""
    return written(day).rpartition(" ")[0]


def is_working_day(day: date, holidays: frozenset[date] = frozenset()) -> bool:
    """Whether it is a Monday to Friday and no holiday."""
    return day.weekday() < 5 and day not in holidays


def first_of(count: int, before: date, holidays: frozenset[date] = frozenset()) -> date:
    """The first of `count` whole working days that end on the eve of a day; the day itself for none.

    Raises OverflowError before the year 1.

    >>> first_of(5, date(2026, 12, 18))
    datetime.date(2026, 12, 11)
    """
    day = before
    while count > 0:
        day -= timedelta(days=1)
        count -= is_working_day(day, holidays)
    return day


def deadlines(plan: Plan) -> tuple[Deadline, ...]:
    """All deadlines in the order of their days; none as long as the day of publishing is not set.

    A day that no calendar has is left out; `check_deadlines` tells of it.
    """
    publish = plan.front.publish
    if publish is None:
        return ()
    found: list[Deadline] = []
    for name, read in plan.front.reads.items():
        for one in (*_drafts(plan, name, read, publish), *_link(plan, name, read, publish)):
            if isinstance(one, Deadline):
                found.append(one)
    if found:
        found.append(Deadline(publish, "publish", "", "as set in the plan"))
    return tuple(sorted(found, key=lambda one: (one.day, one.read == "", one.read, one.what)))


def check_deadlines(plan: Plan) -> tuple[Finding, ...]:
    """What cannot be counted, or is counted but makes no sense."""
    found: list[Finding] = []
    for name, read in plan.front.reads.items():
        if read.revisions is not None and read.revisions.high and not read.approval:
            said = f"The read '{name}' allows {counted(read.revisions.high, 'round')} of changes, of unknown length."
            remedy = "Add `approval: 3 working days`, or as many as the sponsor takes to answer."
            found.append(finding(rules.ROUNDS, plan.where("reads", name, "revisions"), said, remedy))
        if read.approval == 0:
            said = f"'{read.sponsor}' has no working day to approve the draft."
            remedy = "Write how many it has, or leave `approval` out if none is agreed."
            found.append(finding(rules.SAME_DAY, plan.where("reads", name, "approval"), said, remedy))
        if read.link_stays == 0:
            said = f"The link of the read '{name}' stays for 0 days."
            remedy = "Write how long it stays, or leave `link stays` out."
            found.append(finding(rules.LINK_GONE, plan.where("reads", name, "link stays"), said, remedy))
        if plan.front.publish is not None:
            days = (
                *_drafts(plan, name, read, plan.front.publish),
                *_link(plan, name, read, plan.front.publish),
            )
            found += [one for one in days if isinstance(one, Finding)]
    return tuple(found)


def _drafts(plan: Plan, name: str, read: Read, publish: date) -> Iterator[Deadline | Finding]:
    """Each draft that the sponsor sees, the last first."""
    if not read.approval:
        return
    holidays = frozenset(plan.front.holidays)
    rounds = read.revisions.high if read.revisions is not None else 0
    before = publish
    for number in range(rounds + 1, 0, -1):
        try:
            day = first_of(read.approval, before, holidays)
            last = first_of(1, before, holidays)
            changes = first_of(CHANGES, day, holidays) if number > 1 else day
        except OverflowError:
            said = f"The draft of the read '{name}' would be due before the year 1."
            remedy = "Correct the year in `publish`."
            yield finding(rules.NO_DAY, plan.where("reads", name, "approval"), said, remedy)
            return
        what = f"draft {number} of {rounds + 1} to {read.sponsor}" if rounds else f"draft to {read.sponsor}"
        span = _short(day) if day == last else f"{_short(day)} to {_short(last)}"
        why = f"in hand when the day begins; {counted(read.approval, 'whole working day')} to answer: {span}"
        if number > 1:
            why += f"; your changes: {_short(changes)}"
        yield Deadline(day, what, name, why)
        before = changes


def _link(plan: Plan, name: str, read: Read, publish: date) -> Iterator[Deadline | Finding]:
    """The last day on which the link has to be there."""
    if not read.link_stays:
        return
    try:
        day = publish + timedelta(days=read.link_stays)
    except OverflowError:
        said = f"The link of the read '{name}' would stay beyond the year 9999."
        yield finding(
            rules.NO_DAY, plan.where("reads", name, "link stays"), said, "Correct the year in `publish`."
        )
        return
    why = f"{counted(read.link_stays, 'day')} after publishing on {written(publish)}, that day not counted"
    yield Deadline(day, f"last day of the link to {read.sponsor}", name, why)
