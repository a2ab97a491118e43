"""What ffmpeg shall do to make the sound of one segment: arguments only, nothing is run here.

Sound is raw 16-bit stereo at 48 kHz until the very end, when the whole track is encoded once: encoded
pieces cannot be joined without a gap of some 0.05 s at each joint.
"""

from __future__ import annotations

import base64
from collections.abc import Sequence
from math import ceil
from pathlib import Path
from typing import BinaryIO

from episodekit.base.time import Frames, Ms, Rate, Seconds, frames_to_samples, nearest
from episodekit.footage.model import Clip
from episodekit.outside.media.ffmpeg_door import Command, command, decimal, source, spoken_over
from episodekit.outside.media.recipes.decoding import PRE_ROLL_NO_INDEX
from episodekit.outside.media.recipes.pieces import Stretch
from episodekit.timeline.cuts import BED_DB, Hearing, hearing_at

SAMPLE_RATE = 48_000
BYTES_A_SAMPLE = 4
"""16 bits, two channels."""

FADE_SAMPLES = 240
"""5 ms at joints, against clicks. Common practice, no source."""

_PRE_ROLL = Seconds(1)
_NEAR_A_JOINT = Seconds(1, 2)
_BLOCK_BYTES = 1 << 20


def samples_of(frames: Frames, rate: Rate) -> int:
    """Samples kept for a segment of so many frames: one to spare.

    Where a segment lies in the draft decides, by one sample, how many it must fill; the joiner cuts.
    """
    return frames_to_samples(frames, rate, SAMPLE_RATE) + 1


def sound_command(
    program: str,
    stretch: Stretch,
    files: Sequence[str],
    frames: Frames,
    rate: Rate,
    fades: tuple[bool, bool],
    target: str,
) -> Command:
    """The sound that belongs to a stretch: `samples_of(frames)` samples, silent while a picture is held.

    Sound is placed by the container's time stamps, as the picture is. Sound that begins later than the
    picture, or has gaps, is filled with silence. `fades` says whether to fade in and out: not where the
    next segment carries on with the same stretch. `files` are those of `recorded(stretch, rate)`, which are
    read as one.
    """
    clip, clips = stretch.clip, recorded(stretch, rate)
    before = sum((one.duration for one in clips[: clips.index(clip)]), Seconds(0))
    begin = stretch.start + (clip.first if len(clips) == 1 else before)
    heard = frames_to_samples(stretch.played, rate, SAMPLE_RATE)
    total = samples_of(frames, rate)
    heard_as = hearing_at(stretch.speed)
    stretched = heard_as is Hearing.ALONG
    needed = ceil(heard * stretch.speed) if stretched else heard

    back = _PRE_ROLL if clip.key_frames else PRE_ROLL_NO_INDEX
    options: dict[str, str | int | None] = {"vn": None, "sn": None, "dn": None, "copyts": None, "threads": 1}
    options |= {"noaccurate_seek": None, "max_error_rate": 1}
    if before + stretch.start > back:
        options |= {"seek_timestamp": 1, "ss": decimal(begin - back)}
    if len(clips) > 1:
        options |= {"f": "concat", "safe": 0, "protocol_whitelist": "file,data"}
    graph = source(files[0] if len(clips) == 1 else _one_after_the_other(files, clips), options)
    graph = graph[str(clip.audio_stream)]
    zero = nearest((begin - clips[0].audio_late) * SAMPLE_RATE)
    # over a joint samples follow each other, whatever the second file's stamps say of less than a packet
    # (`footage/joins.py`); that must be settled before any are cut off
    go_on = {"async": 1, "min_hard_comp": 0.03} if len(clips) > 1 else {}
    graph = graph.filter("aresample", SAMPLE_RATE, **go_on)
    graph = graph.filter("aformat", sample_fmts="fltp", channel_layouts="stereo")
    graph = graph.filter("asettb", f"1/{SAMPLE_RATE}").filter("asetpts", f"PTS-({zero})")
    graph = graph.filter("atrim", start_pts=0)
    # `async=1` fills gaps and drops overlaps; the limit lies above the rounding of millisecond stamps
    graph = graph.filter("aresample", **{"async": 1, "first_pts": 0, "min_hard_comp": 0.02})
    graph = graph.filter("apad").filter("atrim", end_sample=needed)
    if stretched and stretch.speed != 1:
        graph = graph.filter("atempo", decimal(stretch.speed))
        graph = graph.filter("apad").filter("atrim", end_sample=heard)
    elif not stretched:
        graph = graph.filter("volume", f"{BED_DB}dB" if heard_as is Hearing.UNDER else "0")
    fade_in, fade_out = fades
    if fade_in:
        graph = graph.filter("afade", type="in", start_sample=0, nb_samples=FADE_SAMPLES)
    if fade_out or heard < total - 1:
        last = max(0, heard - FADE_SAMPLES)
        graph = graph.filter("afade", type="out", start_sample=last, nb_samples=FADE_SAMPLES)
    graph = graph.filter("apad").filter("atrim", end_sample=total)
    return command(program, [graph], target, {"f": "s16le", "c:a": "pcm_s16le", "ar": SAMPLE_RATE, "ac": 2})


def recorded(stretch: Stretch, rate: Rate) -> tuple[Clip, ...]:
    """The files that a stretch's sound is read from: its clip, and its neighbour in the recording near a joint.

    A camera cuts its sound between two packets, not between two frames, and a packet's beginning is made of the
    packet before it as well.
    """
    clip = stretch.clip
    end = stretch.start + stretch.played / rate.exact * stretch.speed
    early = clip.before if stretch.start < _NEAR_A_JOINT else None
    late = clip.after if end > clip.duration - _NEAR_A_JOINT else None
    same = [one for one in (early, clip, late) if one is not None and one.audio_stream == clip.audio_stream]
    return tuple(same)


def _one_after_the_other(files: Sequence[str], clips: Sequence[Clip]) -> str:
    """The list that ffmpeg's concat demuxer reads several files by, each as long as its picture, as an address
    that holds the list itself.
    """
    lines = ["ffconcat version 1.0"]
    for file, clip in zip(files, clips, strict=True):
        quoted = file.replace("'", "'\\''")
        lines += [
            f"file 'file:{quoted}'",
            f"inpoint {decimal(clip.first)}",
            f"duration {decimal(clip.duration)}",
        ]
    text = "\n".join(lines).encode("utf-8", "surrogateescape")
    return f"data:text/plain;base64,{base64.b64encode(text).decode('ascii')}"


def ms_to_samples(ms: Ms) -> int:
    """The sample at which a millisecond starts; exact at 48 kHz."""
    return ms * SAMPLE_RATE // 1000


def line_command(program: str, file: str, start: Ms, length: Ms, target: str) -> Command:
    """A part of a take, as loud as it was recorded: exactly its samples, silence where the file ends early.

    Places are counted in samples from the first one that is decoded, as they are when a take is measured.
    """
    first, count = ms_to_samples(start), ms_to_samples(length)
    graph = source(file, {"vn": None, "sn": None, "dn": None})["a"]
    graph = graph.filter("aresample", SAMPLE_RATE)
    graph = graph.filter("aformat", sample_fmts="fltp", channel_layouts="stereo")
    graph = graph.filter("atrim", start_sample=first).filter("asetpts", "N/SR/TB")
    graph = graph.filter("apad").filter("atrim", end_sample=count)
    graph = graph.filter("afade", type="in", start_sample=0, nb_samples=FADE_SAMPLES)
    last = max(0, count - FADE_SAMPLES)
    graph = graph.filter("afade", type="out", start_sample=last, nb_samples=FADE_SAMPLES)
    return command(program, [graph], target, {"f": "s16le", "c:a": "pcm_s16le", "ar": SAMPLE_RATE, "ac": 2})


def mix_command(program: str, bench: str, voice: str, samples: int, target: str) -> Command:
    """The narration over the sound of the bench; both are whole tracks of so many samples, and so is the target."""
    raw: dict[str, str | int | None] = {"f": "s16le", "ar": SAMPLE_RATE, "ac": 2}
    # padded and cut, since the compressor drops what is left of one input when the other ends
    graph = spoken_over(source(bench, raw).filter("apad"), source(voice, raw).filter("apad"))
    graph = graph.filter("atrim", end_sample=samples)
    return command(program, [graph], target, {"f": "s16le", "c:a": "pcm_s16le", "ar": SAMPLE_RATE, "ac": 2})


def copy_sound(sound: Path | None, samples: int, track: BinaryIO) -> None:
    """Write exactly so many samples: the spare one cut off, or silence added. None is silence.

    In blocks: a segment may last for hours. Raises OSError.
    """
    left = samples * BYTES_A_SAMPLE
    if sound is not None:
        with sound.open("rb") as file:
            while block := file.read(min(left, _BLOCK_BYTES)):
                track.write(block)
                left -= len(block)
    silence = bytes(min(left, _BLOCK_BYTES))
    while left:
        left -= track.write(silence[:left])
