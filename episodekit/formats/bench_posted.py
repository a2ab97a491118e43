"""What a page of the bench log sends: marks as JSON, judged before anything of them is written.

`{"marks": [{"id": "phone1-17", "at": 1794070800123.4, "kind": "start", "step": "screen"}]}`: `at` is the instant of
the press in ms since 1970 on the server's clock, and may lie in the past. Also the one-time key of a device that
enters. Never a file, never a clock.
"""

from __future__ import annotations

import json
import math
from dataclasses import dataclass
from typing import Any, NoReturn

from episodekit.base.text import one_line
from episodekit.base.time import Ms
from episodekit.bench.marks import half_a_character, is_id
from episodekit.bench.model import Kind

MOST_MARKS, LONGEST_TEXT, LONGEST_STEP = 500, 2000, 200
FAR = 100 * 86_400_000
"""A mark is of today's work: 100 days of ms, as for the rest of the log."""

_FIELDS = ("id", "at", "kind", "step", "text", "of")
_BY_HAND = (Kind.PRIVATE, Kind.PUBLIC)


@dataclass(frozen=True)
class Posted:
    """A mark as a page sends it. `at` is in ms since 1970, to the nearest ms."""

    id: str
    at: Ms
    kind: Kind
    step: str
    text: str
    of: str


@dataclass(frozen=True)
class Refused:
    """A mark that is not taken, for good, and why."""

    id: str
    why: str


class Malformed(ValueError):
    """A body that is no message; the text says why in a sentence."""


def read_marks(raw: bytes, now: float) -> tuple[tuple[Posted, ...], tuple[Refused, ...]]:
    """The marks of a message in their order, and those that are none. Raises Malformed.

    `now` is the server's clock in ms since 1970.
    """
    data = _object(raw)
    marks = data.get("marks")
    if set(data) != {"marks"} or not isinstance(marks, list):
        raise Malformed('Send {"marks": [...]}.')
    if len(marks) > MOST_MARKS:
        raise Malformed(f"{len(marks)} marks are too many at once; send {MOST_MARKS} at most.")
    taken: list[Posted] = []
    refused: list[Refused] = []
    for mark in marks:
        one = _mark(mark, now)
        if isinstance(one, Refused):
            refused.append(one)
        else:
            taken.append(one)
    return tuple(taken), tuple(refused)


def read_key(raw: bytes) -> str:
    """The key that a device enters with. Raises Malformed."""
    data = _object(raw)
    key = data.get("key")
    if set(data) != {"key"} or not isinstance(key, str) or len(key) > 200 or half_a_character(key):
        raise Malformed('Send {"key": "..."}.')
    return key


def _object(raw: bytes) -> dict[str, Any]:
    try:
        data = json.loads(raw.decode("utf-8"), parse_constant=_no_number)
    except UnicodeDecodeError:
        raise Malformed("The message is not UTF-8.") from None
    except (ValueError, RecursionError):  # not JSON, nested too deeply, or a number without end
        raise Malformed("The message is not JSON.") from None
    if not isinstance(data, dict):
        raise Malformed("The message is JSON, but no object.")
    return data


def _no_number(text: str) -> NoReturn:
    raise ValueError(f"{text} is no number")


def _mark(data: object, now: float) -> Posted | Refused:
    if not isinstance(data, dict):
        return Refused("", "It is no object.")
    name = data.get("id")
    if not isinstance(name, str) or not is_id(name):
        shown = name if isinstance(name, str) and len(name) <= 64 and not half_a_character(name) else ""
        return Refused(shown, "Its id is not up to 64 letters, digits, dots, underscores and hyphens.")
    why = _wrong(data, now)
    if why:
        return Refused(name, why)
    text = {key: one_line(data.get(key, "")) for key in ("step", "text", "of")}
    return Posted(name, Ms(round(data["at"])), Kind(data["kind"]), text["step"], text["text"], text["of"])


def _wrong(data: dict[str, Any], now: float) -> str:
    """What is wrong with a mark's fields, or ""."""
    at, kind, of = data.get("at"), data.get("kind"), data.get("of", "")
    if not set(data) <= set(_FIELDS):
        return f"A mark has only {', '.join(_FIELDS)}."
    if isinstance(at, bool) or not isinstance(at, int | float) or abs(at) > 1e15 or not math.isfinite(at):
        return "Its time is no number of ms since 1970."
    if abs(at - now) > FAR:
        return "Its time lies more than 100 days from now. Check the clocks of both devices."
    if not isinstance(kind, str) or kind not in {known.value for known in Kind}:
        return "It is of no known kind."
    if kind in _BY_HAND:
        return f"'{kind}' needs a box of the picture; log it by hand."
    for name, most in (("step", LONGEST_STEP), ("text", LONGEST_TEXT), ("of", 64)):
        value = data.get(name, "")
        if not isinstance(value, str) or half_a_character(value):
            return f"Its {name} is no text."
        if len(value) > most:
            return f"Its {name} has {len(value)} characters; {most} is the most."
    if kind == Kind.START and not one_line(data.get("step", "")):
        return "A start names no step."
    if (kind == Kind.UNDO) != bool(of) or (of and not is_id(of)):
        return "An undo, and nothing else, has `of`: the id of the mark it withdraws."
    return ""
