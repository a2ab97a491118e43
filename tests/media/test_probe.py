"""What is read from camera files: made ones, real ones, and files that are no video at all.

Sources: for made clips what the kit wrote; for real clips MediaInfo, an independent reader, and the notes
on what each clip tests.
"""

from __future__ import annotations

import os
import random
import subprocess
import sys
from collections.abc import Iterator
from datetime import UTC, datetime
from fractions import Fraction
from pathlib import Path

import av
import imageio_ffmpeg
import pytest
from av.container import InputContainer
from pymediainfo import MediaInfo

from episodekit.base.findings import Severity
from episodekit.base.time import Rate
from episodekit.footage.model import Clip
from episodekit.outside.media.probing import stamps
from episodekit.outside.media.probing.identity import identity
from episodekit.outside.media.probing.probe import probe
from episodekit.timeline.reading import first_and_last_source_frame
from tests.media import kit
from tests.media.conftest import RATES, SECONDS


def clip_of(path: Path) -> Clip:
    clip = probe(path, f"footage/{path.name}").clip
    assert clip is not None
    return clip


@pytest.mark.parametrize("name", RATES)
def test_constant_rates_are_exact(coded_job: Path, name: str) -> None:
    clip = clip_of(coded_job / "footage" / f"r{name}.mp4")
    assert clip.rate.exact == RATES[name]
    assert not clip.variable
    assert clip.duration == int(RATES[name] * SECONDS) / RATES[name]
    assert (clip.width, clip.height, clip.codec, clip.first) == (kit.WIDTH, kit.HEIGHT, "h264", 0)
    assert clip.key_frames[:2] == (0, 30 / RATES[name])


def test_variable_rate_is_seen_in_the_stamps(coded_job: Path) -> None:
    assert clip_of(coded_job / "footage" / "phone.mp4").variable
    assert not clip_of(coded_job / "footage" / "milliseconds.mkv").variable


def test_matroska_gives_rate_and_key_frames_in_spite_of_millisecond_stamps(coded_job: Path) -> None:
    clip = clip_of(coded_job / "footage" / "milliseconds.mkv")
    assert clip.rate.exact == Fraction(30000, 1001)
    assert clip.key_frames


def test_start_timecode_is_the_cameras_label(coded_job: Path) -> None:
    assert clip_of(coded_job / "footage" / "df.mov").start_timecode == "00:59:58;10"


@pytest.mark.parametrize("degrees", [90, 180, 270])
def test_rotation_is_counter_clockwise(coded_job: Path, degrees: int) -> None:
    assert clip_of(coded_job / "footage" / f"turned{degrees}.mp4").rotation % 360 == degrees


def test_late_start_and_missing_index_of_a_transport_stream(coded_job: Path) -> None:
    clip = clip_of(coded_job / "footage" / "late.ts")
    assert clip.first >= 10
    assert clip.duration == SECONDS
    assert clip.key_frames == ()


@pytest.mark.parametrize(
    ("tags", "expected"),
    [
        ({"creation_time": "2026-03-01T10:00:00Z"}, datetime(2026, 3, 1, 10, tzinfo=UTC)),
        (
            {
                "creation_time": "2026-03-01T10:00:17Z",
                "com.apple.quicktime.creationdate": "2026-03-01T12:00:00+0200",
            },
            datetime(2026, 3, 1, 10, tzinfo=UTC),
        ),
        (
            {"creation_time": "2026-03-01T10:00:17Z", "com.apple.quicktime.creationdate": "yesterday"},
            datetime(2026, 3, 1, 10, 0, 17, tzinfo=UTC),
        ),
        ({"creation_time": "1970-01-01T00:00:00Z"}, None),
        ({}, None),
    ],
)
def test_creation_time(tmp_path: Path, tags: dict[str, str], expected: datetime | None) -> None:
    plain = kit.coded_clip(tmp_path / "plain.mp4", Fraction(25), 10)
    options = [word for name, value in tags.items() for word in ("-metadata", f"{name}={value}")]
    tagged = kit.remux(plain, tmp_path / "tagged.mov", "-movflags", "use_metadata_tags", *options)
    assert clip_of(tagged).created == expected


def not_media(path: Path) -> str:
    """The message of the one finding; the file is no clip."""
    probed = probe(path, f"footage/{path.name}")
    assert probed.clip is None
    (found,) = probed.findings
    assert (found.code, found.severity, str(found.at)) == (
        "CLIP-NOT-MEDIA",
        Severity.ERROR,
        f"footage/{path.name}",
    )
    return found.message


def test_files_that_are_no_video_are_findings(tmp_path: Path, coded_job: Path) -> None:
    whole = (coded_job / "footage" / "r25.mp4").read_bytes()
    cases = {
        "empty.mp4": (b"", "empty"),
        "note.mp4": (b"take 1: lift the screen\n" * 99, "no video"),
        "noise.mov": (bytes(range(256)) * 64, "no video"),
        "no_index.mp4": (whole[: len(whole) // 2], "index"),
        "header.mkv": (b"\x1a\x45\xdf\xa3" + bytes(60), ""),
    }
    for name, (data, says) in cases.items():
        path = tmp_path / name
        path.write_bytes(data)
        assert says in not_media(path), name
    (tmp_path / "folder.mp4").mkdir()
    assert "folder" in not_media(tmp_path / "folder.mp4")
    assert "not there" in not_media(tmp_path / "gone.mp4")


def test_file_that_may_not_be_read_is_a_finding(tmp_path: Path) -> None:
    path = kit.coded_clip(tmp_path / "locked.mp4", Fraction(25), 10)
    path.chmod(0)
    root = os.geteuid() == 0  # root may read everything, so it steps down to nobody for the reading
    try:
        if root:
            os.seteuid(65_534)
        message = not_media(path)
    finally:
        if root:
            os.seteuid(0)
    assert "permissions" in message


def test_sound_pictures_and_covers_are_not_video(tmp_path: Path) -> None:
    program = imageio_ffmpeg.get_ffmpeg_exe()

    def make(name: str, *words: str) -> Path:
        subprocess.run([program, "-v", "error", "-y", *words, str(tmp_path / name)], check=True)
        return tmp_path / name

    tone = ("-f", "lavfi", "-i", "sine=duration=1")
    image = ("-f", "lavfi", "-i", "color=red:s=64x64", "-frames:v", "1")
    assert "only sound" in not_media(make("tone.m4a", *tone))
    assert "only sound" in not_media(make("tone.mp4", *tone))
    assert "still" in not_media(make("still.png", *image))
    assert "still" in not_media(make("photo.jpg", *image))
    assert "single picture" in not_media(make("one.mp4", *image))
    cover = make("cover.jpg", *image)
    covered = make("song.mp3", "-i", str(make("song0.mp3", *tone)), "-i", str(cover), "-map", "0", "-map", "1",
                   "-c", "copy", "-disposition:v", "attached_pic")  # fmt: skip
    assert "cover" in not_media(covered)


def test_wrong_extension_does_not_matter(tmp_path: Path, coded_job: Path) -> None:
    path = tmp_path / "clip.avi"
    path.write_bytes((coded_job / "footage" / "r25.mp4").read_bytes())
    assert clip_of(path).rate.exact == 25


def test_cut_off_faststart_clip_has_the_length_that_can_be_read(tmp_path: Path) -> None:
    plain = kit.coded_clip(tmp_path / "plain.mp4", Fraction(25), 500, key_every=25)
    fast = kit.remux(plain, tmp_path / "fast.mp4", "-movflags", "+faststart")
    data = fast.read_bytes()
    fast.write_bytes(data[: len(data) * 6 // 10])
    probed = probe(fast, "footage/fast.mp4")
    assert probed.clip is not None
    (found,) = probed.findings
    assert found.code == "CLIP-DAMAGED"
    assert "0:20" in found.message
    readable = 0
    with av.open(str(fast)) as container:  # the independent reader: how many frames really decode
        try:
            for _ in container.decode(video=0):
                readable += 1
        except av.error.FFmpegError:
            pass
    assert abs(probed.clip.duration - Fraction(readable, 25)) <= Fraction(5, 25)


def test_cut_off_matroska_and_transport_streams_end_where_the_bytes_do(
    tmp_path: Path, coded_job: Path
) -> None:
    for name in ("milliseconds.mkv", "late.ts"):
        data = (coded_job / "footage" / name).read_bytes()
        (tmp_path / name).write_bytes(data[: len(data) // 2])
        clip = clip_of(tmp_path / name)
        assert 2 < clip.duration < 6, name


def test_identity_follows_content_not_name_or_time(tmp_path: Path) -> None:
    data = bytes(os.urandom(3_000_000))
    for name in ("a.mp4", "b.mp4"):
        (tmp_path / name).write_bytes(data)
    os.utime(tmp_path / "b.mp4", (1, 1))
    assert identity(tmp_path / "a.mp4") == identity(tmp_path / "b.mp4")
    (tmp_path / "b.mp4").write_bytes(data[:-1] + bytes([data[-1] ^ 1]))
    assert identity(tmp_path / "a.mp4") != identity(tmp_path / "b.mp4")
    (tmp_path / "b.mp4").write_bytes(data + b"\0")
    assert identity(tmp_path / "a.mp4") != identity(tmp_path / "b.mp4")


@pytest.mark.skipif(sys.platform != "linux", reason="what is read is counted by Linux")
def test_an_hour_is_probed_without_reading_it(tmp_path: Path) -> None:
    """1 h made of 36 copies of the same packets: probing it reads their index and a few samples (proc(5), io)."""
    short = kit.coded_clip(tmp_path / "short.mp4", Fraction(25), 2500, key_every=50)
    names = tmp_path / "names.txt"
    names.write_text("".join(f"file '{short}'\n" for _ in range(36)))
    hour = tmp_path / "hour.mp4"
    kit.remux(names, hour, before=["-f", "concat", "-safe", "0"])
    before = bytes_read()
    clip = clip_of(hour)
    probed = bytes_read() - before
    assert clip.duration == 3600
    assert clip.rate.exact == 25
    with av.open(str(hour)) as container:
        packets = sum(1 for packet in container.demux(video=0) if packet.pts is not None)
    assert packets == 90_000
    whole = bytes_read() - before - probed
    assert whole > 0.9 * hour.stat().st_size
    print(f"probe of an hour reads {probed / 1e6:.1f} MB of {whole / 1e6:.1f}")
    assert probed < whole / 10


def bytes_read() -> int:
    """By this process, so far."""
    return int(Path("/proc/self/io").read_text().split()[1])


@pytest.mark.parametrize("path", kit.real_clips(), ids=lambda path: path.name)
def test_real_clips_agree_with_mediainfo(path: Path) -> None:
    before = path.read_bytes()
    probed = probe(path, f"footage/{path.name}")
    assert path.read_bytes() == before
    clip = probed.clip
    assert clip is not None
    track = next(
        t for t in MediaInfo.parse(path).video_tracks if (t.width, t.height) == (clip.width, clip.height)
    )
    # ISO/IEC 14496-12 matrices turn clockwise, as MediaInfo says; ours is counter-clockwise
    assert clip.rotation % 360 == -float(track.rotation or 0) % 360
    # a transport stream may open with pictures that follow its first key frame in the file and precede it
    # on screen: both ffmpeg and PyAV show them, MediaInfo does not count them
    leeway = 0.1 if path.suffix == ".mts" else 0.05
    assert float(clip.duration) == pytest.approx(float(track.duration) / 1000, abs=leeway)
    if not clip.variable and track.frame_rate and track.frame_rate_mode == "CFR":
        assert float(clip.rate.exact) == pytest.approx(float(track.frame_rate), rel=0.003)
    assert clip.interlaced == (track.scan_type in {"Interlaced", "MBAFF", "PAFF"})


FACTS = {
    "bikes.mp4": ("has_audio", False),
    "carphone_pristine.mp4": ("rate", Rate.parse("29.97")),
    "gopro_max_timecode_gps.mp4": ("start_timecode", "15:44:35:10"),
    "phone_hlg_creationdate.mp4": ("created", datetime(2021, 5, 25, 16, 21, 51, tzinfo=UTC)),
    "hands_box_webcam.mp4": ("video_stream", 1),
    "hand_bottles_40s_noaudio.mp4": ("has_audio", False),
    "hdr10plus_dropped_frames_vfr.mp4": ("variable", True),
    "pixel_two_video_tracks_vfr.mp4": ("variable", True),
    "phone_hevc10_hlg_editlist_rot90.mp4": ("variable", False),
    "h263_badutf8_vfr.3gp": ("first", Fraction(128, 1000)),
    "sony_avchd_1080i50.mts": ("interlaced", True),
    "keyboard_closeup_hevc_rot90.mp4": ("full_range", True),
}


@pytest.mark.parametrize(
    "path", [path for path in kit.real_clips() if path.name in FACTS], ids=lambda path: path.name
)
def test_real_clips_say_what_they_are_known_for(path: Path) -> None:
    name, value = FACTS[path.name]
    assert getattr(clip_of(path), name) == value


@pytest.mark.parametrize("rate", [Fraction(120), Fraction(240), Fraction(120_000, 1001)])
def test_fast_cameras_are_steady_in_spite_of_whole_milliseconds(tmp_path: Path, rate: Fraction) -> None:
    """120 frames a second in Matroska are stamped 8, 9, 8, 8 ... ms apart."""
    plain = kit.coded_clip(tmp_path / "fast.mp4", rate, 300)
    clip = clip_of(kit.remux(plain, tmp_path / "fast.mkv"))
    assert (clip.rate.exact, clip.variable) == (rate, False)


@pytest.mark.parametrize("suffix", ["mp4", "mkv", "mov"])
def test_clip_of_one_frame_in_two_seconds_is_read_at_its_own_rate(tmp_path: Path, suffix: str) -> None:
    rate = Rate.parse("30")
    (tmp_path / "footage").mkdir()
    kit.coded_clip(tmp_path / "footage" / f"slow.{suffix}", Fraction(1, 2), 30, key_every=10)
    (clip,) = kit.clips_in(tmp_path).values()
    assert (clip.rate.exact, clip.duration, clip.variable) == (Fraction(1, 2), 60, False)
    shot = kit.shot(clip.path, Fraction(21), 13, rate, Fraction(60))
    path, _ = kit.draft(tmp_path, kit.timeline(rate, [shot]))
    # 2 s of source to each frame of the draft, from 21.5 s on
    assert kit.numbers_in(path) == list(range(10, 23))
    assert first_and_last_source_frame(shot, clip, rate) == (10, 22)


def test_a_reader_that_fails_at_the_end_of_a_damaged_stream_keeps_what_it_read(
    coded_job: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """PyAV raises IndexError after the last packet of some damaged transport streams, by chance: it looks
    up a stream that the file did not announce. So the same error is raised here at the same place."""
    read = stamps._packets

    def failing(container: InputContainer, stream: av.VideoStream) -> Iterator[av.Packet[av.VideoStream]]:
        yield from read(container, stream)
        raise IndexError("list index out of range")

    monkeypatch.setattr(stamps, "_packets", failing)
    clip = clip_of(coded_job / "footage" / "late.ts")
    assert (clip.rate.exact, clip.duration) == (25, SECONDS)


@pytest.mark.parametrize("name", ["late.ts", "milliseconds.mkv", "r25.mp4", "df.mov"])
def test_flipped_bytes_never_raise(tmp_path: Path, coded_job: Path, name: str) -> None:
    """40 damages of each container, drawn with a fixed seed: clip or not, what is wrong is a finding."""
    whole = (coded_job / "footage" / name).read_bytes()
    draw = random.Random(11)
    for round_ in range(40):
        data = bytearray(whole)
        low = draw.choice([0, len(data) - 4000])
        for _ in range(draw.choice([1, 5, 50, 300])):
            data[low + draw.randrange(4000)] = draw.choice([0, 255, draw.randrange(256)])
        path = tmp_path / f"{round_}{Path(name).suffix}"
        path.write_bytes(data)
        probed = probe(path, f"footage/{path.name}")
        assert probed.clip is not None or [f.code for f in probed.findings] == ["CLIP-NOT-MEDIA"]
        path.unlink()


def test_any_fault_of_a_foreign_reader_is_a_finding(
    tmp_path: Path, coded_job: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """PyAV is not at fault here: its answer is bent so that the door behind it can be seen to hold."""
    path = coded_job / "footage" / "r25.mp4"
    for fault in (IndexError("list index out of range"), ValueError("bad"), OverflowError("big")):

        def broken(*_: object, fault: Exception = fault, **__: object) -> None:
            raise fault

        monkeypatch.setattr("episodekit.outside.media.probing.probe.read_stamps", broken)
        assert "cannot be read" in not_media(path)


def test_turned_clip_that_was_trimmed_by_copying_is_upright(tmp_path: Path) -> None:
    """Trimmed without a new encode: the frames from the key frame on are there, and an edit list hides them."""
    rate = Rate.parse("30")
    (tmp_path / "footage").mkdir()
    plain = kit.coded_clip(tmp_path / "plain.mp4", Fraction(30), 200, key_every=100)
    turned = kit.remux(plain, tmp_path / "turned.mp4", before=["-display_rotation", "90"])
    trimmed = kit.remux(turned, tmp_path / "footage" / "trimmed.mp4", before=["-ss", "2.9"])
    probed = probe(trimmed, "footage/trimmed.mp4")
    assert probed.findings == ()
    with av.open(str(trimmed)) as container:
        first = next(container.decode(video=0))
        assert probed.clip is not None
        assert probed.clip.rotation == first.rotation == 90
        number = kit.number_in(first.to_ndarray(format="gray"))
    path, _ = kit.draft(
        tmp_path, kit.timeline(rate, [kit.shot("footage/trimmed.mp4", Fraction(0), 10, rate)])
    )
    frames = kit.grey_frames(path)
    assert number == 87
    assert [kit.number_in(frame) for frame in frames] == list(range(87, 97))
    assert kit.code_turn(frames[0]) == 270


def test_moving_gif_is_a_clip(tmp_path: Path) -> None:
    program = imageio_ffmpeg.get_ffmpeg_exe()
    plain = kit.coded_clip(tmp_path / "plain.mp4", Fraction(10), 200)
    (tmp_path / "footage").mkdir()
    for path, more in ((tmp_path / "footage" / "lamp.gif", ()), (tmp_path / "still.gif", ("-frames:v", "1"))):
        subprocess.run([program, "-v", "error", "-i", str(plain), *more, str(path)], check=True)
    assert "single picture" in not_media(tmp_path / "still.gif")
    (clip,) = kit.clips_in(tmp_path).values()
    assert (clip.rate.exact, clip.duration, clip.variable) == (10, 20, False)
    rate = Rate.parse("30")
    shots = [kit.shot(clip.path, Fraction(start), 6, rate) for start in (0, 15)]
    path, made = kit.draft(tmp_path, kit.timeline(rate, shots))
    assert made.findings == ()
    assert kit.numbers_in(path) == [0, 0, 0, 1, 1, 1, 150, 150, 150, 151, 151, 151]
