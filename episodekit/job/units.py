"""Values as a creator writes them: "10 min", "45-55 s", "1:00 to 25%", "3.2 s behind".

Every reader takes text and raises ValueError with a sentence that says what would be accepted. A
number without a unit is refused, never taken for zero or for seconds.
"""

from __future__ import annotations

import re
from dataclasses import dataclass
from fractions import Fraction

from episodekit.base.box import WHOLE_PICTURE, Box
from episodekit.base.time import Ms, nearest

_UNITS = {
    **dict.fromkeys(("ms",), 1),
    **dict.fromkeys(("s", "sec", "secs", "second", "seconds"), 1000),
    **dict.fromkeys(("min", "mins", "minute", "minutes"), 60_000),
    **dict.fromkeys(("h", "hr", "hrs", "hour", "hours"), 3_600_000),
}
_CLOCK = re.compile(r"(?:(\d{1,2}):)?(\d{1,3}):([0-5]\d(?:\.\d{1,3})?)")
_AMOUNT = re.compile(rf"(\d{{1,9}}(?:\.\d{{1,6}})?)\s*({'|'.join(_UNITS)})\b")
_LONGEST = 366 * 24 * 3_600_000
WHOLE = Fraction(1)
DURATION_HELP = "write 10 min, 5 s, 1.5 h or 1:30"


def duration(text: str) -> Ms:
    """A length of time in whole milliseconds (nearest): "10 min", "2 min 30 s", "1.5 h", "1:30", "1:02:03".

    >>> duration("2 min 30 s"), duration("1:02:03")
    (150000, 3723000)
    """
    text = text.strip()
    match = _CLOCK.fullmatch(text)
    if match:
        hours, minutes, seconds = int(match[1] or 0), int(match[2]), Fraction(match[3])
        return _bounded(Fraction(hours * 3600 + minutes * 60 + seconds) * 1000, text)
    if re.fullmatch(r"\d+(\.\d+)?", text):
        raise ValueError(f"'{text}' has no unit; write {text} min or {text} s")
    total = Fraction(0)
    rest = text
    while rest:
        amount = _AMOUNT.match(rest)
        if amount is None:
            raise ValueError(f"'{text}' is not a length of time; {DURATION_HELP}")
        total += Fraction(amount[1]) * _UNITS[amount[2]]
        rest = rest[amount.end() :].strip()
    if not text:
        raise ValueError(f"the length of time is missing; {DURATION_HELP}")
    return _bounded(total, text)


def _bounded(total: Fraction, text: str) -> Ms:
    if total > _LONGEST:
        raise ValueError(f"'{text}' is more than a year; check the number and its unit")
    return Ms(nearest(total))


@dataclass(frozen=True)
class Range:
    """At least `low`, at most `high`, both in ms and both allowed."""

    low: Ms
    high: Ms

    def __contains__(self, value: object) -> bool:
        return isinstance(value, int) and self.low <= value <= self.high


def duration_range(text: str) -> Range:
    """Two lengths: "45-55 s", "17:00-19:00", "60 +-5 s", "60 ± 5 s".

    >>> duration_range("60 +-5 s"), duration_range("17:00-19:00")
    (Range(low=55000, high=65000), Range(low=1020000, high=1140000))
    """
    text = text.strip()
    around = re.fullmatch(r"(.+?)\s*(?:\+-|±|\+/-)\s*(.+)", text)
    if around:
        width = duration(around[2])
        middle = duration(_with_unit(around[1], around[2]))
        if width > middle:
            raise ValueError(f"'{text}' reaches below zero; check the tolerance")
        return Range(Ms(middle - width), Ms(middle + width))
    parts = re.split(r"\s*(?:-|–|\bto\b)\s*", text)
    if len(parts) != 2:
        raise ValueError(f"'{text}' is not a range; write 45-55 s, 17:00-19:00 or 60 +-5 s")
    low, high = duration(_with_unit(parts[0], parts[1])), duration(parts[1])
    if low > high:
        raise ValueError(f"'{text}' runs backwards; write the shorter length first")
    return Range(low, high)


def _with_unit(part: str, other: str) -> str:
    """Lend the unit of the second value to a bare first one, as in "45-55 s"."""
    unit = re.search(r"[a-z]+\s*$", other)
    return f"{part} {unit[0]}" if unit and re.fullmatch(r"\s*\d+(\.\d+)?\s*", part) else part


@dataclass(frozen=True)
class Edge:
    """One end of a window: a time, or a share of the final run time."""

    ms: Ms | None = None
    share: Fraction | None = None

    def at(self, runtime: Ms) -> Ms:
        """The time it means in an episode of this length; a share is rounded to the nearest ms."""
        if self.ms is not None:
            return self.ms
        return Ms(nearest((self.share or Fraction(0)) * runtime))

    def __str__(self) -> str:
        if self.ms is not None:
            return f"{self.ms // 60_000}:{self.ms % 60_000 // 1000:02d}"
        return f"{float((self.share or Fraction(0)) * 100):g}%"


@dataclass(frozen=True)
class Window:
    """Where a read may start: from `low` to `high`, both allowed."""

    low: Edge
    high: Edge

    def __str__(self) -> str:
        return f"{self.low} to {self.high}"


def window(text: str) -> Window:
    """ "1:00 to 25%", "1:00 to 4:00", "after 2:00", "before 25%".

    >>> str(window("before 25%"))
    '0:00 to 25%'
    """
    text = text.strip()
    if text.startswith("after "):
        return Window(_edge(text[6:]), Edge(share=Fraction(1)))
    if text.startswith("before "):
        return Window(Edge(ms=Ms(0)), _edge(text[7:]))
    parts = re.split(r"\s+to\s+|\s*–\s*|\s*-\s*", text)
    if len(parts) != 2:
        raise ValueError(f"'{text}' is not a window; write 1:00 to 25%, after 2:00 or before 25%")
    low, high = _edge(parts[0]), _edge(parts[1])
    if (low.ms is not None and high.ms is not None and low.ms > high.ms) or (
        low.share is not None and high.share is not None and low.share > high.share
    ):
        raise ValueError(f"'{text}' runs backwards; write the earlier end first")
    return Window(low, high)


def _edge(text: str) -> Edge:
    percent = re.fullmatch(r"(\d{1,3}(?:\.\d+)?)\s*%", text.strip())
    if percent:
        share = Fraction(percent[1]) / 100
        if share > 1:
            raise ValueError(f"'{text.strip()}' is more than the whole run time; write 100% or less")
        return Edge(share=share)
    return Edge(ms=duration(text))


def clock_offset(text: str) -> Fraction:
    """Seconds to add to a camera's clock to get true time: "3.2 s behind" adds 3.2, "2 h ahead" takes 2 h off.

    >>> clock_offset("3.2 s behind"), clock_offset("1 h ahead")
    (Fraction(16, 5), Fraction(-3600, 1))
    """
    match = re.fullmatch(r"(.+?)\s+(behind|ahead)", text.strip())
    if match is None:
        raise ValueError(f"'{text}' does not say which way; write 3.2 s behind or 3.2 s ahead")
    seconds = Fraction(duration(match[1]), 1000)
    return seconds if match[2] == "behind" else -seconds


def factor(text: str) -> Fraction:
    """A speed such as "16x"; from 1x to 1000x."""
    match = re.fullmatch(r"(\d{1,4}(?:\.\d+)?)\s*x", text.strip())
    value = Fraction(match[1]) if match else Fraction(0)
    if not 1 <= value <= 1000:
        raise ValueError(f"'{text}' is not a speed; write 16x, from 1x to 1000x")
    return value


@dataclass(frozen=True)
class Speeds:
    """Playback speeds that suit a kind of work: readable at `low`, still legible at `high`."""

    low: Fraction
    high: Fraction


def speeds(text: str) -> Speeds:
    """A range of speeds, such as "2-4x".

    >>> speeds("2-4x")
    Speeds(low=Fraction(2, 1), high=Fraction(4, 1))
    """
    parts = re.split(r"\s*(?:-|–|\bto\b)\s*", text.strip())
    if len(parts) != 2:
        raise ValueError(f"'{text}' is not a range of speeds; write 2-4x")
    low, high = factor(parts[0] if parts[0].endswith("x") else parts[0] + "x"), factor(parts[1])
    if low > high:
        raise ValueError(f"'{text}' runs backwards; write the slower speed first")
    return Speeds(low, high)


def words_a_minute(text: str) -> Fraction:
    """A pace such as "150 wpm" or "158.4 wpm"; from 40 to 400.

    >>> words_a_minute("158.5 wpm")
    Fraction(317, 2)
    """
    match = re.fullmatch(r"(\d{2,3}(?:\.\d{1,3})?)\s*wpm", text.strip())
    if match is None or not 40 <= Fraction(match[1]) <= 400:
        raise ValueError(f"'{text}' is not a pace; write 150 wpm, from 40 to 400 words a minute")
    return Fraction(match[1])


def share(text: str) -> Fraction:
    """A share such as "18%"; from 1% to 60%."""
    match = re.fullmatch(r"(\d{1,2}(?:\.\d{1,2})?)\s*%", text.strip())
    if match is None or not 1 <= Fraction(match[1]) <= 60:
        raise ValueError(f"'{text}' is not a share; write 18%, from 1% to 60%")
    return Fraction(match[1]) / 100


def picture_size(text: str) -> tuple[int, int]:
    """Width and height in pixels, both even, such as "1280x720".

    From 180 pixels on the shorter side, and at most 2.5 times as wide or 2.25 times as tall as that: beyond,
    a disclosure and a caution no longer stand side by side with their words unbroken.
    """
    match = re.fullmatch(r"(\d{2,4})\s*[x×]\s*(\d{2,4})", text.strip())
    if match is None:
        raise ValueError(f"'{text}' is not a picture size; write 1280x720 or 1920x1080")
    width, height = int(match[1]), int(match[2])
    short, long = sorted((width, height))
    if width % 2 or height % 2 or short > 4320 or long > 7680:
        raise ValueError(f"'{text}' cannot be encoded; use even numbers up to 7680x4320")
    if short < 180:
        raise ValueError(f"'{text}' is too small to letter a caution; make the shorter side 180 or more")
    shape, most_times = ("narrow", Fraction(9, 4)) if width < height else ("flat", Fraction(5, 2))
    if long > most_times * short:
        most = int(most_times * short) // 2 * 2
        raise ValueError(
            f"'{text}' is too {shape} to hold a caution beside a disclosure; "
            f"make the longer side {most} or less, {float(most_times):g} times the shorter"
        )
    return width, height


def box(text: str) -> Box:
    """A rectangle of the picture as it is seen, by its upper left and lower right corner, each in percent across
    and percent down: "60% 5% to 95% 15%". "whole picture" is all of it.

    >>> box("0% 5% to 33.3% 10%").right
    Fraction(333, 1000)
    """
    if re.fullmatch(r"(the )?whole picture", text.strip().lower()):
        return WHOLE_PICTURE
    percent = r"(-?\d{1,4}(?:\.\d{1,3})?)\s*%"
    match = re.fullmatch(
        rf"{percent}[\s,]+{percent}\s*(?:\bto\b|-|–)\s*{percent}[\s,]+{percent}", text.strip()
    )
    if match is None:
        raise ValueError(
            f"'{text}' is not a rectangle; write 60% 5% to 95% 15% (across and down, corner to corner)"
        )
    left, top, right, bottom = (Fraction(part) / 100 for part in match.groups())
    if not all(0 <= edge <= 1 for edge in (left, top, right, bottom)):
        raise ValueError(f"'{text}' reaches outside the picture; write percents from 0% to 100%")
    if left >= right or top >= bottom:
        raise ValueError(f"'{text}' has no area; write the upper left corner first, then the lower right one")
    return Box(left, top, right, bottom)


def temperature(text: str) -> Fraction:
    """Degrees Celsius, such as "65 C" or "65 °C"; from -40 to 500."""
    match = re.fullmatch(r"(-?\d{1,3}(?:\.\d+)?)\s*°?\s*C", text.strip())
    if match is None or not -40 <= Fraction(match[1]) <= 500:
        raise ValueError(f"'{text}' is not a temperature; write 65 C")
    return Fraction(match[1])


@dataclass(frozen=True)
class Counts:
    """How many: from `low` to `high`, both allowed."""

    low: int
    high: int

    def __str__(self) -> str:
        return str(self.low) if self.low == self.high else f"{self.low}-{self.high}"


def counts(text: str) -> Counts:
    """A number or a range of numbers, up to 100: "2", "2-4".

    >>> counts("2-4")
    Counts(low=2, high=4)
    """
    parts = re.fullmatch(r"(\d{1,3})(?:\s*(?:-|–|to)\s*(\d{1,3}))?", text.strip())
    if parts is None or int(parts[2] or parts[1]) > 100:
        raise ValueError(f"'{text}' is not a number of them; write 2 or 2-4, up to 100")
    low, high = int(parts[1]), int(parts[2] or parts[1])
    if low > high:
        raise ValueError(f"'{text}' runs backwards; write the smaller number first")
    return Counts(low, high)


def working_days(text: str) -> int:
    """A number of working days, up to 60: "5 working days"."""
    return _days(text, "working days?", "5 working days", 60)


def days(text: str) -> int:
    """A number of days, up to ten years: "30 days"."""
    return _days(text, "days?", "30 days", 3653)


def _days(text: str, unit: str, example: str, most: int) -> int:
    match = re.fullmatch(rf"(\d{{1,4}})\s*{unit}", text.strip())
    if match is None or not 0 <= int(match[1]) <= most:
        raise ValueError(f"'{text}' is not a number of {unit.rstrip('?')}; write {example}, up to {most}")
    return int(match[1])


def points(text: str) -> int:
    """A weight from 0 to 1000."""
    if not re.fullmatch(r"\d{1,4}", text.strip()) or int(text) > 1000:
        raise ValueError(f"'{text}' is not a number of points; write a whole number from 0 to 1000")
    return int(text)
