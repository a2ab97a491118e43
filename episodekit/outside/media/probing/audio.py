"""A recording becomes loudness: any format that PyAV reads, as 16 kHz mono. Nothing is written."""

from __future__ import annotations

from array import array
from pathlib import Path

import av
import av.error

from episodekit.base.time import Ms
from episodekit.timing.trim import FRAME, levels

_RATE = 16_000
_LONGEST = 30 * 60
"""Seconds that are read of one file. A beat is a minute at most; a whole afternoon's recording is no take."""


class NotHeard(Exception):
    """Why a file gives no sound, in words."""


def loudness(path: Path) -> list[float]:
    """Loudness of each 10 ms of a recording, in dB below full scale. Raises NotHeard with a plain sentence."""
    try:
        return _loudness(path)
    except PermissionError as error:
        raise NotHeard("The file may not be read; check its permissions.") from error
    except FileNotFoundError as error:
        raise NotHeard("The file is gone, or it is a link that leads nowhere.") from error
    except (av.error.FFmpegError, OSError, ValueError) as error:
        raise NotHeard("The file is no recording, or it is damaged.") from error


def frames_to_ms(frames: int) -> Ms:
    """Loudness values to milliseconds; exact."""
    return Ms(frames * FRAME)


def _loudness(path: Path) -> list[float]:
    if path.stat().st_size == 0:
        raise NotHeard("The file is empty.")
    found: list[float] = []
    rest = array("h")
    size = _RATE * FRAME // 1000
    with av.open(str(path), metadata_errors="replace") as container:
        if not container.streams.audio:
            raise NotHeard("The file holds no sound.")
        stream = container.streams.audio[0]  # the one that the draft plays
        resampler = av.AudioResampler(format="s16", layout="mono", rate=_RATE)
        for frame in container.decode(stream):
            for piece in resampler.resample(frame):
                rest.frombytes(bytes(piece.planes[0])[: piece.samples * 2])
            whole = len(rest) - len(rest) % size
            found += levels(rest[:whole], _RATE)
            rest = rest[whole:]
            if len(found) > _LONGEST * 1000 // FRAME:
                raise NotHeard(f"It is longer than {_LONGEST // 60} minutes; cut it into one file a beat.")
    if not found:
        raise NotHeard("The file holds no sound.")
    return found
