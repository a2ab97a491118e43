"""A camera whose clock was never set, where sound puts it: believed or not, and what is told.

Expected times are written out by hand from made-up camera clocks.
"""

from __future__ import annotations

from dataclasses import replace
from fractions import Fraction

from episodekit.footage.clocks import place_clips
from episodekit.sync.ladder import climb
from episodekit.sync.model import Clue, Rung
from tests.sync.test_ladder import NOON, clip, clue, placed, plan

YEARS = -10 * 365 * 86_400


def far(name: str, at: float, wall: float, other: str = "x.mp4") -> list[Clue]:
    """What sound tells at either end of half a minute that a clip and another heard."""
    return [
        Clue(
            f"footage/{name}", Rung.SOUND, Fraction(str(at + more)), NOON + Fraction(str(wall + more)),
            Fraction("0.006"), f"footage/{other}", shared=Fraction("0.005"),
        )
        for more in (0, 30)
    ]  # fmt: skip


def test_sound_places_a_camera_years_off_and_its_clock_the_rest_of_it() -> None:
    """By creation time, and by start timecode where the camera writes one: ten minutes later at 25 frames a second."""
    clips = [clip("x.mp4", 0), clip("top-1.mp4", YEARS), clip("top-2.mp4", YEARS + 600)]
    clues = [clue("x.mp4", 5, 5), *far("top-1.mp4", 5, 25)]
    synced, told = placed(clips, clues)
    assert told == ["SYNC-FAR"]
    assert (synced["top-1.mp4"].rung, synced["top-1.mp4"].start) == (Rung.SOUND, NOON + 20)
    assert (synced["top-2.mp4"].rung, synced["top-2.mp4"].start) == (Rung.CREATION, NOON + 620)
    labels = {"top-1.mp4": "00:10:00:00", "top-2.mp4": "00:20:00:05"}
    clips = [replace(one, start_timecode=labels.get(one.path[8:])) for one in clips]
    synced, told = placed(clips, clues)
    assert told == ["SYNC-FAR"]
    assert (synced["top-2.mp4"].rung, synced["top-2.mp4"].start) == (Rung.TIMECODE, NOON + Fraction("620.2"))


def test_how_fast_a_camera_years_off_runs_holds_for_its_other_clips() -> None:
    """60 millionths slow by sound at both ends of half an hour."""
    late = Fraction(60, 1_000_000)
    ends = [
        Clue(
            "footage/top-1.mp4",
            Rung.SOUND,
            Fraction(at),
            NOON + at * (1 + late),
            Fraction(5, 1000),
            "footage/x.mp4",
        )
        for at in (0, 1800)
    ]
    clips = [clip("x.mp4", 0), clip("top-1.mp4", YEARS, 1800), clip("top-2.mp4", YEARS + 3600, 1800)]
    synced, told = placed(clips, [clue("x.mp4", 5, 5), *ends])
    assert told == ["SYNC-FAR"]
    assert abs(synced["top-2.mp4"].pace - 1 - late) < Fraction(1, 10_000_000)
    assert abs((synced["top-2.mp4"].start or 0) - NOON - 3600 * (1 + late)) < Fraction(1, 1000)


def test_two_clips_of_a_camera_that_sound_puts_elsewhere_than_its_clock_are_both_not_believed() -> None:
    """Ten minutes apart by their camera's clock, an hour by sound; nor is what leans on one of them, or a third."""
    clips = [
        clip("x.mp4", 0), clip("top-1.mp4", YEARS), clip("top-2.mp4", YEARS + 600), clip("top-3.mp4", YEARS + 900),
        clip("y.mp4", None),
    ]  # fmt: skip
    clues = [clue("x.mp4", 5, 5), *far("top-1.mp4", 5, 25), *far("top-2.mp4", 5, 3625)]
    clues += far("y.mp4", 5, 30, "top-1.mp4")
    there, _ = place_clips(clips, plan())
    synced, findings = climb(there, clues, plan())
    assert [one.clip[8:] for one in synced if one.start is not None] == ["x.mp4"]
    assert [(one.code, str(one.at)[8:]) for one in findings] == [
        ("SYNC-CONFLICT", "top-1.mp4"), ("SYNC-CONFLICT", "top-2.mp4"),
        ("SYNC-NOT-PLACED", "top-3.mp4"), ("SYNC-NOT-PLACED", "y.mp4"),
    ]  # fmt: skip
    assert "50 min earlier than the clock of top does, by top-2.mp4; it is not placed" in findings[0].message
    assert "50 min later than the clock of top does, by top-1.mp4; it is not placed" in findings[1].message


def test_a_clip_that_bears_another_out_is_believed_and_the_one_that_contradicts_both_is_not() -> None:
    clips = [
        clip("x.mp4", 0), clip("top-1.mp4", YEARS), clip("top-2.mp4", YEARS + 600), clip("top-3.mp4", YEARS + 900),
    ]  # fmt: skip
    clues = [
        clue("x.mp4", 5, 5), *far("top-1.mp4", 5, 25), *far("top-2.mp4", 5, 625), *far("top-3.mp4", 5, 5000),
    ]  # fmt: skip
    synced, told = placed(clips, clues)
    assert told == ["SYNC-CONFLICT", "SYNC-FAR"]
    starts = [synced[f"top-{n}.mp4"].start for n in (1, 2, 3)]
    assert starts == [NOON + 20, NOON + 620, None]


def test_sound_near_where_a_person_says_is_believed_though_the_cameras_stamps_are_not_even() -> None:
    """An hour behind, as job.md says; a phone wrote one stamp 17 s late, and the other at once."""
    clips = [clip("x.mp4", 0), clip("top-1.mp4", -3563), clip("top-2.mp4", -2980)]
    clues = [clue("x.mp4", 5, 5), *far("top-1.mp4", 5, 25), *far("top-2.mp4", 5, 625)]
    synced, told = placed(clips, clues, "1 h behind")
    assert told == []
    assert [synced[f"top-{n}.mp4"].start for n in (1, 2)] == [NOON + 20, NOON + 620]


def test_a_copy_of_a_clip_bears_nothing_out() -> None:
    """Top-1 is there twice, once smaller, and heard the same twice; top-3 has the camera's clock an hour elsewhere."""
    clips = [
        clip("x.mp4", 0), clip("top-1.mp4", YEARS), clip("top-small.mp4", YEARS), clip("top-3.mp4", YEARS + 900),
    ]  # fmt: skip
    clues = [clue("x.mp4", 5, 5)]
    clues += [*far("top-1.mp4", 5, 25), *far("top-small.mp4", 5, 25), *far("top-3.mp4", 5, 4525)]
    synced, told = placed(clips, clues)
    assert told == ["SYNC-CONFLICT"] * 3
    assert [name for name, one in synced.items() if one.start is not None] == ["x.mp4"]


def test_what_leans_on_a_doubted_clip_is_not_held_by_a_clue_that_was_not_used() -> None:
    """Top-1 and top-2 contradict each other; y is put where it lies by both ends of top-1, and elsewhere once by x."""
    clips = [clip("x.mp4", 0), clip("top-1.mp4", YEARS), clip("top-2.mp4", YEARS + 600), clip("y.mp4", None)]
    clues = [clue("x.mp4", 5, 5), *far("top-1.mp4", 5, 25), *far("top-2.mp4", 5, 3625)]
    clues += [*far("y.mp4", 5, 30, "top-1.mp4"), far("y.mp4", 5, 700)[0]]
    synced, _ = placed(clips, clues)
    assert synced["y.mp4"].start is None


def test_a_clip_that_two_others_put_at_two_times_is_not_placed() -> None:
    clips = [clip("x.mp4", 0), clip("y.mp4", 0), clip("top-1.mp4", YEARS)]
    clues = [
        clue("x.mp4", 5, 5), clue("y.mp4", 5, 5), *far("top-1.mp4", 5, 25), *far("top-1.mp4", 5, 905, "y.mp4"),
    ]  # fmt: skip
    synced, told = placed(clips, clues)
    assert told == ["SYNC-CONFLICT"]
    assert synced["top-1.mp4"].start is None


def test_a_clock_that_begins_anew_with_each_battery_places_nothing_that_sound_did_not() -> None:
    """Three clips of one camera, all stamped the first minutes of a year; another heard two of them, hours apart."""
    clips = [
        clip("x.mp4", 0), clip("top-1.mp4", YEARS, 300), clip("top-2.mp4", YEARS + 20, 200),
        clip("top-3.mp4", YEARS + 30, 250),
    ]  # fmt: skip
    clues = [clue("x.mp4", 5, 5), *far("top-1.mp4", 5, 25), *far("top-2.mp4", 5, 7205)]
    synced, told = placed(clips, clues)
    assert told == ["SYNC-NOT-PLACED", "SYNC-FAR"]
    assert [synced[f"top-{n}.mp4"].start for n in (1, 2, 3)] == [NOON + 20, NOON + 7200, None]
    assert "set back in between" in synced["top-3.mp4"].why
    synced, _ = placed(clips, clues[:3])
    assert [synced[f"top-{n}.mp4"].start for n in (1, 2, 3)] == [NOON + 20, None, None]


def test_a_camera_that_sound_alone_puts_far_from_its_clock_is_told_once_with_how_far() -> None:
    """Not one that films the clock as well, nor one whose clock a person knows."""
    clips = [clip("x.mp4", 0), clip("top-1.mp4", YEARS), clip("top-2.mp4", YEARS + 600)]
    clues = [clue("x.mp4", 5, 5), *far("top-1.mp4", 5, 25)]
    there, _ = place_clips(clips, plan())
    _, (found,) = climb(there, clues, plan())
    days = round((20 - YEARS) / 86_400)
    assert found.message == f"By sound alone, the clock of top is {days} days behind; 2 clips lie by that."
    assert found.at.file == "job.md"
    _, told = placed(clips, [*clues, clue("top-2.mp4", 5, 625)])
    assert told == []
    _, told = placed([clip("x.mp4", 0), clip("top-1.mp4", -3580)], clues, "1 h behind")
    assert told == []
