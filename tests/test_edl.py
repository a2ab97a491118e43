"""The edit decision list, read by two independent readers of others, `pycmx` and `edl-reader`, column by column.

Labels are counted by the general library `timecode`. What a column must hold is computed here from the segments.
SMPTE ST 258 was not seen; what an M2 line means is told by a deck maker's user guide.
"""

from __future__ import annotations

import io
import re
from collections.abc import Sequence
from dataclasses import replace
from fractions import Fraction
from math import floor

import edl
import pycmx
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from timecode import Timecode

from episodekit.base.time import Frames, Rate, Seconds
from episodekit.footage.model import Clip
from episodekit.formats.edl import MOST_EVENTS, plain, reels_of, write_edl
from episodekit.timeline.markers import Marker, MarkerKind
from episodekit.timeline.model import Card, Picture, Segment, Sound, Timeline

NDF30 = "30"
"""What `timecode` counts without drops at 30 labels a second; its 29.97 always drops."""
READ_AT = {"25": "25", "29.97": NDF30, "29.97 DF": "29.97", "30": NDF30, "24": "24", "59.94 DF": "59.94"}


def clip(path: str, rate: str, seconds: int = 600, **more: object) -> Clip:
    return Clip(
        path,
        Seconds(seconds),
        Rate.parse(rate),
        320,
        180,
        "h264",
        path,
        has_audio=True,
        audio_stream=1,
        **more,
    )  # type: ignore[arg-type]


CLIPS = {
    one.path: one
    for one in (
        clip("footage/top-1.mp4", "25"),
        clip("footage/top 1 (copy).mov", "29.97", start_timecode="00:58:12;10"),
        clip("footage/übersicht_macro.mp4", "50", start_timecode="10:00:00:00"),
        clip("footage/night/bl.mp4", "30"),
        clip("footage/silent.mp4", "29.97"),
    )
}
CLIPS["footage/silent.mp4"] = Clip(
    "footage/silent.mp4",
    Seconds(600),
    Rate.parse("29.97"),
    320,
    180,
    "h264",
    "s",
    start_timecode="23:58:10:00",
)


def footage(
    path: str, first: int, frames: int, rate: Rate, speed: Fraction = Fraction(1), hold: int = 0
) -> Segment:
    """From a frame of the clip on."""
    start = Fraction(first) / CLIPS[path].rate.exact
    end = start + (frames - hold) / rate.exact * speed
    return Segment(Frames(frames), Picture(path, start, end, speed, Frames(hold)), "step", 3)


def slate(frames: int) -> Segment:
    return Segment(Frames(frames), Card("Lift the screen", "Shot 4 · to film"), "step", 4)


def busy(rate: Rate) -> Timeline:
    """Every clip at normal speed and in ramps, with holds and slates; longer than a minute, for dropped labels."""
    segments = []
    for number, path in enumerate(CLIPS):
        for place, speed in enumerate(
            (Fraction(1), Fraction(3, 2), Fraction(23, 3), Fraction(20), Fraction(1, 4))
        ):
            first = 1700 + 91 * number + 7 * place
            segments.append(footage(path, first, 120 + 31 * place, rate, speed, hold=(0, 9)[place % 2]))
        segments.append(slate(40 + number))
    # the sound of another camera's microphone, in step, sped up, and lowered; and none
    for place, speed in enumerate((Fraction(1), Fraction(3, 2), Fraction(20))):
        shot = footage("footage/night/bl.mp4", 900 + place, 50, rate, speed)
        segments.append(replace(shot, sound=Sound("footage/top-1.mp4", Seconds(Fraction(77 + place, 25)))))
    segments.append(replace(footage("footage/top-1.mp4", 5, 30, rate), sound=Sound(None, Seconds(0))))
    return Timeline("Ünder the lamp – «part 1»", rate, 320, 180, tuple(segments))


def by_pycmx(text: str) -> tuple[str, list[dict[str, object]]]:
    read = pycmx.parse_cmx3600(io.StringIO(text))
    assert read.format == "3600"
    rows = []
    for event in read.events:
        (edit,) = event.edits
        sound = "AA" if edit.channels.a1 and edit.channels.a2 else ""
        rows.append(
            {
                "number": event.number,
                "reel": edit.source,
                "channels": {(True, ""): "V", (True, "AA"): "AA/V", (False, "AA"): "AA"}[
                    edit.channels.video, sound
                ],
                "cut": edit.transition.cut,
                "labels": (edit.source_in, edit.source_out, edit.record_in, edit.record_out),
                "name": edit.clip_name,
                "file": edit.source_file,
                "motion": [s.content for s in event.unrecognized_statements],
            }
        )
    return read.title, rows


def labels(event: edl.Event, drop: str) -> tuple[str, ...]:
    """As they were written: the reader's library prints a ';' only where its rate drops."""
    return tuple(
        str(one) for one in (event.src_start_tc, event.src_end_tc, event.rec_start_tc, event.rec_end_tc)
    )


def count(label: str, rate: Rate) -> int:
    """Frames from 00:00:00:00, by the library `timecode`, which counts from 1."""
    name = READ_AT[f"{rate} DF" if ";" in label and not rate.drop else str(rate)]
    if ":" in label[8:9]:
        name = str(rate.nominal)
    return int(Timecode(name, label).frames) - 1


@pytest.mark.parametrize("text", ["25", "29.97", "29.97 DF", "30", "24"])
def test_two_readers_agree_on_every_column(text: str) -> None:
    rate = Rate.parse(text)
    # One reader counts all labels of a list in one way, so clips that count otherwise are left to the next test.
    mixed = {
        path
        for path, c in CLIPS.items()
        if c.start_timecode and c.rate.exact == rate.exact and (";" in c.start_timecode) is not rate.drop
    }
    plan = busy(rate)
    segments = [s for s in plan.segments if isinstance(s.source, Card) or s.source.clip not in mixed]
    (made,) = write_edl(Timeline(plan.title, rate, 320, 180, tuple(segments)), CLIPS)
    title, rows = by_pycmx(made)
    other = edl.Parser(READ_AT[text]).parse(made)
    assert title == other.title == "Under the lamp - part 1"
    assert other.fcm == ("DROP FRAME" if rate.drop else "NON-DROP FRAME")
    assert len(rows) == len(other.events) > 20
    for row, event in zip(rows, other.events, strict=True):
        assert row["number"] == int(event.num)
        assert row["reel"] == event.reel
        assert row["channels"] == event.track
        assert row["cut"] is True
        assert event.tr_code == "C"
        assert row["labels"] == labels(event, text)
        assert row["name"] == event.clip_name
        assert (row["file"] or None) == event.source_file
        assert bool(row["motion"]) is event.has_timewarp()
        if event.has_timewarp():
            assert str(row["motion"][0]).split() == [  # type: ignore[index]
                "M2",
                event.timewarp.reel,
                f"{event.timewarp.warp_fps:05.1f}",
                str(event.timewarp.timecode),
            ]
            assert event.timewarp.reel == event.reel
            assert str(event.timewarp.timecode) == row["labels"][0]  # type: ignore[index]
    assert {row["channels"] for row in rows} == {"V", "AA", "AA/V"}


def expected(plan: Timeline) -> list[tuple[str, int, int, Fraction | None, int]]:
    """Channels, first record frame, record frames, speed (None for a slate) and segment of every event."""
    rows: list[tuple[str, int, int, Fraction | None, int]] = []
    at = 0
    for index, segment in enumerate(plan.segments):
        picture = segment.source
        if isinstance(picture, Card):
            rows.append(("V", at, segment.frames, None, index))
        else:
            moves = segment.frames - picture.hold
            mic = segment.sound.clip if segment.sound else picture.clip
            heard = mic is not None and CLIPS[mic].has_audio and picture.speed >= Fraction(1, 2)
            own = heard and picture.speed <= 2 and segment.sound is None
            rows.append(("AA/V" if own else "V", at, moves, picture.speed, index))
            if heard and not own:
                rows.append(("AA", at, moves, Fraction(1) if picture.speed > 2 else picture.speed, index))
            if picture.hold:
                rows.append(("V", at + moves, picture.hold, Fraction(0), index))
        at += segment.frames
    return rows


@pytest.mark.parametrize("text", ["25", "29.97", "29.97 DF", "30", "24", "59.94 DF"])
def test_list_is_the_plan_frame_for_frame(text: str) -> None:
    rate = Rate.parse(text)
    plan = busy(rate)
    (made,) = write_edl(plan, CLIPS)
    _, rows = by_pycmx(made)
    wanted = expected(plan)
    assert [row["number"] for row in rows] == list(range(1, len(wanted) + 1))
    hour = count("01:00:00;00" if rate.drop else "01:00:00:00", rate)
    reels = reels_of(CLIPS)
    for row, (channels, at, frames, speed, index) in zip(rows, wanted, strict=True):
        source_in, source_out, record_in, record_out = row["labels"]  # type: ignore[misc]
        assert row["channels"] == channels
        assert (count(record_in, rate) - hour, count(record_out, rate) - hour) == (at, at + frames)
        assert all((";" in label) is rate.drop for label in (record_in, record_out))
        picture = plan.segments[index].source
        if isinstance(picture, Card):
            assert row["reel"] == "BL"
            assert row["name"] == "SLATE Shot 4 to film - Lift the screen"
            assert (count(source_in, rate), count(source_out, rate)) == (0, frames)
            continue
        path, start = picture.clip, picture.start
        sound = plan.segments[index].sound
        if channels == "AA" and sound is not None:
            assert sound.clip is not None
            path, start = sound.clip, sound.start
        footage = CLIPS[path]
        assert row["reel"] == reels[path]
        assert row["file"] == path
        # Right source out at speed changes: what plays times the speed; one frame of a held picture.
        assert speed is not None
        length = run(source_in, source_out, rate)
        assert abs(length - max(1, frames * speed)) <= Fraction(1, 2)
        # Frames a second, of which the rate's whole number is normal; to the tenth.
        motion = row["motion"]
        assert bool(motion) is (speed != 1)
        if motion:
            ((_, reel, fps, at_label),) = [line.split() for line in motion]  # type: ignore[attr-defined]
            assert (reel, at_label) == (row["reel"], source_in)
            assert re.fullmatch(r"\d{3,4}\.\d", fps)
            assert abs(Fraction(fps) - speed * rate.nominal) <= Fraction(1, 20)
            assert (fps == "000.0") is (speed == 0)
        # In point: the frame shown. Of a clip at the list's rate exactly; else the label within half a frame of it.
        first = floor(start * footage.rate.exact)
        if speed == 0:
            step = picture.speed * footage.rate.exact / rate.exact
            moves = plan.segments[index].frames - picture.hold
            first += floor((moves - 1) * step + min(step, Fraction(1)) / 4)
        label = footage.start_timecode
        if footage.rate.exact == rate.exact:
            assert run(label, source_in, rate) == first
            assert label is None or (";" in source_in) is (";" in label)
            continue
        assert (";" in source_in) is rate.drop
        late = run(at_rate(label, footage, rate), source_in, rate) / rate.exact * footage.rate.exact - first
        if footage.rate.exact < rate.exact:  # a frame of the clip lasts longer than a label
            assert 0 <= late < 1
        else:
            assert abs(late) <= Fraction(1, 2) * footage.rate.exact / rate.exact


def run(start: str | None, end: str, rate: Rate) -> int:
    """Frames from one label to another, over midnight if need be; from 00:00:00:00 without a start."""
    day = count("23:59:59" + end[8] + f"{rate.nominal - 1:02d}", rate) + 1
    return (count(end, rate) - (count(start, rate) if start else 0)) % day


def at_rate(label: str | None, footage: Clip, rate: Rate) -> str | None:
    """The label with the same hours, minutes and seconds at another rate; none here begins at a dropped one."""
    if label is None:
        return None
    frame = int(label[9:]) * rate.nominal // footage.rate.nominal
    return f"{label[:8]}{';' if rate.drop else ':'}{frame:02d}"


@settings(max_examples=60)
@given(
    st.sampled_from(["25", "29.97", "29.97 DF", "59.94 DF"]),
    st.lists(
        st.tuples(
            st.sampled_from(sorted(CLIPS)),
            st.integers(0, 9000),
            st.integers(1, 4000),
            st.fractions(Fraction(1, 8), 60, max_denominator=90),
            st.integers(0, 50),
        ),
        min_size=1,
        max_size=30,
    ),
)
def test_record_time_has_no_gap_and_no_overlap(
    text: str, shots: Sequence[tuple[str, int, int, Fraction, int]]
) -> None:
    rate = Rate.parse(text)
    segments = [
        footage(path, first, frames + hold, rate, speed, hold) for path, first, frames, speed, hold in shots
    ]
    plan = Timeline("Any", rate, 320, 180, tuple(segments))
    (made,) = write_edl(plan, CLIPS)
    _, rows = by_pycmx(made)
    at = count("01:00:00;00" if rate.drop else "01:00:00:00", rate)
    for row in rows:
        if row["channels"] == "AA":
            continue
        _, _, record_in, record_out = row["labels"]  # type: ignore[misc]
        assert count(record_in, rate) == at
        at = count(record_out, rate)
    assert at - count("01:00:00;00" if rate.drop else "01:00:00:00", rate) == plan.frames


def test_list_of_more_than_999_events_goes_on_in_another() -> None:
    rate = Rate.parse("25")
    segments = [footage("footage/top-1.mp4", n, 10, rate, Fraction(3)) for n in range(700)]
    made = write_edl(Timeline("Long", rate, 320, 180, tuple(segments)), CLIPS)
    read = [by_pycmx(text) for text in made]
    assert [title for title, _ in read] == ["Long (1 of 2)", "Long (2 of 2)"]
    assert [len(rows) for _, rows in read] == [998, 402]  # picture and sound of a shot stay together
    assert all(len(str(row["number"])) <= 3 for _, rows in read for row in rows)
    assert read[0][1][-1]["labels"][3] == read[1][1][0]["labels"][2]  # type: ignore[index]
    assert max(len(rows) for _, rows in read) <= MOST_EVENTS


def test_chapters_reads_and_breaks_are_locators_at_record_time() -> None:
    rate = Rate.parse("29.97 DF")
    plan = Timeline("Marked", rate, 320, 180, (slate(2000), slate(100)))
    marked = [
        Marker(MarkerKind.CHAPTER, Frames(0), Frames(0), "Öffnen – TITLE"),
        Marker(MarkerKind.STEP, Frames(5), Frames(9), "A step"),
        Marker(MarkerKind.READ, Frames(1800), Frames(200), "Read"),
        Marker(MarkerKind.AD_BREAK, Frames(2100), Frames(0), "Ad break 1"),
        Marker(MarkerKind.CHAPTER, Frames(2000), Frames(0), "Разборка"),
    ]
    (made,) = write_edl(plan, {}, marked)
    read = edl.Parser("29.97").parse(made)
    assert [[c for c in event.comments if "LOC" in c] for event in read.events] == [
        ["* LOC: 01:00:00;00 GREEN   CHAPTER Offnen - TITLE", "* LOC: 01:01:00;02 RED     READ Read"],
        [
            "* LOC: 01:01:10;02 YELLOW  AD BREAK Ad break 1",
            "* LOC: 01:01:06;22 GREEN   CHAPTER chapter",
        ],
    ]


def test_names_are_plain_and_no_two_reels_alike() -> None:
    paths = [f"footage/{folder}/GH01{n:04d}.MP4" for folder in ("a", "b") for n in range(60)]
    paths += ["footage/bl.mov", "footage/AX.mov", "footage/Обзор.mp4", "footage/…mp4", "footage/a b-c.mp4"]
    reels = reels_of(paths)
    assert len(set(reels.values())) == len(paths)
    assert all(re.fullmatch(r"[A-Z0-9_]{1,8}", reel) for reel in reels.values())
    assert not {"BL", "AX"} & set(reels.values())
    assert plain("a\nb\x07 “c” ½") == 'a b "c" 12'


def test_rate_without_timecode_is_refused() -> None:
    with pytest.raises(ValueError, match="no timecode"):
        write_edl(Timeline("Odd", Rate.parse("12.5"), 320, 180, (slate(10),)), {})
