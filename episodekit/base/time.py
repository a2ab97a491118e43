"""Exact time: plan milliseconds, timeline frames, footage seconds, and the only places they convert.

Three clocks, three types, so that mixing them is a type error:

- `Ms`: the plan. Integer milliseconds.
- `Frames`: the timeline. Integer frames at a `Rate`.
- `Seconds`: footage. Exact fractions of a second, since phones record variable frame rates.

There is no floating-point time. Ranges are half-open: the out point is the first frame not used.
"""

from __future__ import annotations

import re
from dataclasses import dataclass
from fractions import Fraction
from math import ceil, floor
from typing import NewType

Ms = NewType("Ms", int)
Frames = NewType("Frames", int)
Seconds = Fraction


# At most four decimals and a short fraction: a rate has to fit the time base of a file.
_RATE = re.compile(r"\d{1,4}(?:\.\d{1,4})?|\d{1,6}/[1-9]\d{0,3}")


def nearest(value: Fraction) -> int:
    """The nearest integer, halves upward, so that no rounding depends on the parity of its neighbour.

    >>> nearest(Fraction(5, 2)), nearest(Fraction(7, 2)), nearest(Fraction(-1, 2))
    (3, 4, 0)
    """
    top, bottom = value.numerator, value.denominator  # whole numbers are several times faster than fractions
    return (2 * top + bottom) // (2 * bottom)


@dataclass(frozen=True, order=True)
class Rate:
    """An exact frame rate in frames a second, e.g. 30000/1001 for "29.97".

    `drop` marks a rate whose timecode labels are drop-frame; it changes labels, never durations.

    >>> Rate.parse("29.97"), Rate.parse("25").exact
    (Rate(fps=Fraction(30000, 1001), drop=False), Fraction(25, 1))
    """

    fps: Fraction
    drop: bool = False

    @classmethod
    def parse(cls, text: str) -> Rate:
        """Read "25", "29.97", "30000/1001" or "29.97 DF".

        A decimal within 0.005 of a 1000/1001 rate means that rate, as cameras' menus print it.
        Raises ValueError with a sentence that names what is accepted.
        """
        words = text.strip().split()
        drop = len(words) == 2 and words[1].upper() in {"DF", "DROP"}
        if not words or (len(words) > 1 and not drop):
            raise ValueError(f"{text!r} is not a frame rate; write 25, 29.97, 30000/1001 or 29.97 DF")
        if not _RATE.fullmatch(words[0]):
            raise ValueError(f"{text!r} is not a frame rate; write 25, 29.97, 30000/1001 or 29.97 DF")
        fps = Fraction(words[0])
        if not 1 <= fps <= 1000:
            raise ValueError(f"a frame rate of {text.strip()} is outside 1 to 1000 frames a second")
        if fps.denominator != 1 and "/" not in words[0]:
            ntsc = Fraction(nearest(fps * Fraction(1001, 1000)) * 1000, 1001)
            if abs(ntsc - fps) <= Fraction(1, 200):
                fps = ntsc
        rate = cls(fps, drop)
        if drop and (fps.denominator != 1001 or rate.nominal % 30):
            raise ValueError(f"drop-frame labels exist at 29.97 and 59.94, not at {words[0]}")
        return rate

    @property
    def exact(self) -> Fraction:
        """Frames a second, exactly."""
        return self.fps

    @property
    def nominal(self) -> int:
        """Frames counted in one second of timecode: 30 for 29.97, and at least 1."""
        return max(1, nearest(self.fps))

    def __str__(self) -> str:
        if self.fps.denominator == 1:
            return str(self.fps.numerator)
        return f"{float(self.fps):.3f}".rstrip("0").rstrip(".") + (" DF" if self.drop else "")


def ms_to_frames(ms: Ms, rate: Rate) -> Frames:
    """Plan to timeline: the nearest frame, halves upward."""
    top, bottom = ms * rate.fps.numerator, 1000 * rate.fps.denominator
    return Frames((2 * top + bottom) // (2 * bottom))


def ms_to_frames_up(ms: Ms, rate: Rate) -> Frames:
    """Plan to timeline, rounded up: the fewest frames that last at least so long."""
    return Frames(-((-Fraction(ms, 1000) * rate.exact) // 1))


def ms_to_frames_down(ms: Ms, rate: Rate) -> Frames:
    """Plan to timeline, rounded down: the most frames that last no longer."""
    return Frames(Fraction(ms, 1000) * rate.exact // 1)


def frames_to_ms(frames: Frames, rate: Rate) -> Ms:
    """Timeline to plan: the nearest millisecond, halves upward."""
    top, bottom = 1000 * frames * rate.fps.denominator, rate.fps.numerator
    return Ms((2 * top + bottom) // (2 * bottom))


def frames_to_seconds(frames: Frames, rate: Rate) -> Seconds:
    """Timeline to footage seconds; exact."""
    return Fraction(frames) / rate.exact


def seconds_to_frames(seconds: Seconds, rate: Rate) -> Frames:
    """Footage seconds to timeline: the nearest frame, halves upward."""
    return Frames(nearest(seconds * rate.exact))


def seconds_to_ms(seconds: Seconds) -> Ms:
    """Footage seconds to plan: the nearest millisecond, halves upward."""
    return Ms(nearest(seconds * 1000))


def ms_to_seconds(ms: Ms) -> Seconds:
    """Plan to footage seconds; exact."""
    return Fraction(ms, 1000)


def frames_to_samples(frames: Frames, rate: Rate, sample_rate: int) -> int:
    """The audio sample at which a timeline frame starts; rounded down.

    Every cut in the sound is placed by this one function, from the frame count since the start of
    the draft, so sound and picture cannot drift apart however many cuts there are.
    """
    return floor(frames * sample_rate / rate.exact)


def lasting(ms: Ms) -> str:
    """A length as a person says it: tenths below ten seconds, whole seconds above, rounded to the nearest.

    >>> lasting(Ms(102_400)), lasting(Ms(3000)), lasting(Ms(450)), lasting(Ms(720_000)), lasting(Ms(7_500_000))
    ('1 min 42 s', '3 s', '0.5 s', '12 min', '2 h 5 min')
    """
    tenths = (ms + 50) // 100
    if tenths < 100:
        return f"{tenths / 10:g} s"
    seconds = (ms + 500) // 1000
    parts = ((seconds // 3600, "h"), (seconds // 60 % 60, "min"), (seconds % 60, "s"))
    return " ".join(f"{count} {unit}" for count, unit in parts if count)


def to_film(frames: Frames, rate: Rate) -> str:
    """How long to film for so many frames: whole seconds, rounded up.

    >>> to_film(Frames(61), Rate.parse("30")), to_film(Frames(3600), Rate.parse("30"))
    ('3 s', '2 min')
    """
    return lasting(Ms(ceil(frames / rate.exact) * 1000))


def clock(ms: Ms) -> str:
    """A stamp a viewer reads: whole seconds, rounded down, hours only when there are any.

    >>> clock(Ms(64_999)), clock(Ms(3_725_000))
    ('1:04', '1:02:05')
    """
    seconds = ms // 1000
    hours, rest = divmod(seconds, 3600)
    if hours:
        return f"{hours}:{rest // 60:02d}:{rest % 60:02d}"
    return f"{rest // 60}:{rest % 60:02d}"
