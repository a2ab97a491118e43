"""Timecode against published values and, over every frame of a day, against the general library `timecode`."""

from __future__ import annotations

from fractions import Fraction

import pytest
from hypothesis import given
from hypothesis import strategies as st
from timecode import Timecode

from episodekit.base.time import (
    Frames,
    Ms,
    Rate,
    frames_to_ms,
    frames_to_samples,
    frames_to_seconds,
    ms_to_frames,
    seconds_to_frames,
)
from episodekit.base.timecode import frames_to_label, label_to_frames

DF30, DF60 = Rate.parse("29.97 DF"), Rate.parse("59.94 DF")


@pytest.mark.parametrize(("name", "rate", "day"), [("29.97", DF30, 2_589_408), ("59.94", DF60, 5_178_816)])
def test_drop_frame_agrees_with_the_timecode_library_over_24_hours(name: str, rate: Rate, day: int) -> None:
    # Source: the `timecode` library (which counts from 1); the day's length is computed, and OpenTimelineIO agrees.
    library = Timecode(name, frames=1)
    assert library.drop_frame
    for frame in range(day):
        hours, minutes, seconds, number = library.frames_to_tc(frame + 1)
        label = f"{hours:02d}:{minutes:02d}:{seconds:02d};{number:02d}"
        assert frames_to_label(Frames(frame), rate) == label
        assert label_to_frames(label, rate) == frame
    assert frames_to_label(Frames(day), rate) == "00:00:00;00"


@pytest.mark.parametrize("name", ["23.98", "24", "25", "29.97", "30", "50", "59.94", "60"])
def test_non_drop_labels_agree_with_the_timecode_library(name: str) -> None:
    rate = Rate.parse("24000/1001" if name == "23.98" else name)
    library = Timecode(name, frames=1, force_non_drop_frame=True)
    for frame in range(0, rate.nominal * 86_400, 997):
        hours, minutes, seconds, number = library.frames_to_tc(frame + 1)
        label = f"{hours:02d}:{minutes:02d}:{seconds:02d}:{number:02d}"
        assert frames_to_label(Frames(frame), rate) == label
        assert label_to_frames(label, rate) == frame


def test_published_drop_frame_values() -> None:
    # Source: D. Heidelberger, "About Drop-Frame Timecode"; "Timecode and Frame Rates" (quoted).
    before = label_to_frames("12:38:59;29", DF30)
    assert frames_to_label(Frames(before + 1), DF30) == "12:39:00;02"
    assert label_to_frames("00:10:00;00", DF30) == 17_982
    assert label_to_frames("01:00:00;00", DF30) == 107_892
    assert frames_to_label(Frames(1800), DF30) == "00:01:00;02"


@pytest.mark.parametrize(
    ("label", "rate", "remedy"),
    [
        ("00:01:00;00", DF30, "00:01:00;02"),
        ("00:59:00;01", DF30, "00:59:00;02"),
        ("00:01:00;03", DF60, "00:01:00;04"),
        ("00:00:60:00", Rate.parse("25"), "23:59:59"),
        ("00:00:00:25", Rate.parse("25"), "00 to 24"),
        ("24:00:00:00", Rate.parse("25"), "23:59:59"),
        ("00:00:10;00", Rate.parse("29.97"), "write ':'"),
        ("1:2:3:4", Rate.parse("25"), "hh:mm:ss:ff"),
    ],
)
def test_labels_that_do_not_exist_are_refused_with_a_remedy(label: str, rate: Rate, remedy: str) -> None:
    with pytest.raises(ValueError, match=remedy):
        label_to_frames(label, rate)


def test_tenth_minutes_drop_nothing() -> None:
    assert label_to_frames("00:10:00;00", DF30) == label_to_frames("00:09:59;29", DF30) + 1


@pytest.mark.parametrize(
    ("text", "exact"),
    [
        ("25", Fraction(25)),
        ("29.97", Fraction(30000, 1001)),
        ("23.976", Fraction(24000, 1001)),
        ("23.98", Fraction(24000, 1001)),
        ("59.94", Fraction(60000, 1001)),
        ("30000/1001", Fraction(30000, 1001)),
        ("12.5", Fraction(25, 2)),
    ],
)
def test_rates_as_cameras_print_them(text: str, exact: Fraction) -> None:
    # Source: SMPTE's 1000/1001 rates; common knowledge of the trade.
    assert Rate.parse(text).exact == exact


@pytest.mark.parametrize("text", ["", "fast", "0", "-25", "1/0", "25 DF", "30 DF", "29.97 XF", "100000"])
def test_rates_that_mean_nothing_are_refused(text: str) -> None:
    with pytest.raises(ValueError, match=r"rate|drop-frame"):
        Rate.parse(text)


rates = st.sampled_from(
    [Rate.parse(r) for r in ("23.976", "24", "25", "29.97", "30", "50", "59.94", "60", "120")]
)


@given(st.integers(0, 10**7), rates)
def test_a_frame_survives_the_way_to_seconds_and_back(frame: int, rate: Rate) -> None:
    assert seconds_to_frames(frames_to_seconds(Frames(frame), rate), rate) == frame


@given(st.integers(0, 10**7), rates)
def test_a_frame_survives_the_way_to_milliseconds_and_back(frame: int, rate: Rate) -> None:
    # Holds up to 500 frames a second, since a millisecond is then shorter than half a frame.
    assert ms_to_frames(frames_to_ms(Frames(frame), rate), rate) == frame


@given(st.integers(0, 10**8))
def test_milliseconds_to_frames_is_within_half_a_frame(ms: int) -> None:
    rate = Rate.parse("29.97")
    assert abs(Fraction(ms, 1000) - ms_to_frames(Ms(ms), rate) / rate.exact) <= Fraction(1, 2) / rate.exact


@given(st.lists(st.integers(1, 500), min_size=1, max_size=60), rates)
def test_samples_of_segments_add_up_to_the_samples_of_the_whole(lengths: list[int], rate: Rate) -> None:
    at, total = 0, 0
    for length in lengths:
        total += frames_to_samples(Frames(at + length), rate, 48_000) - frames_to_samples(
            Frames(at), rate, 48_000
        )
        at += length
    assert total == frames_to_samples(Frames(at), rate, 48_000)
    assert abs(total - at * 48_000 / rate.exact) < 1
