"""How the pages write lengths, paces and shortened texts, and how they turn a part into a coordinate."""

from __future__ import annotations

import re

from episodekit.base.time import Ms, clock
from episodekit.formats.plan_document import PlanDocument


def duration(ms: int) -> str:
    r"""A length in whole seconds, rounded down as a clock does, in the units a person says.

    >>> duration(90_900), duration(8_940_000), duration(360_000)
    ('1\xa0min 30\xa0s', '2\xa0h 29\xa0min', '6\xa0min')
    """
    seconds = ms // 1000
    parts = ((seconds // 3600, "h"), (seconds // 60 % 60, "min"), (seconds % 60, "s"))
    return " ".join(f"{count}\xa0{unit}" for count, unit in parts if count) or "0\xa0s"


def screen_time(ms: int) -> str:
    r"""A length on screen: tenths below a minute, rounded to the nearest, whole seconds above, rounded down.

    >>> screen_time(4615), screen_time(59_960)
    ('4.6\xa0s', '1\xa0min')
    """
    tenths = (ms + 50) // 100
    return f"{tenths // 10}.{tenths % 10}\xa0s" if tenths < 600 else duration(max(ms, 60_000))


def about(ms: int) -> str:
    r"""A length that is not sure: whole seconds, rounded to the nearest, one at least where there is any.

    >>> about(14_400), about(200), about(0)
    ('14\xa0s', '1\xa0s', '0\xa0s')
    """
    return duration(max(1000, ms + 500)) if ms else duration(0)


def between(low_ms: int, high_ms: int) -> str:
    r"""A range of lengths in whole seconds, outward.

    >>> between(12_400, 16_200), between(58_000, 71_500)
    ('12–17\xa0s', '58\xa0s to 1\xa0min 12\xa0s')
    """
    low, high = low_ms // 1000 * 1000, -(-high_ms // 1000) * 1000
    return f"{low // 1000}–{duration(high)}" if high < 60_000 else f"{duration(low)} to {duration(high)}"


def clocks(low_ms: int, high_ms: int) -> str:
    """A range of run times as a clock shows them, outward.

    >>> clocks(200_900, 224_100)
    '3:20 to 3:45'
    """
    return f"{clock(Ms(low_ms))} to {clock(Ms(-(-high_ms // 1000) * 1000))}"


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
    r"""How far a run time is from another one: what the clocks that show the two differ by.

    >>> off(211_600, 200_900), off(190_000, 200_000), off(200_400, 200_000)
    ('11\xa0s longer', '10\xa0s shorter', 'none')
    """
    apart = run_ms // 1000 - planned_ms // 1000
    if not apart:
        return "none"
    return f"{duration(abs(apart) * 1000)} {'longer' if apart > 0 else 'shorter'}"


def beyond(run_ms: int, target_ms: int) -> str:
    r"""How far a run time lies beyond an end of its target, on whichever side.

    >>> beyond(211_600, 200_900), beyond(200_400, 200_000)
    ('11\xa0s', 'less than 1\xa0s')
    """
    apart = abs(run_ms // 1000 - target_ms // 1000)
    return duration(apart * 1000) if apart else "less than 1\xa0s"


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


def runtime_line(doc: PlanDocument) -> str:
    """The run time for the terminal: with its range while words are not recorded, and how it drifted.

    Such as "3:37, likely 3:20 to 3:45 (planned 3:32, filmed 3:37)".
    """
    said = clock(Ms(doc.runtime_ms))
    if doc.runtime_high_ms > doc.runtime_low_ms:
        said += f", likely {clocks(doc.runtime_low_ms, doc.runtime_high_ms)}"
    drift = doc.drift
    stages = (("planned", drift.planned_ms), ("filmed", drift.filmed_ms), ("recorded", drift.recorded_ms))
    known = [f"{name} {clock(Ms(run))}" for name, run in stages if run is not None]
    return f"{said} ({', '.join(known)})" if len(known) > 1 else said
