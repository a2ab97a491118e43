"""The draft as an OpenTimelineIO file: read back by its library, and conformed from the raw footage by a small one.

Source of truth for the frames: the number each frame of the footage carries as a QR code, read by zxing-cpp from the
draft and from what the renderer picks.
"""

from __future__ import annotations

from dataclasses import replace
from fractions import Fraction
from pathlib import Path

import numpy as np
import opentimelineio as otio
import pytest

from episodekit.base.time import Frames, Ms, Rate
from episodekit.base.timecode import label_to_frames
from episodekit.formats.otio_timeline import write_otio
from episodekit.timeline.markers import Marker, MarkerKind
from episodekit.timeline.model import ChapterMark, Segment, Sound, Timeline
from episodekit.timeline.narration import Line
from tests.media import conform, kit
from tests.media.conftest import RATES

SPEEDS = (Fraction(1), Fraction(3, 2), Fraction(9, 4), Fraction(23, 3))


def written(root: Path, plan: Timeline, name: str, lines: tuple[Line, ...] = ()) -> Path:
    """The file where the program puts it."""
    path = root / "out" / "pack" / f"{name}.otio"
    path.parent.mkdir(parents=True, exist_ok=True)
    path.write_text(write_otio(plan, kit.clips_in(root), lines), encoding="utf-8")
    return path


def busy(rate: Rate) -> list[Segment]:
    """Every rate of footage at every speed, with holds and slates between, from frames and from between them."""
    segments = []
    for number, (name, source) in enumerate(RATES.items()):
        clip = f"footage/r{name}.mp4"
        for place, speed in enumerate(SPEEDS):
            first = (7 + 5 * number + place) / source + (Fraction(place, 300) if number % 2 else 0)
            segments.append(kit.shot(clip, first, 13 + place, rate, speed, hold=4 * (place % 2)))
        segments.append(kit.slate(5 + number))
    # beyond the end of its clip: what is missing is held
    segments.append(kit.shot("footage/r25.mp4", Fraction(77, 10), 20, rate))
    segments.append(kit.shot("footage/df.mov", 50 / RATES["2997"], 30, rate))
    segments.append(kit.shot("footage/df.mov", 50 / RATES["2997"], 12, rate, Fraction(4, 3)))
    return segments


@pytest.mark.parametrize("text", ["25", "29.97 DF", "29.97", "50"])
def test_timeline_conformed_from_the_raw_footage_shows_the_drafts_frames(coded_job: Path, text: str) -> None:
    rate = Rate.parse(text)
    plan = kit.timeline(rate, busy(rate))
    name = text.replace(" ", "")
    video, _ = kit.draft(coded_job, plan, f"otio{name}.mp4")
    seen = kit.numbers_in(video)
    conformed = conform.pictures(written(coded_job, plan, name))
    assert len(seen) == len(conformed) == plan.frames
    assert [None if image is None else kit.number_in(image) for image in conformed] == seen
    assert sum(number is None for number in seen) == sum(5 + n for n in range(len(RATES)))


def test_phone_clip_of_variable_rate_conforms_to_the_drafts_frames(coded_job: Path) -> None:
    rate = Rate.parse("30")
    shots = [kit.shot("footage/phone.mp4", Fraction(7, 5), 60, rate, speed) for speed in SPEEDS[:2]]
    plan = kit.timeline(rate, shots)
    video, _ = kit.draft(coded_job, plan, "otio-phone.mp4")
    seen = kit.numbers_in(video)
    conformed = [
        kit.number_in(image)
        for image in conform.pictures(written(coded_job, plan, "phone"))
        if image is not None
    ]
    assert conformed == seen


@pytest.mark.parametrize("text", ["25", "29.97 DF", "29.97"])
def test_library_reads_back_what_was_written(coded_job: Path, text: str) -> None:
    rate = Rate.parse(text)
    plan = kit.timeline(rate, busy(rate))
    path = written(coded_job, plan, "back")
    made = otio.adapters.read_from_file(str(path))
    assert f"{made.to_json_string(indent=2)}\n" == path.read_text(encoding="utf-8")
    zero = made.global_start_time
    assert zero.rate == float(rate.exact)
    # Source: the library's own timecode, which counts as ST 12-1 does.
    assert otio.opentime.to_timecode(zero, zero.rate, rate.drop) == (
        "01:00:00;00" if rate.drop else "01:00:00:00"
    )
    assert Fraction(made.metadata["episodekit"]["rate"]) == rate.exact
    assert [(t.name, t.kind) for t in made.tracks] == [
        ("Picture", "Video"),
        ("Bench sound", "Audio"),
        ("Narration", "Audio"),
    ]
    track = conform.track(made, "Picture")
    assert track.duration() == otio.opentime.RationalTime(plan.frames, float(rate.exact))
    clips, at = list(track), 0
    sources = kit.clips_in(coded_job)
    for segment in plan.segments:
        left = segment.frames
        while left:
            clip = clips.pop(0)
            where = clip.range_in_parent()
            assert (where.start_time.value, where.start_time.rate) == (at, float(rate.exact))
            at += where.duration.to_frames()
            left -= where.duration.to_frames()
            part, media = clip.source_range, clip.media_reference
            if isinstance(media, otio.schema.ExternalReference):
                assert media.available_range.contains(part.start_time)
                source = sources[segment.source.clip]
                assert part.start_time.rate == float(source.rate.exact)
                assert media.available_range.duration.value == round(source.duration * source.rate.exact)
                assert (path.parent / media.target_url).resolve() == coded_job / source.path
                assert conform.scalar(clip) in (0.0, float(f"{float(segment.source.speed):.15g}"))
            else:
                assert media.generator_kind == "slate"
                assert media.parameters["heading"] == "Lift the screen"
                assert list(media.parameters["lines"]) == ["Macro camera"]
        assert left == 0
    assert not clips


def test_clip_with_a_timecode_is_named_at_its_own_labels(coded_job: Path) -> None:
    rate, source = Rate.parse("25"), Rate.parse("29.97 DF")
    plan = kit.timeline(rate, [kit.shot("footage/df.mov", 50 / source.exact, 30, rate)])
    made = otio.adapters.read_from_file(str(written(coded_job, plan, "labels")))
    (clip,) = conform.track(made, "Picture")
    first = otio.opentime.from_timecode("00:59:58;10", float(source.exact))
    there = clip.media_reference.available_range
    assert (there.start_time, there.duration.value) == (first, 300)
    assert int(clip.source_range.start_time.value) == label_to_frames("01:00:00;00", source)
    handle = clip.source_range.start_time - there.start_time
    assert int(handle.value) == 50


def test_bench_sound_of_the_timeline_is_what_the_draft_plays(beeping_job: Path) -> None:
    rate = Rate.parse("25")
    speeds = (Fraction(1), Fraction(8), Fraction(3, 2), Fraction(1, 4), Fraction(1))
    shots = [
        kit.shot(f"footage/{'ab'[n % 2]}.mp4", Fraction(11 + 10 * n, 10), 120, rate, speed, hold=20)
        for n, speed in enumerate(speeds)
    ]
    # and with the other camera's sound under them
    for speed in (Fraction(1), Fraction(8)):
        shot = kit.shot("footage/a.mp4", Fraction(7, 3), 120, rate, speed, hold=20)
        shots.append(replace(shot, sound=Sound("footage/b.mp4", Fraction(77, 10))))
    plan = kit.timeline(rate, [*shots, kit.slate(25)])
    video, _ = kit.draft(beeping_job, plan, "otio-sound.mp4")
    heard = kit.mono_sound(video)[: plan.frames * 1920]
    wanted = conform.sound(written(beeping_job, plan, "sound"), "Bench sound")
    assert len(wanted) == plan.frames * 1920

    def loudness(sound: np.ndarray) -> np.ndarray:
        return np.sqrt(np.mean(sound[: len(sound) // 480 * 480].reshape(-1, 480) ** 2, axis=1))

    ours, theirs = loudness(heard), loudness(wanted)
    size = min(len(ours), len(theirs))
    ours, theirs = ours[:size], theirs[:size]
    assert np.corrcoef(ours, theirs)[0, 1] > 0.97
    for number, speed in enumerate((*speeds, Fraction(1), Fraction(8))):
        part = slice(number * 480, number * 480 + 400)
        if speed < Fraction(1, 2):
            assert max(ours[part].max(), theirs[part].max()) < 1e-3
        else:
            assert ours[part].max() == pytest.approx(theirs[part].max(), rel=0.15)
            # a tone begins within 10 ms of where it does in the draft; a stretched one, within 40
            loud = [int(np.argmax(one[part] > one[part].max() / 2)) for one in (ours, theirs)]
            assert abs(loud[0] - loud[1]) <= (4 if speed == Fraction(3, 2) else 1)


def test_narration_lies_at_its_beats(coded_job: Path) -> None:
    rate = Rate.parse("29.97")
    lines = (
        Line("open.1", "takes/open one.wav", Ms(120), Ms(2000), Ms(331)),
        Line("open.2", "takes/open.2.wav", Ms(0), Ms(1500), Ms(2331)),
        Line("screws.1", "takes/screws.1.wav", Ms(40), Ms(900), Ms(4500)),
    )
    made = otio.adapters.read_from_file(
        str(written(coded_job, kit.timeline(rate, [kit.slate(300)]), "told", lines))
    )
    clips = [item for item in conform.track(made, "Narration") if isinstance(item, otio.schema.Clip)]
    assert [clip.name for clip in clips] == [line.beat for line in lines]
    assert clips[0].media_reference.target_url == "../../takes/open%20one.wav"
    for clip, line in zip(clips, lines, strict=True):
        where = clip.range_in_parent()
        assert where.start_time.to_seconds() == line.at / 1000
        assert where.duration.to_seconds() == line.length / 1000
        assert clip.source_range.start_time.to_seconds() == line.start / 1000


def test_markers_say_what_they_mark() -> None:
    rate = Rate.parse("25")
    plan = Timeline("Marked", rate, 320, 180, (kit.slate(100),), chapters=(ChapterMark(Ms(0), "Start"),))
    markers = [
        Marker(kind, Frames(10 * n), Frames(n), f"The {kind.value}", f"id{n}", "why")
        for n, kind in enumerate(MarkerKind)
    ]
    made = otio.adapters.read_from_string(write_otio(plan, {}, (), markers), "otio_json")
    read = [
        (
            m.metadata["episodekit"]["kind"],
            m.marked_range.start_time.value,
            m.marked_range.duration.value,
            m.name,
        )
        for m in made.tracks.markers
    ]
    assert read == [(k.value, 10 * n, max(1, n), f"The {k.value}") for n, k in enumerate(MarkerKind)]
    assert {m.comment for m in made.tracks.markers} == {"why"}
    assert len({m.color for m in made.tracks.markers}) == len(MarkerKind)
