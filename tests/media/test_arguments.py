"""What ffmpeg is told, without running it. Option names and their order: ffmpeg's own documentation."""

from __future__ import annotations

from dataclasses import replace
from fractions import Fraction
from itertools import pairwise

import pytest

from episodekit.base.time import Frames, Rate, Seconds
from episodekit.footage.model import Clip
from episodekit.outside.media.ffmpeg_door import Command
from episodekit.outside.media.recipes.decoding import key_frames_suffice
from episodekit.outside.media.recipes.delivery import delivery_command
from episodekit.outside.media.recipes.picture import Graphic, Look, still_command, stretch_command
from episodekit.outside.media.recipes.pieces import PIECE_SECONDS, Slice, Stretch, pieces
from episodekit.outside.media.recipes.sound import sound_command
from episodekit.timeline.model import Overlay, OverlayKind, Picture
from episodekit.timeline.reading import played_frames
from tests.media import kit

RATE = Rate.parse("29.97")
LOOK = Look(1280, 720, RATE)
KEYS = tuple(Seconds(index) for index in range(600))
CLIP = Clip(
    "footage/top.mp4", Seconds(600), Rate.parse("25"), 1920, 1080, "h264", "identity", key_frames=KEYS
)
OVERLAY = Overlay(OverlayKind.LOWER_THIRD, "Screws: 4 x 'M1.6'; [out]", Frames(10), Frames(100))


def before(words: Command, option: str) -> str:
    """The value of an input option; raises if it stands behind the input."""
    at = words.index(option)
    assert at < words.index("-i")
    return words[at + 1]


def graph(words: Command) -> str:
    return words[words.index("-filter_complex") + 1]


def made(stretch: Stretch, clip_file: str = "top.mp4", graphics: tuple[Graphic, ...] = ()) -> Command:
    return stretch_command("ffmpeg", stretch, clip_file, graphics, 60, LOOK, "out.h264")


def stretch(clip: Clip = CLIP, start: Fraction = Fraction(100), speed: Fraction = Fraction(1)) -> Stretch:
    return Stretch(clip, start, speed, Frames(60))


def test_seek_comes_before_the_input_and_keeps_the_clips_own_stamps() -> None:
    # the key frame at 100 s serves; ffmpeg takes 3/23 s off where frames are reordered, so a little more is asked
    words = made(stretch(replace(CLIP, first=Seconds(7, 5)), start=Fraction(201, 2)))
    assert before(words, "-ss") == "101.540000"
    for flag in ("-copyts", "-noaccurate_seek", "-noautorotate"):
        assert words.index(flag) < words.index("-i")
    assert before(words, "-seek_timestamp") == "1"
    assert "-nostdin" in words


def test_clip_whose_key_frames_stand_close_is_entered_half_a_second_early() -> None:
    every_frame = replace(CLIP, key_frames=tuple(Seconds(index, 25) for index in range(15_000)))
    assert before(made(stretch(every_frame)), "-ss") == "99.500000"


def test_first_key_frame_of_a_clip_needs_no_seek() -> None:
    assert "-ss" not in made(stretch(start=Fraction(9, 10)))


def test_clip_without_index_is_entered_ten_seconds_early() -> None:
    assert before(made(stretch(replace(CLIP, key_frames=()))), "-ss") == "90.000000"


def test_stretch_at_the_very_beginning_needs_no_seek() -> None:
    assert "-ss" not in made(stretch(start=Fraction(0)))


def test_frame_choice_is_written_in_whole_ticks() -> None:
    text = graph(made(stretch(start=Fraction(1001, 30000), speed=Fraction(3, 2))))
    assert "settb=1/600000" in text
    # 25 frames a second in steps of 1.5 / 29.97 s: 1.25125 source frames, begun at 0.834 and a quarter
    assert "*2400-(2602))/3003-1e-7" in text
    assert "*20020" in text
    assert "fps=fps=30000/1001:start_time=0" in text
    assert text.index("fps=fps") < text.index("scale=")


def test_text_reaches_ffmpeg_only_in_files() -> None:
    graphic = Graphic("lower.png", 64, 560, Slice(OVERLAY, 10, 90))
    words = made(stretch(), graphics=(graphic,))
    assert "Screws" not in " ".join(words)
    assert "lower.png" in words


def test_name_that_looks_like_a_pattern_is_taken_literally() -> None:
    words = still_command("ffmpeg", "100%d/card.png", (), 60, LOOK, "out.h264")
    assert before(words, "-pattern_type") == "none"


def test_overlay_slice_keeps_the_overlays_own_time() -> None:
    late = graph(made(stretch(), graphics=(Graphic("o.png", 0, 0, Slice(OVERLAY, -40, 90)),)))
    assert "setpts=N+41" in late  # 40 of its frames lie in the piece before
    assert "trim=end_frame=50" in late
    early = graph(made(stretch(), graphics=(Graphic("o.png", 0, 0, Slice(OVERLAY, 10, 90)),)))
    assert "setpts=N+1[" in early
    assert "setpts=N+10" in early


@pytest.mark.parametrize(
    ("degrees", "turn"), [(90, "transpose=cclock"), (-90, "transpose=clock"), (180, "hflip")]
)
def test_turned_clip_is_turned_after_scaling(degrees: int, turn: str) -> None:
    text = graph(made(stretch(replace(CLIP, rotation=degrees))))
    assert text.index("scale=") < text.index(turn) < text.index("pad=")


def test_high_dynamic_range_is_scaled_first_and_mapped() -> None:
    text = graph(made(stretch(replace(CLIP, transfer="arib-std-b67", matrix="bt2020nc"))))
    assert text.index("scale=") < text.index("zscale=") < text.index("tonemap=hable")
    assert "tonemap" not in graph(made(stretch()))


def test_interlaced_footage_is_deinterlaced_before_frames_are_chosen() -> None:
    text = graph(made(stretch(replace(CLIP, interlaced=True))))
    assert text.index("bwdif") < text.index("settb")


def test_key_frames_alone_serve_a_time_lapse_only_where_they_are_dense_enough() -> None:
    at_30 = Rate.parse("30")
    assert key_frames_suffice(stretch(speed=Fraction(30)), at_30)
    assert not key_frames_suffice(stretch(speed=Fraction(29)), at_30)
    assert not key_frames_suffice(stretch(), at_30)
    gap = replace(CLIP, key_frames=tuple(key for key in KEYS if key != 130))
    assert not key_frames_suffice(stretch(gap, speed=Fraction(30)), at_30)
    assert key_frames_suffice(stretch(gap, start=Fraction(131), speed=Fraction(30)), at_30)
    assert not key_frames_suffice(stretch(replace(CLIP, key_frames=()), speed=Fraction(300)), at_30)
    words = made(stretch(speed=Fraction(60)))
    assert before(words, "-skip_frame") == "nokey"


def test_encoder_settings_do_not_depend_on_what_is_shown() -> None:
    footage = made(stretch(replace(CLIP, rotation=90), speed=Fraction(8)))
    card = still_command("ffmpeg", "card.png", (), 60, LOOK, "out.h264")
    tail = [words[words.index("-map") + 2 :] for words in (footage, card)]
    assert tail[0] == tail[1]
    assert ("-bf", "0") in pairwise(tail[0])
    assert ("-g", "30") in pairwise(tail[0])


def test_sound_is_placed_in_samples_from_the_clips_own_stamps() -> None:
    clip = replace(CLIP, first=Seconds(1, 2), audio_stream=1, has_audio=True)
    words = sound_command("ffmpeg", stretch(clip), ["top.mp4"], Frames(60), RATE, (True, False), "out.s16")
    assert "[0:1]" in graph(words)
    assert f"PTS-({int(100.5 * 48_000)})" in graph(words)
    assert "first_pts=0" in graph(words)
    assert "atrim=end_sample=96097" in graph(words)  # 60 frames of 1601.6 samples, and one to spare


@pytest.mark.parametrize(
    ("speed", "atempo", "bed"), [("1", False, False), ("2", True, False), ("5/2", False, True)]
)
def test_sound_is_stretched_up_to_double_speed_and_a_bed_beyond(speed: str, atempo: bool, bed: bool) -> None:
    clip = replace(CLIP, audio_stream=1, has_audio=True)
    part = stretch(clip, speed=Fraction(speed))
    text = graph(sound_command("ffmpeg", part, ["top.mp4"], Frames(60), RATE, (True, True), "out.s16"))
    assert ("atempo" in text) is atempo
    assert ("volume=-12dB" in text) is bed


def test_delivery_copies_pictures_and_takes_nothing_from_cameras() -> None:
    words = delivery_command("ffmpeg", "p.h264", "s.s16", "facts.txt", RATE, "draft.mp4")
    pairs = list(pairwise(words))
    for pair in (
        ("-c:v", "copy"),
        ("-map_metadata", "2"),
        ("-map_chapters", "2"),
        ("-movflags", "+faststart"),
    ):
        assert pair in pairs
    assert "time_base=1001/30000" in words[words.index("-bsf:v") + 1]


def test_played_frames_end_where_the_stretch_or_the_clip_ends() -> None:
    rate = Rate.parse("25")
    segment = kit.shot("footage/top.mp4", Fraction(0), 50, rate)
    assert isinstance(segment.source, Picture)
    assert played_frames(segment.frames, segment.source, CLIP, rate) == 50
    assert played_frames(segment.frames, replace(segment.source, end=Seconds(1)), CLIP, rate) == 25
    assert played_frames(segment.frames, segment.source, replace(CLIP, duration=Seconds(4, 25)), rate) == 4
    assert played_frames(segment.frames, replace(segment.source, hold=Frames(20)), CLIP, rate) == 30


def test_pieces_cover_the_draft_without_gap_or_overlap() -> None:
    rate = Rate.parse("25")
    segments = [kit.shot("footage/top.mp4", Fraction(3), 4321, rate), kit.slate(77), kit.slate(2000)]
    found = pieces(kit.timeline(rate, segments, overlays=[OVERLAY]), {"footage/top.mp4": CLIP}, {})
    at = 0
    for piece in found:
        assert piece.start == at
        assert piece.frames <= PIECE_SECONDS * 25 * 3 // 2
        at += piece.frames
    assert at == 4321 + 77 + 2000
    assert [len(piece.slices) for piece in found] == [1] + [0] * (len(found) - 1)
