"""deadlines.ics: the deal's deadlines as all-day entries, for any calendar program. iCalendar (RFC 5545).

Carries no alarm, no time of day and no person. The same plan gives the same bytes: the stamp of each entry is the day
of publishing rather than a clock, and its name comes from title, read and purpose, so that a file taken in again moves
the entries that are there instead of adding others.
"""

from __future__ import annotations

from collections.abc import Sequence
from datetime import UTC, datetime, time, timedelta
from uuid import NAMESPACE_URL, uuid5

from icalendar import Calendar, Event

from episodekit.job.model import Plan
from episodekit.pack.dates import Deadline


def write_calendar(plan: Plan, deadlines: Sequence[Deadline]) -> str:
    """The file's text, with the line ends CR LF that the format asks for. Needs the day of publishing."""
    assert plan.front.publish is not None
    calendar = Calendar()
    calendar.add("prodid", "-//episodekit//deadlines//EN")
    calendar.add("version", "2.0")
    for deadline in deadlines:
        name = "\n".join((plan.front.title, deadline.read, deadline.what))
        event = Event()
        event.add("uid", f"{uuid5(NAMESPACE_URL, name)}@episodekit.invalid")
        event.add("dtstamp", datetime.combine(plan.front.publish, time(), UTC))
        event.add("dtstart", deadline.day)
        if deadline.day.year < 9999:  # an end is the day after, which the last year may not have
            event.add("dtend", deadline.day + timedelta(days=1))
        event.add("summary", f"{deadline.what[:1].upper()}{deadline.what[1:]}: {plan.front.title}")
        event.add("description", f"{deadline.why}.")
        event.add("transp", "TRANSPARENT")
        calendar.add_component(event)
    return str(calendar.to_ical(), "utf-8")
