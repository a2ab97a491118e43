"""Timecode: the printed label of a frame at a rate. A label is for reading; arithmetic is done on frames.

Drop-frame labels skip two numbers (four at 59.94) at the start of every minute except each tenth, so
that the label stays with the wall clock; no frame is ever dropped. Source: D. Heidelberger, "About
Drop-Frame Timecode".
"""

from __future__ import annotations

import re
from fractions import Fraction

from episodekit.base.time import Frames, Rate

_LABEL = re.compile(r"(\d{1,2}):(\d{2}):(\d{2})([:;.])(\d{2,3})")


def looks_like_timecode(text: str) -> bool:
    """Whether the text has the shape hh:mm:ss:ff or hh:mm:ss;ff."""
    return _LABEL.fullmatch(text.strip()) is not None


def frames_to_label(frames: Frames, rate: Rate) -> str:
    """The label of a frame; drop-frame labels carry a semicolon. Wraps after 24 hours.

    >>> frames_to_label(Frames(1800), Rate.parse("29.97 DF"))
    '00:01:00;02'
    """
    count = rate.nominal
    number: int = frames
    if rate.drop:
        skipped = count // 15
        per_minute = count * 60 - skipped
        per_ten = per_minute * 10 + skipped
        number %= per_ten * 144
        tens, rest = divmod(number, per_ten)
        number += skipped * 9 * tens
        if rest > skipped:
            number += skipped * max(0, (rest - skipped) // per_minute)
    else:
        number %= count * 86_400
    seconds, frame = divmod(number, count)
    minutes, second = divmod(seconds, 60)
    hours, minute = divmod(minutes, 60)
    width = 3 if count > 100 else 2
    return f"{hours:02d}:{minute:02d}:{second:02d}{';' if rate.drop else ':'}{frame:0{width}d}"


def label_to_frames(label: str, rate: Rate) -> Frames:
    """The frame a label names, counted from 00:00:00:00.

    Raises ValueError, with the remedy in its text, for labels that do not exist at this rate: a frame
    number beyond the rate, minutes or seconds beyond 59, or one that drop-frame counting skips
    (00:01:00;00), which the common libraries accept without a word.
    """
    match = _LABEL.fullmatch(label.strip())
    if match is None:
        raise ValueError(f"{label!r} is not a timecode; write hh:mm:ss:ff, or hh:mm:ss;ff for drop-frame")
    hours, minutes, seconds, frame = (int(match[group]) for group in (1, 2, 3, 5))
    count = rate.nominal
    if hours > 23 or minutes > 59 or seconds > 59:
        raise ValueError(f"{label} is beyond 23:59:59; check the hours, minutes and seconds")
    if frame >= count:
        raise ValueError(
            f"{label} names frame {frame}, but at {rate} a second holds frames 00 to {count - 1}"
        )
    if match[4] == ";" and not rate.drop:
        raise ValueError(
            f"{label} is a drop-frame label, but the rate {rate} counts without drops; write ':'"
        )
    number = ((hours * 60 + minutes) * 60 + seconds) * count + frame
    if rate.drop:
        skipped = count // 15
        total_minutes = hours * 60 + minutes
        if seconds == 0 and frame < skipped and minutes % 10:
            raise ValueError(
                f"{label} does not exist: drop-frame counting skips it; the first label of that minute is "
                f"{hours:02d}:{minutes:02d}:00;{skipped:02d}"
            )
        number -= skipped * (total_minutes - total_minutes // 10)
    return Frames(number)


def has_labels(rate: Rate) -> bool:
    """Whether timecode counts at a rate: a whole number of frames a second or 1000/1001 of one, in two digits.

    >>> has_labels(Rate.parse("29.97")), has_labels(Rate.parse("12.5")), has_labels(Rate.parse("120"))
    (True, False, False)
    """
    return rate.nominal <= 100 and rate.exact in (rate.nominal, Fraction(rate.nominal * 1000, 1001))
