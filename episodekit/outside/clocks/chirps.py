"""Find the bench log's chirp in a clip's sound: a matched filter, judged against how loud its band is just then."""

from __future__ import annotations

from collections.abc import Iterator
from contextlib import suppress
from pathlib import Path

import av
import av.error
import numpy as np
from numpy.typing import NDArray

from episodekit.base.time import Seconds
from episodekit.footage.model import Clip
from episodekit.sync.chirp import HIGHEST, LENGTH, LOWEST, chirp

RATE = 16_000
"""Samples a second of what is searched: the least that holds 6 kHz with room for a filter."""

THRESHOLD = 0.20
"""Likeness, from 0 to 1, from which on a sound is a chirp; bench sound reaches 0.14 (tests/sync/test_chirps.py)."""

_COUNT = round(LENGTH * RATE)
_SIZE = 1 << 19
"""Samples of a block, 33 s: so much is in memory at once, whatever the clip's length."""

_SILENCE = 1e-6
"""Root mean square below which there is no sound: a 16-bit recorder's least step is thirty times that."""

Sound = NDArray[np.float32]


def chirps_in(clip: Clip, root: Path) -> tuple[Seconds, ...]:
    """Where chirps begin, in seconds since the clip's first frame, to the microsecond.

    A file that breaks off or cannot be decoded is heard as far as it goes.
    """
    found: list[tuple[float, float]] = []
    for begin, block in _blocks(clip, root):
        found += [(begin + n, like) for n, like in _found(block)]
    chosen: list[float] = []
    # Blocks overlap, and an echo is a weaker chirp just behind the first: of those within its length the best counts.
    for at, _ in sorted(found, key=lambda one: -one[1]):
        if all(abs(at - other) > LENGTH for other in chosen):
            chosen.append(at)
    return tuple(Seconds(round(at * 1_000_000), 1_000_000) for at in sorted(chosen))


def _found(block: Sound) -> list[tuple[float, float]]:
    """Where chirps begin in a block, in seconds, and how alike they are."""
    if len(block) < _COUNT:
        return []
    size = 1 << (len(block) - 1).bit_length()
    hertz = np.fft.rfftfreq(size, 1 / RATE)
    spectrum = np.fft.rfft(block, size)
    spectrum[(hertz < LOWEST) | (hertz > HIGHEST)] = 0
    sent = np.fft.rfft(np.array(chirp(RATE)), size)
    sent[(hertz < LOWEST) | (hertz > HIGHEST)] = 0
    heard = np.fft.irfft(spectrum, size)[: len(block)]
    # In float64: else, behind loud chirps, the sum no longer grows by a quiet room, and all there is like a chirp.
    energy = np.concatenate([[0.0], np.cumsum(heard**2, dtype=np.float64)])
    # Only the upper half of the spectrum: its size is the likeness whatever phase the speaker and the room gave it.
    whole = np.zeros(size, np.complex128)
    whole[: len(spectrum)] = spectrum * np.conj(sent)
    alike = 2 * np.abs(np.fft.ifft(whole))[: len(block) - _COUNT + 1]
    loud = np.maximum(energy[_COUNT:] - energy[:-_COUNT], _COUNT * _SILENCE**2)
    sent_energy = float((np.abs(sent) ** 2).sum() * 2 / size)
    alike /= np.sqrt(loud * sent_energy)
    peaks = []
    while len(alike):
        n = int(np.argmax(alike))
        if alike[n] < THRESHOLD:
            break
        peaks.append(((n + _between(alike, n)) / RATE, float(alike[n])))
        alike[max(0, n - _COUNT) : n + _COUNT + 1] = 0
    return peaks


def _between(values: NDArray[np.float64], n: int) -> float:
    """How much further than sample n the top of the curve through it and its neighbours lies."""
    if not 0 < n < len(values) - 1:
        return 0.0
    left, top, right = (float(v) for v in values[n - 1 : n + 2])
    bend = left - 2 * top + right
    return 0.5 * (left - right) / bend if bend else 0.0


def _blocks(clip: Clip, root: Path) -> Iterator[tuple[float, Sound]]:
    """The clip's sound in overlapping blocks, each with the second it begins at."""
    parts: list[Sound] = []
    begin, held = 0.0, 0
    for at, part in _heard(clip, root):
        if held and abs(at - begin - held / RATE) > 0.05:
            # A hole in the sound, or stamps that jump: nothing is carried over it.
            yield begin, np.concatenate(parts)
            parts, held = [], 0
        if not held:
            begin = at
        parts.append(part)
        held += len(part)
        if held >= _SIZE:
            block = np.concatenate(parts)
            yield begin, block[:_SIZE]
            rest = block[_SIZE - _COUNT :]
            begin, parts, held = begin + (_SIZE - _COUNT) / RATE, [rest], len(rest)
    if held:
        yield begin, np.concatenate(parts)


def _heard(clip: Clip, root: Path) -> Iterator[tuple[float, Sound]]:
    """The first sound track as mono, piece by piece, with seconds since the clip's first frame."""
    try:
        with av.open(str(root / clip.path), metadata_errors="replace") as container:
            stream = container.streams.best("audio")
            if not isinstance(stream, av.AudioStream):
                return
            resampler = av.AudioResampler(format="flt", layout="mono", rate=RATE)
            for frame in _decoded(container, stream):
                for piece in resampler.resample(frame):
                    if piece.pts is not None and piece.time_base is not None:
                        at = float(piece.pts * piece.time_base - clip.first)
                        yield at, np.frombuffer(bytes(piece.planes[0])[: piece.samples * 4], np.float32)
    except (av.error.FFmpegError, OSError):
        return


def _decoded(container: av.container.InputContainer, stream: av.AudioStream) -> Iterator[av.AudioFrame]:
    """Pieces of sound, whatever a damaged packet says."""
    for packet in container.demux(stream):
        with suppress(av.error.InvalidDataError):
            yield from packet.decode()
