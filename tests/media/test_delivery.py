"""The file that is delivered, read by others: a box walk after ISO/IEC 14496-12, PyAV, and MediaInfo."""

from __future__ import annotations

import struct
from collections.abc import Iterator
from fractions import Fraction
from pathlib import Path

import av
import numpy as np
import pytest
from pymediainfo import MediaInfo

from episodekit.base.time import Frames, Ms, Rate
from episodekit.formats.ffmetadata import ffmetadata
from episodekit.timeline.model import ChapterMark, Overlay, OverlayKind, Timeline
from tests.media import kit

RATE = Rate.parse("29.97")
CHAPTERS = (
    ChapterMark(Ms(0), "Cold open"),
    ChapterMark(Ms(1234), "Teardown; the screen = glue #1"),
    ChapterMark(Ms(3337), "Schräg → 修理 \\ back"),
    ChapterMark(Ms(6001), "Payoff"),
)
CONTAINERS = {"moov", "trak", "mdia", "minf", "stbl", "edts", "udta"}


def boxes(
    data: bytes, start: int = 0, end: int | None = None, path: str = ""
) -> Iterator[tuple[str, int, bytes]]:
    """Path, offset and body of every box (ISO/IEC 14496-12, 4.2)."""
    end = len(data) if end is None else end
    while start + 8 <= end:
        size, kind = struct.unpack(">I4s", data[start : start + 8])
        head = 8
        if size == 1:
            size, head = struct.unpack(">Q", data[start + 8 : start + 16])[0], 16
        name = f"{path}/{kind.decode('latin-1')}"
        yield name, start, data[start + head : start + size]
        if kind.decode("latin-1") in CONTAINERS:
            yield from boxes(data, start + head, start + size, name)
        start += size or end


@pytest.fixture(scope="module")
def plan(coded_job: Path) -> Timeline:
    segments = [
        kit.shot("footage/r25.mp4", Fraction(1), 70, RATE),
        kit.slate(45),
        kit.shot("footage/r5994.mp4", Fraction(2), 61, RATE),
        kit.shot("footage/turned90.mp4", Fraction(2), 33, RATE),
        kit.slate(200, "Seal the screen"),
    ]
    lower = Overlay(OverlayKind.LOWER_THIRD, "Lift the screen", Frames(50), Frames(140))
    return kit.timeline(RATE, segments, chapters=CHAPTERS, overlays=[lower])


@pytest.fixture(scope="module")
def delivered(coded_job: Path, plan: Timeline) -> Path:
    return kit.draft(coded_job, plan, "delivered.mp4")[0]


def test_index_comes_before_the_pictures(delivered: Path) -> None:
    order = [name for name, _, _ in boxes(delivered.read_bytes()) if name.count("/") == 1]
    assert order.index("/moov") < order.index("/mdat")


def test_every_frame_lasts_the_same(delivered: Path, plan: Timeline) -> None:
    (times,) = [b for n, _, b in boxes(delivered.read_bytes()) if n.endswith("stbl/stts")][:1]
    entries = struct.unpack(">I", times[4:8])[0]
    count, delta = struct.unpack(">II", times[8:16])
    assert (entries, count) == (1, plan.frames)
    with av.open(str(delivered)) as container:
        video = container.streams.video[0]
        assert video.average_rate == RATE.exact
        assert delta * video.time_base == 1 / RATE.exact
        stamps = [packet.pts * video.time_base for packet in container.demux(video) if packet.pts is not None]
    assert stamps == [n / RATE.exact for n in range(plan.frames)]


def test_key_frame_at_least_each_second_and_one_parameter_set(delivered: Path, plan: Timeline) -> None:
    with av.open(str(delivered)) as container:
        video = container.streams.video[0]
        packets = [packet for packet in container.demux(video) if packet.pts is not None]
        keys = [index for index, packet in enumerate(packets) if packet.is_keyframe]
        header = bytes(video.codec_context.extradata or b"")
    assert keys[0] == 0
    assert max(b - a for a, b in zip(keys, [*keys[1:], plan.frames], strict=True)) <= RATE.nominal
    assert header[0] == 1  # avcC, ISO/IEC 14496-15
    assert header[5] & 31 == 1  # one sequence parameter set
    for packet in packets:
        data, at = bytes(packet), 0
        while at < len(data):
            (size,) = struct.unpack(">I", data[at : at + 4])
            assert data[at + 4] & 31 not in (7, 8), "a parameter set inside the stream"
            at += 4 + size


def test_pieces_agree_on_their_parameter_sets(coded_job: Path, delivered: Path) -> None:
    """Before joining: footage and slates carry the same SPS and PPS, or one of them would decode wrongly."""
    sets = set()
    for piece in sorted((coded_job / "out" / "cache").glob("*.h264")):
        with av.open(str(piece), format="h264") as container:
            video = container.streams.video[0]
            if (video.width, video.height, video.codec_context.framerate) == (320, 180, RATE.exact):
                sets.add(bytes(video.codec_context.extradata or b""))
    assert len(sets) == 1


def test_pixels_and_colour_are_tagged(delivered: Path) -> None:
    video = MediaInfo.parse(delivered).video_tracks[0]
    assert (video.chroma_subsampling, video.bit_depth, video.scan_type) == ("4:2:0", 8, "Progressive")
    for tag in (video.color_primaries, video.transfer_characteristics, video.matrix_coefficients):
        assert tag == "BT.709"
    assert video.color_range == "Limited"
    assert video.frame_rate_mode == "CFR"
    assert video.pixel_aspect_ratio == "1.000"
    with av.open(str(delivered)) as container:
        assert container.streams.video[0].codec_context.pix_fmt == "yuv420p"
        audio = container.streams.audio[0]
        assert (audio.codec_context.name, audio.rate, audio.channels) == ("aac", 48_000, 2)


def test_chapters_read_back_equal_the_plan_to_the_millisecond(delivered: Path, plan: Timeline) -> None:
    planned = [(mark.start, mark.title) for mark in CHAPTERS]
    with av.open(str(delivered)) as container:
        read = [
            (chapter["start"] * chapter["time_base"] * 1000, chapter["metadata"]["title"])
            for chapter in container.chapters()
        ]
    assert read == planned
    clocked = [
        f"{ms // 3_600_000:02d}_{ms // 60_000 % 60:02d}_{ms // 1000 % 60:02d}{ms % 1000:03d}"
        for ms, _ in planned
    ]
    menus = [menu.to_data() for menu in MediaInfo.parse(delivered).menu_tracks]
    # The chapter track, which is a track with a format, and the older list, which is not.
    assert [menu.get("format") for menu in menus] == ["Timed Text", None]
    for menu in menus:
        assert [menu[name] for name in clocked] == [title for _, title in planned]


def test_as_many_chapters_as_both_lists_hold_and_not_one_more(coded_job: Path) -> None:
    """The older of MP4's two lists holds 255 at most, so a 256th is refused before ffmpeg sees it."""
    marks = [ChapterMark(Ms(index * 100), f"Chapter {index}") for index in range(256)]
    plan = kit.timeline(Rate.parse("30"), [kit.slate(900)], chapters=marks[:255])
    path, _ = kit.draft(coded_job, plan, "many.mp4")
    for menu in MediaInfo.parse(path).menu_tracks:
        titles = [title for title in menu.to_data().values() if str(title).startswith("Chapter ")]
        assert titles == [mark.title for mark in marks[:255]]
    with pytest.raises(ValueError, match="256 chapters"):
        kit.draft(coded_job, kit.timeline(Rate.parse("30"), [kit.slate(900)], chapters=marks), "over.mp4")


def test_nothing_of_the_cameras_metadata_is_delivered(tmp_path: Path) -> None:
    (tmp_path / "footage").mkdir()
    plain = kit.coded_clip(tmp_path / "plain.mp4", Fraction(25), 50)
    where = [
        "-metadata",
        "location=+52.5000+013.4000/",
        "-metadata",
        "comment=serial 4711",
        "-movflags",
        "use_metadata_tags",
    ]
    kit.remux(plain, tmp_path / "footage" / "told.mp4", *where)
    assert b"+52.5000" in (tmp_path / "footage" / "told.mp4").read_bytes()
    rate = Rate.parse("25")
    path, _ = kit.draft(tmp_path, kit.timeline(rate, [kit.shot("footage/told.mp4", Fraction(0), 25, rate)]))
    data = path.read_bytes()
    assert b"+52.5000" not in data
    assert b"4711" not in data
    with av.open(str(path)) as container:
        assert container.metadata["title"] == "A small draft"
        assert not {"location", "comment", "creation_time", "encoder"} & set(container.metadata)


def test_same_timeline_gives_the_same_bytes(
    coded_job: Path, plan: Timeline, delivered: Path, tmp_path: Path
) -> None:
    from episodekit.outside.media.engine import render

    again = tmp_path / "again.mp4"
    made = render(plan, kit.clips_in(coded_job), coded_job, again, tmp_path / "cache", workers=1)
    assert made.segments_reused == 0
    assert again.read_bytes() == delivered.read_bytes()


def test_overlay_lies_on_just_its_frames_across_a_joint(tmp_path: Path) -> None:
    rate = Rate.parse("25")
    (tmp_path / "footage").mkdir()
    flat = (np.full((180, 320), 128, np.uint8) for _ in range(250))
    kit.encode(tmp_path / "footage" / "flat.mp4", flat, Fraction(25))
    segments = [kit.shot("footage/flat.mp4", Fraction(start), 30, rate) for start in (1, 4)]
    lower = Overlay(OverlayKind.LOWER_THIRD, "Lift the screen", Frames(20), Frames(45))
    bare, _ = kit.draft(tmp_path, kit.timeline(rate, segments), "bare.mp4")
    dressed, _ = kit.draft(tmp_path, kit.timeline(rate, segments, overlays=[lower]), "dressed.mp4")
    pairs = zip(kit.grey_frames(bare), kit.grey_frames(dressed), strict=True)
    changed = [float(abs(a.astype(int) - b.astype(int)).mean()) for a, b in pairs]
    touched = [index for index, change in enumerate(changed) if change > 0.1]
    assert touched == list(range(20, 45))
    middle = changed[32]
    assert changed[20] < middle / 2  # fades in
    assert changed[44] < middle / 2  # fades out
    assert changed[29] == pytest.approx(changed[30], rel=0.35)  # no dip at the joint


@pytest.mark.parametrize(
    ("chapters", "says"),
    [
        ([ChapterMark(Ms(5), "Late")], "at 0"),
        (
            [ChapterMark(Ms(0), "A"), ChapterMark(Ms(900), "B"), ChapterMark(Ms(300), "C")],
            "does not come after",
        ),
        ([ChapterMark(Ms(0), "A"), ChapterMark(Ms(0), "B")], "does not come after"),
        ([ChapterMark(Ms(0), "A"), ChapterMark(Ms(1000), "B")], "after the end"),
        ([ChapterMark(Ms(0), "x" * 65_536)], "longer than"),
    ],
)
def test_chapters_that_ffmpeg_would_spoil_silently_are_refused(
    chapters: list[ChapterMark], says: str
) -> None:
    """Measured with ffmpeg: it accepts each of these without an error and writes a damaged list."""
    with pytest.raises(ValueError, match=says):
        ffmetadata("Title", chapters, Ms(1000))


def test_cautions_and_disclosures_stand_in_full_from_their_first_frame_to_their_last(tmp_path: Path) -> None:
    """A hazard is never on screen without its caution, also where the long one gives way to the short one."""
    rate = Rate.parse("25")
    (tmp_path / "footage").mkdir()
    flat = (np.full((180, 320), 128, np.uint8) for _ in range(100))
    kit.encode(tmp_path / "footage" / "flat.mp4", flat, Fraction(25))
    caution = Overlay(OverlayKind.CAUTION, "Mains: unplugged", Frames(0), Frames(30), "Local codes first")
    short = Overlay(OverlayKind.CAUTION, "mains", Frames(30), Frames(60))
    paid = Overlay(OverlayKind.DISCLOSURE, "Ad · paid for by Larkspur", Frames(10), Frames(50))
    plan = kit.timeline(
        rate, [kit.shot("footage/flat.mp4", Fraction(0), 70, rate)], overlays=[caution, short, paid]
    )
    path, _ = kit.draft(tmp_path, plan)
    frames = kit.grey_frames(path)
    top = slice(0, 60)

    def strength(half: slice) -> list[float]:
        return [float(abs(frame[top, half].astype(int) - frames[-1][top, half]).mean()) for frame in frames]

    left, right = strength(slice(0, 160)), strength(slice(160, 320))
    assert min(left[:30]) > 0.97 * max(left[:30]) > 5
    assert min(left[30:60]) > 0.97 * max(left[30:60]) > 1
    assert max(left[60:]) < 0.5
    assert min(right[10:50]) > 0.97 * max(right[10:50]) > 5
    assert max(right[:10] + right[50:]) < 0.5
