"""How single values of the front matter are written: each a reader of text and its published schema."""

from __future__ import annotations

import re
from collections.abc import Callable, Mapping
from datetime import date, timedelta
from fractions import Fraction
from typing import Annotated, Any

from pydantic import (
    AfterValidator,
    BaseModel,
    BeforeValidator,
    ConfigDict,
    Field,
    StringConstraints,
    WithJsonSchema,
)

from episodekit.base.box import Box
from episodekit.base.time import Ms, Rate
from episodekit.job import units


class Frozen(BaseModel):
    """A value that never changes and refuses fields it does not know."""

    model_config = ConfigDict(
        frozen=True, extra="forbid", arbitrary_types_allowed=True, populate_by_name=True
    )


def _written(
    read: Callable[[str], Any], pattern: str, example: str, *, number: bool = False
) -> tuple[Any, ...]:
    """The two annotations of a value that is written as text: its reader and its published schema.

    `number` lets an editor's checker accept a bare YAML number, as in "frame rate: 30".
    """

    def from_text(value: object) -> object:
        if isinstance(value, Mapping | list | tuple):
            raise ValueError(f"this is written as one value; write {example}")
        return read(value) if isinstance(value, str) else value

    text: dict[str, Any] = {"type": "string", "pattern": pattern}
    schema = {"anyOf": [text, {"type": "number"}]} if number else text
    return BeforeValidator(from_text), WithJsonSchema({**schema, "examples": [example]})


def _shutter(text: str) -> Fraction:
    match = re.fullmatch(r"1/(\d{1,5})(?:\s*s)?", text.strip())
    if match is None or int(match[1]) == 0:
        raise ValueError(f"'{text}' is not a shutter time; write 1/60")
    return Fraction(1, int(match[1]))


def _mains(text: str) -> int:
    match = re.fullmatch(r"(50|60)\s*Hz", text.strip())
    if match is None:
        raise ValueError(f"'{text}' is not a mains frequency; write 50 Hz or 60 Hz")
    return int(match[1])


def _utc_offset(text: str) -> timedelta:
    match = re.fullmatch(r"([+-])(\d{2}):(\d{2})", text.strip())
    if match is None or int(match[2]) > 14 or int(match[3]) > 59:
        raise ValueError(f"'{text}' is not an offset from UTC; write -05:00 or +01:00")
    size = timedelta(hours=int(match[2]), minutes=int(match[3]))
    return -size if match[1] == "-" else size


def _disclosure(text: str) -> frozenset[str]:
    words = set(re.split(r"\s+and\s+|\s*,\s*", text.strip()))
    if not words or not words <= {"heard", "seen"}:
        raise ValueError(f"'{text}' is not a disclosure; write heard, seen, or heard and seen")
    return frozenset(words)


def _yes_or_no(text: str) -> bool:
    if text.strip().lower() not in {"yes", "no"}:
        raise ValueError(f"'{text}' is neither yes nor no; write yes or no")
    return text.strip().lower() == "yes"


def _link(text: str) -> str:
    if not re.fullmatch(r"https?://[^\s/]+\.[^\s]+", text.strip()):
        raise ValueError(f"'{text}' is not an address; write it in full, with https:// in front")
    return text.strip()


def _date(text: str) -> date:
    try:
        return date.fromisoformat(text.strip())
    except ValueError:
        raise ValueError(f"'{text}' is not a date; write 2026-12-18") from None


def at_most(length: str) -> AfterValidator:
    """A length of time that may not be longer than this one."""
    most = units.duration(length)

    def check(value: Ms) -> Ms:
        if value > most:
            raise ValueError(f"it is longer than {length}; write at most {length}")
        return value

    return AfterValidator(check)


def at_least(length: str) -> AfterValidator:
    """A length of time that may not be shorter than this one."""
    least = units.duration(length)

    def check(value: Ms) -> Ms:
        if value < least:
            raise ValueError(f"it is shorter than {length}; write at least {length}")
        return value

    return AfterValidator(check)


def whole(low: int, high: int, example: str) -> Any:
    """An annotation for a whole number in a range, written with or without quotes."""

    def read(text: object) -> object:
        if isinstance(text, Mapping | list | tuple):
            raise ValueError(f"this is written as one value; write {example}")
        if not isinstance(text, str):
            return text
        if not re.fullmatch(r"\d{1,7}", text.strip()) or not low <= int(text) <= high:
            raise ValueError(f"'{text}' is not a whole number from {low} to {high}; write {example}")
        return int(text)

    return BeforeValidator(read)


Duration = Annotated[Ms, *_written(units.duration, r"^[0-9.]+ ?[a-z]|^[0-9]+:[0-9]", "2.5 s")]
DurationRange = Annotated[units.Range, *_written(units.duration_range, r"^[0-9].*[0-9]", "17:00-19:00")]
StartWindow = Annotated[units.Window, *_written(units.window, r"^(after |before |[0-9])", "1:00 to 25%")]
FrameRate = Annotated[Rate, *_written(Rate.parse, r"^[0-9]", "29.97", number=True)]
Size = Annotated[tuple[int, int], *_written(units.picture_size, r"^[0-9]+ ?[x×] ?[0-9]+$", "1280x720")]
Pace = Annotated[Fraction, *_written(units.words_a_minute, r"^[0-9]+(\.[0-9]+)? ?wpm$", "150 wpm")]
Spread = Annotated[Fraction, *_written(units.share, r"^[0-9]+(\.[0-9]+)? ?%$", "18%")]
Pause = Annotated[Duration, at_most("5 s")]
Lead = Annotated[Duration, at_most("60 s")]
Few = Annotated[int, Field(ge=1, le=100), whole(1, 100, "3")]
FirstLines = Annotated[int, Field(ge=1, le=5000), whole(1, 5000, "157")]
LongestText = Annotated[int, Field(ge=100, le=100_000), whole(100, 100_000, "5000")]
SpeedRange = Annotated[units.Speeds, *_written(units.speeds, r"^[0-9.]+x? ?(-|–|to) ?[0-9.]+x$", "2-4x")]
ClockOffset = Annotated[Fraction, *_written(units.clock_offset, r"^[0-9].*(behind|ahead)$", "3.2 s behind")]
Shutter = Annotated[Fraction, *_written(_shutter, r"^1/[0-9]+", "1/60")]
MainsFrequency = Annotated[int, *_written(_mains, r"^(50|60) ?Hz$", "60 Hz")]
UtcOffset = Annotated[timedelta, *_written(_utc_offset, r"^[+-][0-9]{2}:[0-9]{2}$", "-05:00")]
Disclosure = Annotated[
    frozenset[str], *_written(_disclosure, r"^(heard|seen|heard and seen|seen and heard)$", "heard and seen")
]
Text = Annotated[str, StringConstraints(strip_whitespace=True, min_length=1, max_length=500)]
Currency = Annotated[str, StringConstraints(pattern=r"^[A-Z]{3}$")]
YesNo = Annotated[bool, *_written(_yes_or_no, r"^(yes|no)$", "yes")]
Date = Annotated[date, *_written(_date, r"^[0-9]{4}-[0-9]{2}-[0-9]{2}$", "2026-12-18")]
WorkingDays = Annotated[int, *_written(units.working_days, r"^[0-9]+ working days?$", "5 working days")]
Days = Annotated[int, *_written(units.days, r"^[0-9]+ days?$", "30 days")]
Count = Annotated[units.Counts, *_written(units.counts, r"^[0-9]+( ?(-|–|to) ?[0-9]+)?$", "2-4", number=True)]
_BOX = r"^([0-9.]+ ?%[ ,]+[0-9.]+ ?% ?(to|-) ?[0-9.]+ ?%[ ,]+[0-9.]+ ?%|whole picture)$"
PictureBox = Annotated[Box, *_written(units.box, _BOX, "60% 5% to 95% 15%")]
Points = Annotated[int, *_written(units.points, r"^[0-9]+$", "30", number=True)]
Link = Annotated[str, *_written(_link, r"^https?://", "https://larkspur.example/pocket")]
