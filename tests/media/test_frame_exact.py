"""Which source frame does each frame of a draft show?

Source of truth: the number each frame carries as a QR code (ISO/IEC 18004), written by segno, read from
the decoded draft by zxing-cpp. What is expected is computed here from the contract of `Picture`: output
frame n shows the source frame on screen at start + n / rate * speed and a quarter of the shorter frame.
"""

from __future__ import annotations

from fractions import Fraction
from pathlib import Path

import pytest

from episodekit.base.time import Rate
from episodekit.base.timecode import label_to_frames
from tests.media import kit
from tests.media.conftest import RATES, phone_stamps

DRAFT_RATES = ("30", "25", "29.97")


def planned(
    start: Fraction, frames: int, rate: Rate, source: Fraction, speed: Fraction = Fraction(1)
) -> list[int]:
    """Numbers that a constant-rate source shows."""
    step = speed / rate.exact
    quarter = min(step, 1 / source) / 4
    return [int((start + n * step + quarter) * source) for n in range(frames)]


@pytest.mark.parametrize("draft_rate", DRAFT_RATES)
def test_every_frame_of_every_normal_speed_segment_is_the_planned_one(
    coded_job: Path, draft_rate: str
) -> None:
    rate = Rate.parse(draft_rate)
    segments, expected = [], []
    for name, source in RATES.items():
        for start, frames in (
            (Fraction(0), 12),
            (41 / source, 31),
            (Fraction(13, 4), 25),
            (Fraction(17, 3), 40),
        ):
            segments.append(kit.shot(f"footage/r{name}.mp4", start, frames, rate))
            expected += planned(start, frames, rate, source)
    path, _ = kit.draft(coded_job, kit.timeline(rate, segments), f"exact{draft_rate}.mp4")
    assert kit.numbers_in(path) == expected


def test_drop_frame_clip_is_cut_at_its_own_labels(coded_job: Path) -> None:
    rate, source = Rate.parse("30"), Rate.parse("29.97 DF")
    clip = kit.clips_in(coded_job)["footage/df.mov"]
    assert clip.start_timecode == "00:59:58;10"
    first = label_to_frames("01:00:00;00", source) - label_to_frames("00:59:58;10", source)
    start = first / source.exact
    path, _ = kit.draft(coded_job, kit.timeline(rate, [kit.shot(clip.path, start, 30, rate)]), "df.mp4")
    assert kit.numbers_in(path) == planned(start, 30, rate, source.exact)
    assert first == 50  # 00:59:58;10 + 20 frames + 30 frames; no label is dropped at the full hour


def test_variable_rate_clip_is_right_within_half_an_output_frame(coded_job: Path) -> None:
    rate = Rate.parse("30")
    stamps = phone_stamps(160)
    clip = kit.clips_in(coded_job)["footage/phone.mp4"]
    assert clip.variable
    start, frames = Fraction(7, 5), 90
    path, _ = kit.draft(coded_job, kit.timeline(rate, [kit.shot(clip.path, start, frames, rate)]), "vfr.mp4")
    half = Fraction(1, 2) / rate.exact
    for n, number in enumerate(kit.numbers_in(path)):
        assert number is not None
        wanted = start + n / rate.exact + half / 2
        shown_from, shown_to = stamps[number], stamps[number + 1]
        assert shown_from - half <= wanted < shown_to + half, f"frame {n} shows {number}"


@pytest.mark.parametrize("speed", [Fraction(3, 2), Fraction(4), Fraction(23, 3)])
def test_speed_ups_show_the_planned_frames(coded_job: Path, speed: Fraction) -> None:
    rate, start, frames = Rate.parse("30"), Fraction(1, 3), 24
    segments, expected = [], []
    for name in ("25", "2997", "5994"):
        segments.append(kit.shot(f"footage/r{name}.mp4", start, frames, rate, speed))
        expected += planned(start, frames, rate, RATES[name], speed)
    path, _ = kit.draft(coded_job, kit.timeline(rate, segments), f"speed{float(speed):.0f}.mp4")
    assert kit.numbers_in(path) == expected


def test_strong_time_lapse_shows_key_frames_never_older_than_a_frame_of_the_draft(coded_job: Path) -> None:
    rate, speed = Rate.parse("25"), Fraction(40)
    path, _ = kit.draft(
        coded_job, kit.timeline(rate, [kit.shot("footage/r50.mp4", Fraction(0), 5, rate, speed)]), "lapse.mp4"
    )
    wanted = planned(Fraction(0), 5, rate, RATES["50"], speed)
    step = speed / rate.exact * RATES["50"]
    for number, exact in zip(kit.numbers_in(path), wanted, strict=True):
        assert number is not None
        assert exact - step <= number <= exact
        assert number % 30 == 0  # the clip has a key frame at each 30th frame


def test_hold_repeats_the_last_frame_played(coded_job: Path) -> None:
    rate = Rate.parse("25")
    plan = kit.timeline(rate, [kit.shot("footage/r25.mp4", Fraction(2), 40, rate, hold=25)])
    path, _ = kit.draft(coded_job, plan, "hold.mp4")
    assert kit.numbers_in(path) == [*range(50, 65), *[64] * 25]


def test_clip_that_ends_before_its_stretch_holds_its_last_frame(coded_job: Path) -> None:
    rate = Rate.parse("25")
    plan = kit.timeline(rate, [kit.shot("footage/r25.mp4", Fraction(7), 40, rate)])
    path, made = kit.draft(coded_job, plan, "early.mp4")
    assert kit.numbers_in(path) == [*range(175, 200), *[199] * 15]
    assert made.frames == 40


def test_transport_stream_without_index_that_starts_late_is_exact(coded_job: Path) -> None:
    rate = Rate.parse("25")
    clip = kit.clips_in(coded_job)["footage/late.ts"]
    assert clip.first > 9
    assert not clip.key_frames
    segments = [kit.shot(clip.path, Fraction(start), 20, rate) for start in (0, 3, 6)]
    path, _ = kit.draft(coded_job, kit.timeline(rate, segments), "ts.mp4")
    assert kit.numbers_in(path) == [*range(20), *range(75, 95), *range(150, 170)]


def test_stamps_rounded_to_milliseconds_do_not_tip_the_choice(coded_job: Path) -> None:
    rate, source = Rate.parse("29.97"), RATES["2997"]
    starts = [Fraction(0), 37 / source, 100 / source]
    segments = [kit.shot("footage/milliseconds.mkv", start, 30, rate) for start in starts]
    path, _ = kit.draft(coded_job, kit.timeline(rate, segments), "mkv.mp4")
    assert kit.numbers_in(path) == [*range(30), *range(37, 67), *range(100, 130)]


@pytest.mark.parametrize("degrees", [90, 180, 270])
def test_turned_clips_are_upright(coded_job: Path, degrees: int) -> None:
    """zxing-cpp says which way up it found the code: a code made upright and stored with a turn must be
    turned by just that much in the draft."""
    rate = Rate.parse("30")
    name = f"footage/turned{degrees}.mp4"
    path, _ = kit.draft(coded_job, kit.timeline(rate, [kit.shot(name, Fraction(1), 10, rate)]), "turned.mp4")
    frames = kit.grey_frames(path)
    assert [kit.number_in(frame) for frame in frames] == list(range(30, 40))
    # the display matrix asks a player to turn the picture counter-clockwise by so many degrees
    assert kit.code_turn(frames[0]) == -degrees % 360
    assert kit.code_turn(kit.coded_frame(30)) == 0


def test_long_segment_has_no_seam_between_its_pieces(coded_job: Path) -> None:
    rate, slow = Rate.parse("25"), Fraction(1, 5)
    frames = 900  # 36 s of screen: two pieces
    plan = kit.timeline(rate, [kit.shot("footage/r50.mp4", Fraction(0), frames, rate, slow)])
    path, _ = kit.draft(coded_job, plan, "seam.mp4")
    assert kit.numbers_in(path) == planned(Fraction(0), frames, rate, RATES["50"], slow)


@pytest.mark.parametrize(
    "keys", ["open-gop=1:keyint=20:bframes=3", "keyint=20:min-keyint=1:bframes=3", "keyint=3"]
)
@pytest.mark.parametrize("container", ["mp4", "mkv"])
def test_first_frames_of_shots_are_right_on_and_around_every_kind_of_key_frame(
    tmp_path: Path, keys: str, container: str
) -> None:
    """Groups of pictures that lean on the one before, as camcorders write, closed ones, and very short ones."""
    (tmp_path / "footage").mkdir()
    plain = kit.coded_clip(tmp_path / "plain.mp4", Fraction(25), 150)
    name = f"footage/keys.{container}"
    settings = ("-c:v", "libx264", "-preset", "medium", "-crf", "18", "-x264-params", f"{keys}:scenecut=0")
    kit.remux(plain, tmp_path / name, *settings)
    rate = Rate.parse("25")
    starts = [*range(18, 23), 39, 40, 41, *range(58, 63), 99, 100, 101]
    plan = kit.timeline(rate, [kit.shot(name, Fraction(start, 25), 3, rate) for start in starts])
    path, _ = kit.draft(tmp_path, plan)
    assert kit.numbers_in(path) == [start + n for start in starts for n in range(3)]
