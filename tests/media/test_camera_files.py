"""Files as cameras write them: channels of sound, portrait, mixed sizes and rates, light beyond the screen's.

What is compared with: what was put into the files, read back by PyAV; Rec. ITU-R BT.2408 for reference white.
"""

from __future__ import annotations

import subprocess
from fractions import Fraction
from itertools import pairwise
from math import floor
from pathlib import Path

import av
import imageio_ffmpeg
import numpy as np
import pytest

from episodekit.base.time import Rate
from tests.media import kit

RATE = Rate.parse("25")
SECONDS = 4
TONES = (400, 700, 1100, 1700)


def with_channels(path: Path, channels: int, *options: str, streams: int = 1) -> None:
    """Coded frames with a tone of its own in each channel; `options` are for the sound."""
    at = np.arange(SECONDS * kit.SAMPLE_RATE) / kit.SAMPLE_RATE
    tones = np.stack([0.2 * np.sin(2 * np.pi * hz * at) for hz in TONES[: channels * streams]])
    mute = kit.coded_clip(path.with_name("mute.mp4"), Fraction(25), 25 * SECONDS)
    inputs: list[str] = []
    for number in range(streams):
        raw = path.with_name(f"sound-{number}.f32")
        part = tones[number * channels : (number + 1) * channels]
        raw.write_bytes(np.ascontiguousarray(part.T).astype("<f4").tobytes())
        inputs += ["-f", "f32le", "-ar", str(kit.SAMPLE_RATE), "-ac", str(channels), "-i", str(raw)]
    maps = [word for number in range(streams + 1) for word in ("-map", str(number))]
    words = [imageio_ffmpeg.get_ffmpeg_exe(), "-v", "error", "-i", str(mute), *inputs, *maps, "-c:v", "copy"]
    subprocess.run([*words, *options, str(path)], check=True)
    for spare in path.parent.glob("sound-*.f32"):
        spare.unlink()
    mute.unlink()


def levels(path: Path) -> dict[int, float]:
    """How loud each tone is in the draft, of full scale, by correlation over the middle."""
    sound = kit.mono_sound(path)[kit.SAMPLE_RATE // 2 : kit.SAMPLE_RATE * 2]
    at = np.arange(len(sound)) / kit.SAMPLE_RATE
    return {hz: float(2 * abs(np.mean(sound * np.exp(-2j * np.pi * hz * at)))) for hz in TONES}


SOUNDS = {
    "mono": (1, 1, (".mp4", "-c:a", "aac")),
    "stereo": (2, 1, (".mp4", "-c:a", "aac", "-b:a", "256k")),
    "four channels in a square": (4, 1, (".mov", "-c:a", "pcm_s16le", "-channel_layout", "quad")),
    "four channels with a centre": (4, 1, (".mov", "-c:a", "pcm_s16le", "-channel_layout", "4.0")),
    "four channels of no layout": (4, 1, (".mkv", "-c:a", "pcm_s24le")),
    "four mono streams": (1, 4, (".mov", "-c:a", "pcm_s16le")),
}


@pytest.mark.parametrize("name", SOUNDS)
def test_every_channel_layout_is_heard_with_the_picture(name: str, tmp_path: Path) -> None:
    channels, streams, (suffix, *options) = SOUNDS[name]
    (tmp_path / "footage").mkdir()
    with_channels(tmp_path / "footage" / f"a{suffix}", channels, *options, streams=streams)
    shot = kit.shot(f"footage/a{suffix}", Fraction(1), 60, RATE)
    path, made = kit.draft(tmp_path, kit.timeline(RATE, [shot]))
    assert made.findings == ()
    assert kit.numbers_in(path) == list(range(25, 85))
    heard = levels(path)
    # of several streams the first is heard, as players do
    put_in = TONES[:channels]
    for hz in TONES:
        assert heard[hz] > 0.03 if hz in put_in else heard[hz] < 0.01, (hz, heard)
    if channels == 1:
        assert heard[TONES[0]] == pytest.approx(0.2, rel=0.1)


def grey(path: Path, level: int, transfer: int, size: tuple[int, int] = (320, 180)) -> None:
    """A second of one grey in 10 bits, tagged with a curve of H.273 and Rec. 2020."""
    plain = path.with_name(f"plain-{path.name}")
    with av.open(str(plain), "w") as container:
        stream = container.add_stream("libx264", rate=25, options={"preset": "ultrafast", "crf": "1"})
        stream.width, stream.height, stream.pix_fmt = *size, "yuv420p10le"
        frame = av.VideoFrame(*size, "yuv420p10le")
        for plane, value in zip(frame.planes, (level, 512, 512), strict=True):
            plane.update(np.full(plane.buffer_size // 2, value, "<u2").tobytes())
        for index in range(25):
            frame.pts = index
            container.mux(stream.encode(frame))
        container.mux(stream.encode(None))
    bits = f"h264_metadata=colour_primaries=9:transfer_characteristics={transfer}:matrix_coefficients=9"
    words = [imageio_ffmpeg.get_ffmpeg_exe(), "-v", "error", "-i", str(plain), "-c", "copy", "-bsf:v", bits]
    subprocess.run([*words, str(path)], check=True)
    plain.unlink()


def code(signal: float) -> int:
    """A signal of 0 to 1 as a 10-bit code of video range (Rec. ITU-R BT.2100, table 9)."""
    return round(64 + 876 * signal)


# Signals of BT.2408, table 1: graphics white is 58 % of PQ and 75 % of HLG, middle grey 38 % of both.
PQ, HLG = 16, 18


@pytest.mark.parametrize(("transfer", "white"), [(PQ, 0.58), (HLG, 0.75)], ids=["PQ", "HLG"])
def test_light_beyond_the_screens_comes_down_in_order_and_nothing_is_lost(
    transfer: int, white: float, tmp_path: Path
) -> None:
    (tmp_path / "footage").mkdir()
    signals = [0.0, 0.2, 0.38, white, 0.9]
    for number, signal in enumerate(signals):
        grey(tmp_path / "footage" / f"g{number}.mp4", code(signal), transfer)
    shots = [kit.shot(f"footage/g{n}.mp4", Fraction(0), 5, RATE) for n in range(len(signals))]
    path, made = kit.draft(tmp_path, kit.timeline(RATE, shots))
    assert made.findings == ()
    with av.open(str(path)) as container:
        shown = [frame.to_ndarray(format="rgb24")[90, 160].astype(int) for frame in container.decode(video=0)]
    steps = [shown[index] for index in range(2, 25, 5)]
    for colour in steps:
        assert colour.max() - colour.min() <= 4  # grey stays grey
    lights = [float(colour.mean()) for colour in steps]
    assert lights[0] <= 6  # black stays black
    assert all(b - a >= 10 for a, b in pairwise(lights[:4])), lights
    assert 60 <= lights[2] <= 170, lights  # middle grey is neither sunk nor washed out
    assert 150 <= lights[3] < lights[4] <= 255, lights  # white is bright, and light beyond it brighter still


def test_portrait_and_landscape_of_mixed_rates_and_sizes_stand_in_one_draft(tmp_path: Path) -> None:
    footage = tmp_path / "footage"
    footage.mkdir()
    sizes = {"phone": (216, 384), "square": (240, 240), "wide": (480, 200), "bench": (640, 360)}
    rates = {
        "phone": Fraction(30),
        "square": Fraction(24),
        "wide": Fraction(50),
        "bench": Fraction(60000, 1001),
    }
    for name, (width, height) in sizes.items():
        frames = (kit.coded_frame(n, width, height) for n in range(int(rates[name] * 2)))
        kit.encode(footage / f"{name}.mp4", frames, rates[name])
    shots = [kit.shot(f"footage/{name}.mp4", Fraction(1, 2), 25, RATE) for name in sizes]
    path, made = kit.draft(tmp_path, kit.timeline(RATE, shots, width=640, height=360))
    assert made.findings == ()
    frames = kit.grey_frames(path)
    for index, (name, (width, height)) in enumerate(sizes.items()):
        first = frames[index * 25]
        # what is on screen a quarter of the camera's frame after half a second (`timeline/model.py`)
        assert kit.number_in(first) == floor(rates[name] / 2 + Fraction(1, 4))
        # the picture is as large as can be, in the middle, and not stretched
        lit = np.flatnonzero(np.abs(first.astype(int) - 126).min(axis=0) < 12)
        scale = min(Fraction(640, width), Fraction(360, height))
        assert abs((lit[-1] - lit[0] + 1) - width * scale) <= 4, name
        assert abs(lit[0] + lit[-1] - 639) <= 4, name


BATTERY: dict[str, tuple[str, tuple[str, ...]]] = {
    "index written first": (".mp4", ("-movflags", "+faststart")),
    "written in fragments": (".mp4", ("-movflags", "+frag_keyframe+empty_moov+default_base_moof")),
    "transport stream": (".mts", ("-f", "mpegts")),
    "Matroska": (".mkv", ()),
}


@pytest.mark.parametrize("name", BATTERY)
def test_clip_of_a_dead_battery_is_used_to_its_last_frames(name: str, tmp_path: Path) -> None:
    suffix, options = BATTERY[name]
    (tmp_path / "footage").mkdir()
    at = np.arange(10 * kit.SAMPLE_RATE) / kit.SAMPLE_RATE
    tone = (0.3 * np.sin(2 * np.pi * 440 * at)).astype(np.float32)
    whole = kit.coded_clip(tmp_path / "whole.mp4", Fraction(25), 250, sound=tone, key_every=25)
    copied = kit.remux(whole, tmp_path / f"copied{suffix}", *options)
    raw = copied.read_bytes()
    cut = tmp_path / "footage" / f"cut{suffix}"
    cut.write_bytes(raw[: len(raw) * 7 // 10])
    with av.open(str(cut)) as container:  # what a reader that stops at the first fault decodes
        numbers = []
        try:
            for frame in container.decode(video=0):
                numbers.append(kit.number_in(frame.reformat(format="gray").to_ndarray()))
        except av.error.FFmpegError:
            pass
    there = len([number for number in numbers if number is not None])
    assert 120 < there < 240
    clip = kit.clips_in(tmp_path)[f"footage/cut{suffix}"]
    assert abs(clip.duration * 25 - there) <= 4
    shot = kit.shot(
        f"footage/cut{suffix}", Fraction(4), there - 100 + 25, RATE
    )  # a second more than there is
    path, made = kit.draft(tmp_path, kit.timeline(RATE, [shot]))
    seen = kit.numbers_in(path)
    assert len(seen) == there - 75
    assert seen[: there - 104] == list(range(100, there - 4))
    # then the last ones, in part drawn from their neighbours, and the last of them held
    assert all(number is not None and there - 6 <= number < there + 3 for number in seen[there - 104 :])
    assert np.abs(kit.mono_sound(path)[kit.SAMPLE_RATE // 2 : kit.SAMPLE_RATE]).max() > 0.2
    assert [told.code for told in made.findings] == []
