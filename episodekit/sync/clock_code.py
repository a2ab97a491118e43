"""The text of the filmed clock's QR code: 16 characters, which a code of version 1 and level Q just holds.

`EK:` and thirteen digits: milliseconds since 1970 UTC on the log's clock, when the code was painted. The alphabet is
the alphanumeric one of ISO/IEC 18004.
"""

from __future__ import annotations

import re

PREFIX = "EK:"
REFRESHES = 11
"""A code stays on screen for so many refreshes of 60 a second: long enough for every camera to catch it whole."""

LONGEST_MS = 400
"""A code that no other followed for this long is no running clock: a frozen page, a photograph of one."""

_TEXT = re.compile(r"EK:([0-9]{13})")


def clock_code(ms: int) -> str:
    """The text for an instant. Raises ValueError if it does not fit thirteen digits.

    >>> clock_code(1762527600123)
    'EK:1762527600123'
    """
    if not 0 <= ms < 10**13:
        raise ValueError(f"{ms} ms does not fit the clock's thirteen digits")
    return f"{PREFIX}{ms:013d}"


def instant(text: str) -> int | None:
    """The milliseconds that a code tells, or None for any other code that happens to be in the picture."""
    found = _TEXT.fullmatch(text)
    return int(found[1]) if found else None
