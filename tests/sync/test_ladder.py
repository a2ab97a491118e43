"""Clips are put on the surest rung; what contradicts it is told, what nobody knows is not placed.

Expected times are written out by hand from made-up camera clocks.
"""

from __future__ import annotations

from dataclasses import replace
from datetime import UTC, datetime, timedelta
from fractions import Fraction
from pathlib import Path

import pytest
from timecode import Timecode

from episodekit.base.time import Rate
from episodekit.footage.clocks import place_clips
from episodekit.footage.model import Clip
from episodekit.formats.sync_json import read_sync_json
from episodekit.job.model import Plan
from episodekit.job.reader import read_plan
from episodekit.outside.clocks.sync_file import read_sync, write_sync
from episodekit.sync.ladder import climb
from episodekit.sync.model import Clue, Rung, Synced

NOON = Fraction(1_764_072_000)


def plan(clock: str = "") -> Plan:
    said = f", clock: {clock}" if clock else ""
    text = f"---\ntitle: A\ncameras:\n  top: {{view: overhead{said}}}\n---\n# One\n\n## Do\n\nWords here.\n"
    found, _ = read_plan(text.encode(), "job.md")
    assert found is not None
    return found


def clip(name: str, created: float | None, seconds: int = 60) -> Clip:
    when = None if created is None else datetime.fromtimestamp(float(NOON) + created, UTC)
    return Clip(
        f"footage/{name}", Fraction(seconds), Rate.parse("25"), 64, 36, "h264", "id-" + name, created=when
    )


def clue(name: str, at: float, wall: float, within: str = "0.005", rung: Rung = Rung.FILMED_CLOCK) -> Clue:
    return Clue(f"footage/{name}", rung, Fraction(str(at)), NOON + Fraction(str(wall)), Fraction(within))


def placed(clips: list[Clip], clues: list[Clue], clock: str = "") -> tuple[dict[str, Synced], list[str]]:
    there, _ = place_clips(clips, plan(clock))
    synced, findings = climb(there, clues, plan(clock))
    return {one.clip[8:]: one for one in synced}, [told.code for told in findings]


def test_a_filmed_clock_places_its_clip_and_corrects_its_camera() -> None:
    synced, told = placed([clip("top-1.mp4", 0), clip("top-a.mp4", 900)], [clue("top-1.mp4", 10, 14.5)])
    assert told == []
    assert synced["top-1.mp4"].start == NOON + Fraction("4.5")
    assert synced["top-1.mp4"].rung is Rung.FILMED_CLOCK
    assert synced["top-a.mp4"].start == NOON + Fraction("904.5")
    assert synced["top-a.mp4"].rung is Rung.CREATION
    assert Fraction(1) < (synced["top-a.mp4"].within or Fraction(0)) < Fraction("1.2")


def test_two_sightings_half_an_hour_apart_give_the_pace() -> None:
    synced, _ = placed(
        [clip("top-1.mp4", 0, 2000)], [clue("top-1.mp4", 10, 12), clue("top-1.mp4", 1810, 1812.09)]
    )
    assert abs(synced["top-1.mp4"].pace - 1 - Fraction(50, 1_000_000)) < Fraction(1, 10_000_000)


def test_files_that_a_camera_split_stand_on_what_is_seen_in_one_of_them_and_run_alike() -> None:
    """Three files, 50 millionths slow: one sighting in the middle one; then one in the first and one in the last."""
    files = [clip(f"top-{n}.mp4", 1000 * (n - 1), 1000) for n in (1, 2, 3)]
    synced, told = placed(files, [clue("top-2.mp4", 10, 1017)])
    assert told == []
    assert [(one.rung, one.start) for one in synced.values()] == [
        (Rung.FILMED_CLOCK, NOON + 7), (Rung.FILMED_CLOCK, NOON + 1007), (Rung.FILMED_CLOCK, NOON + 2007),
    ]  # fmt: skip
    synced, told = placed(files, [clue("top-1.mp4", 10, 12), clue("top-3.mp4", 10, 2012.1)])
    assert told == []
    slow = 1 + Fraction(50, 1_000_000)
    for n, one in enumerate(synced.values()):
        assert one.rung is Rung.FILMED_CLOCK
        assert abs(one.pace - slow) < Fraction(1, 10_000_000)
        assert abs((one.start or 0) - NOON - 12 - (1000 * n - 10) * slow) < Fraction(1, 1000)
    apart = [*files[:2], clip("top-3.mp4", 2600, 1000)]
    synced, _ = placed(apart, [clue("top-2.mp4", 10, 1017)])
    assert [one.rung for one in synced.values()] == [Rung.FILMED_CLOCK, Rung.FILMED_CLOCK, Rung.CREATION]


def test_sound_keeps_clips_together_though_nobody_knows_how_fast_their_reference_runs() -> None:
    """Matched at both ends of half an hour with a clip that filmed the clock once, at its start: its own clock may be
    off by 100 millionths, so the end may be 0.18 s off the log. The two run 60 millionths apart, known to 5 ms.
    """
    drift, shared = Fraction(100, 1_000_000), Fraction(6, 1000)
    ends = [
        Clue(
            "footage/top-1.mp4", Rung.SOUND, Fraction(at), NOON + 2 + at * (1 + Fraction(60, 1_000_000)),
            Fraction(5, 1000), "footage/x.mp4", "", shared + at * drift, drift,
        )
        for at in (0, 1800)
    ]  # fmt: skip
    synced, told = placed([clip("top-1.mp4", 0, 1800)], ends)
    assert told == []
    one = synced["top-1.mp4"]
    assert max(abs(residual.off) for residual in one.residuals) < Fraction(1, 1000)
    assert one.within == Fraction(11, 1000)
    assert one.within_at(Fraction(1800)) == Fraction(11, 1000) + 1800 * drift


def test_contradictions_are_told_and_the_surer_rung_is_used() -> None:
    synced, told = placed(
        [clip("top-1.mp4", 0)], [clue("top-1.mp4", 10, 12), clue("top-1.mp4", 20, 25, "0.02", Rung.SOUND)]
    )
    assert "SYNC-CONFLICT" in told
    assert synced["top-1.mp4"].start == NOON + 2
    there, _ = place_clips([clip("top-1.mp4", 0)], plan("1 h ahead"))
    (told_by_hand,) = climb(there, [clue("top-1.mp4", 10, 12.25)], plan("1 h ahead"))[1]
    assert told_by_hand.code == "SYNC-CONFLICT"
    assert (
        "1 h 2 s earlier" in told_by_hand.message
    )  # a creation time and a person's word know no milliseconds
    there, _ = place_clips([clip("top-1.mp4", -3650 * 86_400)], plan("1 h ahead"))
    (told_by_hand,) = climb(there, [clue("top-1.mp4", 10, 12.25)], plan("1 h ahead"))[1]
    assert "3650 days earlier" in told_by_hand.message


def test_what_nothing_tells_is_not_placed() -> None:
    synced, told = placed([clip("top-1.mp4", None)], [])
    assert told == ["SYNC-NOT-PLACED"]
    assert synced["top-1.mp4"].start is None


def test_creation_times_alone_are_laid_but_called_unchecked() -> None:
    """Nothing else is known in the job; a camera is told once, however many clips it has."""
    synced, told = placed([clip("top-1.mp4", 0), clip("top-a.mp4", 900), clip("x.mp4", 5)], [])
    assert told == ["SYNC-UNCHECKED", "SYNC-UNCHECKED"]
    assert synced["top-1.mp4"].start == NOON
    assert synced["top-1.mp4"].unchecked
    assert (synced["top-1.mp4"].within or 0) >= 60


def test_creation_time_alone_is_no_place_beside_measured_clips() -> None:
    """Two clips of one camera are told in one finding, which says how to vouch for its clock; then they are placed."""
    clips = [clip("x.mp4", 0), clip("top-1.mp4", 40), clip("top-a.mp4", 900)]
    there, _ = place_clips(clips, plan())
    synced, findings = climb(there, [clue("x.mp4", 10, 12)], plan())
    starts = {one.clip[8:]: one.start for one in synced}
    assert starts == {"x.mp4": NOON + 2, "top-1.mp4": None, "top-a.mp4": None}
    (found,) = findings
    assert found.code == "SYNC-NOT-PLACED"
    assert "top" in found.message
    assert "2 clips" in found.message
    assert "`clock: 0 s behind`" in found.remedy
    vouched, told = placed(clips, [clue("x.mp4", 10, 12)], "0 s behind")
    assert told == []
    assert vouched["top-1.mp4"].start == NOON + 40
    assert (vouched["top-1.mp4"].rung, vouched["top-1.mp4"].within) == (Rung.BY_HAND, 2)


def test_clip_of_the_next_day_leans_on_no_measurement_of_the_day_before() -> None:
    """After 14 hours a camera's clock may be off by more than the limit of 5 s; what a person said is surer then."""
    clips = [clip("top-1.mp4", 0), clip("top-a.mp4", 14 * 3600)]
    synced, told = placed(clips, [clue("top-1.mp4", 10, 12)])
    assert told == ["SYNC-NOT-PLACED"]
    assert synced["top-a.mp4"].start is None
    synced, told = placed(clips, [clue("top-1.mp4", 10, 12)], "1.5 s behind")
    assert told == []
    assert synced["top-a.mp4"].start == NOON + 14 * 3600 + Fraction(3, 2)


def test_a_camera_whose_clock_was_never_set_is_corrected_by_its_own_clock() -> None:
    """It says three years ago; what counts is how far apart its recordings are by that clock."""
    ago = -3 * 365 * 86_400
    synced, told = placed([clip("top-1.mp4", ago), clip("top-2.mp4", ago + 600)], [clue("top-1.mp4", 5, 5)])
    assert told == []
    assert synced["top-2.mp4"].start == NOON + 600


def test_a_clock_that_was_set_in_between_places_nothing_by_what_it_said_before() -> None:
    """Years behind at noon, right half an hour later: the first clip tells nothing of the second."""
    clips = [clip("top-1.mp4", -3 * 365 * 86_400), clip("top-2.mp4", 1800), clip("top-3.mp4", 3000)]
    synced, told = placed(clips[:2], [clue("top-1.mp4", 5, 5)])
    assert told == ["SYNC-NOT-PLACED"]
    synced, told = placed(clips, [clue("top-1.mp4", 5, 5), clue("top-3.mp4", 5, 3005)])
    assert told == []
    assert synced["top-2.mp4"].start == NOON + 1800


def test_two_measured_clips_that_contradict_each_other_say_how_unsure_a_third_is() -> None:
    """An hour ahead at noon, right 50 minutes later: nobody knows by which clock the one in between was stamped."""
    clips = [clip("top-1.mp4", 3600), clip("top-2.mp4", 1800), clip("top-3.mp4", 3000)]
    synced, told = placed(clips, [clue("top-1.mp4", 5, 5), clue("top-3.mp4", 5, 3005)])
    assert told == ["SYNC-NOT-PLACED"]
    assert synced["top-2.mp4"].start is None
    assert "sure to 3600 s only" in synced["top-2.mp4"].why


@pytest.mark.parametrize("zone", [0, 6 * 3600, -6 * 3600, 5.75 * 3600])
@pytest.mark.parametrize("at_end", [False, True])
def test_one_measured_clip_tells_which_end_a_camera_stamps_if_its_clock_is_right(
    zone: float, at_end: bool
) -> None:
    """Right but for its zone: Nepal has 5:45 (IANA time zone database). An hour and a minute of footage."""
    lengths = {"top-1.mp4": 3560, "top-2.mp4": 60}
    starts = {"top-1.mp4": 0, "top-2.mp4": 4000}
    clips = [
        clip(name, starts[name] + zone + (long if at_end else 0), long) for name, long in lengths.items()
    ]
    synced, told = placed(clips, [clue("top-1.mp4", 5, 5)])
    assert told == []
    assert synced["top-2.mp4"].start == NOON + 4000


def test_a_stamp_that_may_be_of_either_end_places_only_clips_as_long_as_the_measured_one() -> None:
    """40 s late at its start or 20 s early at its end: a clip of another length is known to the difference only."""
    clips = [clip("top-1.mp4", 40), clip("top-2.mp4", 640, 63), clip("top-3.mp4", 940, 600)]
    synced, told = placed(clips, [clue("top-1.mp4", 5, 5)])
    assert told == ["SYNC-NOT-PLACED"]
    assert (synced["top-2.mp4"].start, synced["top-3.mp4"].start) == (NOON + 600, None)
    assert (synced["top-2.mp4"].within or 0) > 4
    _, told = placed(clips, [clue("top-1.mp4", 5, 5), clue("top-3.mp4", 5, 905)])
    assert told == []


def test_real_camera_is_no_further_off_than_what_is_said() -> None:
    """An action camera's file: start timecode 15:44:35:10 at 29.97, in UTC, and a creation time of 15:45:32. Read off
    one that a parser of cameras' telemetry has among its samples (2019, 10.5 s long).
    """
    made = replace(clip("top-1.mp4", 0), created=datetime(2019, 11, 18, 15, 45, 32, tzinfo=UTC))
    label = Timecode("29.97", "15:44:35:10")
    rolled = timedelta(hours=label.hrs, minutes=label.mins, seconds=label.secs)
    assert made.created is not None
    synced, _ = placed([made], [])
    off = Fraction((made.created - made.created.replace(hour=0, minute=0, second=0) - rolled).total_seconds())
    assert 30 < off <= (synced["top-1.mp4"].within or 0)


def test_the_file_is_read_back_and_a_changed_clip_is_not_placed_by_it(tmp_path: Path) -> None:
    clips = [clip("top-1.mp4", 0), clip("top-a.mp4", 900)]
    there, _ = place_clips(clips, plan())
    synced, _ = climb(there, [clue("top-1.mp4", 10, 14.5)], plan())
    file = write_sync(tmp_path, synced)
    assert len(read_sync_json(file.read_bytes())) == 2
    changed = clip("top-a.mp4", 900)
    object.__setattr__(changed, "identity", "another")
    known, told = read_sync(tmp_path, [clips[0], changed])
    assert [one.code for one in told] == ["SYNC-STALE"]
    again, _ = place_clips(clips, plan(), known)
    assert again[0].start == NOON + Fraction("4.5")
    lost = [*clips, clip("x.mp4", 3)]
    there, _ = place_clips(lost, plan())
    write_sync(tmp_path, climb(there, [clue("x.mp4", 10, 14.5)], plan())[0])
    known, told = read_sync(tmp_path, lost)
    assert [(one.code, known["footage/top-1.mp4"].start) for one in told] == [("SYNC-NOT-PLACED", None)]
    assert "top-1.mp4, top-a.mp4" in told[0].message
    file.write_bytes(b'{"version": 1, "clips": [')
    known, told = read_sync(tmp_path, clips)
    assert not known
    assert [one.code for one in told] == ["SYNC-BROKEN"]
