"""The tags of a camera file in the program's terms: times, labels, colours. Any tag may be nonsense."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from datetime import UTC, datetime

from episodekit.base.timecode import looks_like_timecode

# Numbers and names of Rec. ITU-T H.273, tables 3 and 4, in ffmpeg's spelling.
TRANSFER = {1: "bt709", 4: "bt470m", 5: "bt470bg", 6: "smpte170m", 7: "smpte240m", 8: "linear"} | {
    13: "iec61966-2-1",
    14: "bt2020-10",
    15: "bt2020-12",
    16: "smpte2084",
    18: "arib-std-b67",
}
MATRIX = {1: "bt709", 4: "fcc", 5: "bt470bg", 6: "smpte170m", 7: "smpte240m", 8: "ycgco"} | {
    9: "bt2020nc",
    10: "bt2020c",
    14: "ictcp",
}

_ZONED = "com.apple.quicktime.creationdate"
_PLAIN = "creation_time"
_EPOCHS = {1904, 1970}
"""Zero in the clocks of ISO/IEC 14496-12 and of Unix: a camera whose clock was never set."""


def text(tags: Mapping[str, str]) -> dict[str, str]:
    """Tags by lower-case name."""
    return {str(name).lower(): str(value) for name, value in tags.items()}


def created(tags: Sequence[Mapping[str, str]]) -> datetime | None:
    """The creation time in UTC, from the first tags that have one.

    A time with a zone is preferred: phones write it at the start of the recording, and the plain one
    some seconds after its end.
    """
    for name in (_ZONED, _PLAIN):
        for group in tags:
            found = _instant(group.get(name, ""))
            if found is not None:
                return found
    return None


def timecode(tags: Sequence[Mapping[str, str]]) -> str | None:
    """The camera's label of the first frame, if it is one."""
    for group in tags:
        label = group.get("timecode", "").strip()
        if looks_like_timecode(label):
            return label
    return None


def _instant(value: str) -> datetime | None:
    try:
        found = datetime.fromisoformat(value.strip())
        found = found.replace(tzinfo=UTC) if found.tzinfo is None else found.astimezone(UTC)
    except (ValueError, OverflowError):
        return None
    return None if found.year in _EPOCHS or found.year < min(_EPOCHS) else found
