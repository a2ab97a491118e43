"""How the pages write lengths, paces and shortened texts, and how they turn a part into a coordinate."""

from __future__ import annotations

import re


def duration(ms: int) -> str:
    r"""A length in whole seconds, rounded to the nearest, in the units a person says.

    >>> duration(90_000), duration(8_940_000), duration(360_000)
    ('1\xa0min 30\xa0s', '2\xa0h 29\xa0min', '6\xa0min')
    """
    seconds = (ms + 500) // 1000
    parts = ((seconds // 3600, "h"), (seconds // 60 % 60, "min"), (seconds % 60, "s"))
    return " ".join(f"{count}\xa0{unit}" for count, unit in parts if count) or "0\xa0s"


def screen_time(ms: int) -> str:
    r"""A length on screen: tenths below a minute, rounded to the nearest, whole seconds above.

    >>> screen_time(4615), screen_time(59_960)
    ('4.6\xa0s', '1\xa0min')
    """
    tenths = (ms + 50) // 100
    return f"{tenths // 10}.{tenths % 10}\xa0s" if tenths < 600 else duration(ms)


def share(part: int, whole: int) -> str:
    """A part as a percentage with three decimals, rounded down, for a drawing's coordinates; 0 of nothing.

    >>> share(1, 3), share(5, 0)
    ('33.333%', '0.000%')
    """
    thousandths = part * 100_000 // whole if whole else 0
    return f"{thousandths // 1000}.{thousandths % 1000:03d}%"


def pace(words: int, spoken_ms: int) -> str:
    """Words a minute while speaking, rounded to the nearest; a dash when nothing is said."""
    return f"{(words * 60_000 + spoken_ms // 2) // spoken_ms} wpm" if spoken_ms else "–"


def in_short(text: str, longest: int) -> str:
    """The first words of a text, at most `longest` characters with the dots; a longer word is cut.

    >>> in_short("The glue lets go, at the corners", 20)
    'The glue lets go…'
    """
    if len(text) <= longest:
        return text
    kept = text[: longest - 1]
    if text[longest - 1] != " ":
        kept = kept.rpartition(" ")[0] or kept
    return kept.rstrip(" ,;:.–-") + "…"


def off(run_ms: int, planned_ms: int) -> str:
    r"""How far a run time is from the planned one, in whole seconds, rounded to the nearest.

    >>> off(211_600, 200_000), off(190_000, 200_000), off(200_400, 200_000)
    ('12\xa0s longer', '10\xa0s shorter', 'none')
    """
    apart = run_ms - planned_ms
    if abs(apart) < 500:
        return "none"
    return f"{duration(abs(apart))} {'longer' if apart > 0 else 'shorter'}"


def parted(answer: str) -> tuple[str, str]:
    """What the fit does with a step, and the pickups it needs; either may be empty.

    >>> parted("keep; ramp 1.7x; pickup needed: 5 s of The seal"), parted("pickup needed: 2 s of A; B")
    (('keep; ramp 1.7x', 'pickup needed: 5 s of The seal'), ('', 'pickup needed: 2 s of A; B'))
    """
    done, sign, pickups = answer.partition("pickup needed: ")
    return done.removesuffix("; "), sign + pickups


def tied(text: str) -> str:
    r"""Text whose figures keep their unit on their line.

    >>> tied("for 5 s, 22 arc-minutes")
    'for 5\xa0s, 22\xa0arc-minutes'
    """
    return re.sub(r"(\d) (?=(?:s|cm|dB|min|arc-minutes|working|days?)\b)", "\\1\u00a0", text)
