"""A clip's sound made small: 8 kHz mono, decoded once and kept, 0.6 % of what a camera's picture takes."""

from __future__ import annotations

import hashlib
import os
from collections.abc import Iterator
from contextlib import suppress
from dataclasses import dataclass, field
from fractions import Fraction
from pathlib import Path
from tempfile import TemporaryDirectory

import av
import av.error
import numpy as np
from av.stream import Discard
from numpy.typing import NDArray

from episodekit.footage.model import Clip
from episodekit.outside.errors import MediaError
from episodekit.outside.media.rendering.cache import Cache

RATE = 8_000
STEP = 40
"""Samples of one value of the envelope: 200 a second."""

BAND = (300.0, 3_400.0)
"""Hertz that every microphone hears and no gain control spoils."""

Sound = NDArray[np.int16]
Envelope = NDArray[np.float32]

_CACHE = Path("out") / "cache"
_KIND = "sound 1"
_JUMP = RATE // 50
"""A time stamp farther than 20 ms from where the sound goes on is a gap or an overlap; less is rounding."""

_SILENT = 2
"""A sound that never goes beyond so many 65,536ths of full scale is none."""


@dataclass(frozen=True)
class Heard:
    """`sound` is read from the disk as it is needed: three hours are 170 MB. `envelope` is how its loudness changes."""

    sound: Sound
    envelope: Envelope


@dataclass(frozen=True)
class Ears:
    """What the clips of a job folder sound like, each decoded once as long as its content stays the same."""

    root: Path
    _known: dict[str, Heard | None] = field(default_factory=dict)

    def heard(self, clip: Clip) -> Heard | None:
        """Its sound from its first frame on; None if it has none, or nothing but silence, or none can be decoded.

        Gaps and damage within it are silence. Raises MediaError if the cache cannot be written.
        """
        if clip.identity not in self._known:
            self._known[clip.identity] = self._read(clip) if clip.has_audio else None
        return self._known[clip.identity]

    def _read(self, clip: Clip) -> Heard | None:
        home = self.root / _CACHE
        name = f"{_KIND}\0{clip.identity}\0{clip.audio_stream}\0{clip.first}"
        key = hashlib.sha256(name.encode()).hexdigest()[:40] + ".s16"
        try:
            home.mkdir(parents=True, exist_ok=True)
            with TemporaryDirectory(prefix="work-", dir=home) as work:
                cache = Cache(home, Path(work))
                if not cache.has(key):
                    cache.fill(key, lambda draft: _write(clip, self.root, draft))
            if cache.entry(key).stat().st_size < 2 * RATE:
                return None
            sound = np.memmap(cache.entry(key), np.int16, "r")
        except OSError as error:
            why = error.strerror or error
            raise MediaError(f"The cache cannot be written: {why}", (), str(home)) from error
        envelope = envelope_of(sound)
        return Heard(sound, envelope) if envelope.any() else None


def envelope_of(sound: Sound) -> Envelope:
    """The changes of the loudness in the band, 200 a second; nothing but zeros if the sound is silence.

    A minute at a time, so that three hours take no more memory than one minute.
    """
    count = len(sound) // STEP
    power = np.zeros(count)
    block = 60 * RATE
    loudest = 0
    for at in range(0, count * STEP, block):
        part = np.asarray(sound[at : min(at + block, count * STEP)], np.float32)
        loudest = max(loudest, int(np.abs(part).max()))
        spectrum = np.fft.rfft(part)
        hertz = np.fft.rfftfreq(len(part), 1 / RATE)
        spectrum[(hertz < BAND[0]) | (hertz > BAND[1])] = 0
        heard = np.fft.irfft(spectrum, len(part))
        power[at // STEP : (at + len(part)) // STEP] = (heard.reshape(-1, STEP) ** 2).mean(1)
    if loudest <= _SILENT:
        return np.zeros(count, np.float32)
    change = np.diff(np.log(power + max(float(power.mean()) * 1e-4, 1e-2)))
    return np.asarray(change - change.mean(), np.float32)


def _write(clip: Clip, root: Path, draft: Path) -> bool:
    """The sound as 16-bit samples, counted from the clip's first frame; empty if nothing can be decoded."""
    room = int(clip.duration * RATE) + 1
    end = 0
    draft.write_bytes(b"")
    os.truncate(draft, room * 2)
    sound = np.memmap(draft, np.int16, "r+", shape=(room,))
    for due, block in _decoded(clip, root):
        skip = max(0, -due)
        part = block[skip : max(skip, room - due)]
        sound[due + skip : due + skip + len(part)] = part
        end = max(end, due + skip + len(part)) if len(part) else end
    sound.flush()
    del sound
    os.truncate(draft, end * 2)
    return True


def _decoded(clip: Clip, root: Path) -> Iterator[tuple[int, Sound]]:
    """Blocks of samples, each with the place where it belongs; what is damaged is left out."""
    begin: int | None = None
    heard = 0
    with (
        suppress(av.error.FFmpegError, OSError),
        av.open(str(root / clip.path), metadata_errors="replace") as container,
    ):
        # looked for, since the file may not be any more what it was when it was probed
        stream = next((one for one in container.streams.audio if one.index == clip.audio_stream), None)
        if stream is None:
            return
        for other in container.streams:
            if other is not stream:  # so that the picture is not even read
                other.discard = Discard.all
        for piece in _small(_frames(container, stream)):
            block = np.frombuffer(bytes(piece.planes[0])[: piece.samples * 2], np.int16)
            if piece.pts is not None and piece.time_base is not None:
                due = round((piece.pts * piece.time_base - clip.first) * RATE)
                if begin is None or abs(due - begin - heard) > _JUMP:
                    begin, heard = due, 0
            if begin is not None:
                yield begin + heard, block
                heard += len(block)


def _frames(container: av.container.InputContainer, stream: av.AudioStream) -> Iterator[av.AudioFrame]:
    for packet in container.demux(stream):
        with suppress(av.error.InvalidDataError):
            yield from packet.decode()


def _small(frames: Iterator[av.AudioFrame]) -> Iterator[av.AudioFrame]:
    """Resampled anew after every gap, and where a camera changes its channels or rate."""
    resampler: av.AudioResampler | None = None
    form: tuple[str, str, int] | None = None
    due: Fraction | None = None
    for frame in frames:
        at = None if frame.pts is None or frame.time_base is None else frame.pts * frame.time_base
        now = (frame.format.name, frame.layout.name, frame.sample_rate)
        gap = at is not None and due is not None and abs(at - due) > Fraction(_JUMP, RATE)
        if resampler is None or now != form or gap:
            if resampler is not None:
                yield from resampler.resample(None)
            resampler, form = av.AudioResampler(format="s16", layout="mono", rate=RATE), now
        due = None if at is None else at + Fraction(frame.samples, frame.sample_rate)
        yield from resampler.resample(frame)
    if resampler is not None:
        yield from resampler.resample(None)
