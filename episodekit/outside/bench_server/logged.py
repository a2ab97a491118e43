"""A mark and its line in bench.jsonl: written, read back, and known again when it comes a second time."""

from __future__ import annotations

import json
from dataclasses import dataclass
from datetime import UTC, datetime, timedelta, timezone

from episodekit.base.time import Ms
from episodekit.bench.model import Mark
from episodekit.formats.bench_jsonl import mark_line
from episodekit.formats.bench_posted import Posted

_SAME_PRESS = 60_000
"""A mark that comes again may have been mended by hand meanwhile, or its time bettered; in ms."""


@dataclass(frozen=True)
class LoggedMark:
    """A mark of the log. `at` is in ms since 1970, None if its time is a place in a clip or has no offset."""

    mark: Mark
    at: float | None


def is_same(one: Posted, known: LoggedMark | Posted) -> bool:
    """Whether a mark that bears a known id is that mark, come again."""
    if isinstance(known, Posted):
        return one == known
    mark = known.mark
    near = known.at is None or abs(one.at - known.at) <= _SAME_PRESS
    return near and (mark.kind is one.kind or mark.step == one.step)


def line_of(one: Posted, offset: timedelta | None) -> str:
    """A mark as a line of the log, without its end."""
    time = rfc3339(one.at, offset)
    return mark_line(id=one.id, time=time, kind=one.kind, step=one.step, text=one.text, of=one.of)


def rfc3339(at: Ms, offset: timedelta | None) -> str:
    """An instant in ms since 1970 as RFC 3339 to the ms, at an offset from UTC or at this machine's.

    >>> rfc3339(Ms(1_794_063_600_120), timedelta(hours=-5))
    '2026-11-07T10:00:00.120-05:00'
    """
    instant = datetime(1970, 1, 1, tzinfo=UTC) + timedelta(milliseconds=at)
    there = instant.astimezone(None if offset is None else timezone(offset))
    return there.isoformat(timespec="milliseconds")


def instant_of(mark: Mark, offset: timedelta | None) -> float | None:
    """When a mark of the log was, in ms since 1970; None if its time is a place in a clip or has no offset."""
    if not isinstance(mark.when, datetime):
        return None
    when = mark.when
    if when.tzinfo is None:
        if offset is None:
            return None
        when = when.replace(tzinfo=timezone(offset))
    return (when - datetime(1970, 1, 1, tzinfo=UTC)) / timedelta(milliseconds=1)


def id_in(line: bytes) -> str:
    """The id in a line that may be no mark, or ""."""
    try:
        data = json.loads(line)
    except (ValueError, RecursionError):
        return ""
    name = data.get("id") if isinstance(data, dict) else None
    return name if isinstance(name, str) else ""
