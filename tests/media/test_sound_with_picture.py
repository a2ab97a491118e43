"""Does the sound stay with the picture?

Source of truth: clips in which a white flash and a 1 kHz tone begin at the same instants, so that the
draft can be measured without trusting anything that made it: PyAV decodes it, brightness finds the
flashes, the energy of the tone finds the beeps.
"""

from __future__ import annotations

from fractions import Fraction
from itertools import pairwise
from pathlib import Path

import av
import numpy as np
import pytest
from numpy.typing import NDArray

from episodekit.base.time import Frames, Rate, Seconds
from episodekit.timeline.model import Picture, Segment, Timeline
from tests.media import kit

SIZE = (160, 90)


def flashes(path: Path) -> NDArray[np.float64]:
    """Seconds at which the picture turns white, by the container's time stamps."""
    with av.open(str(path)) as container:
        stamped = [
            (float(f.time), f.reformat(format="gray").to_ndarray().mean()) for f in container.decode(video=0)
        ]
    lit = np.array([level > 120 for _, level in stamped])
    times = np.array([time for time, _ in stamped])
    return times[1:][lit[1:] & ~lit[:-1]]


def beeps(path: Path) -> NDArray[np.float64]:
    """Seconds at which a tone begins: the first of 5 ms of sound above a tenth of full scale after silence."""
    sound = np.abs(kit.mono_sound(path))
    block = kit.SAMPLE_RATE // 1000
    level = sound[: len(sound) // block * block].reshape(-1, block).max(axis=1)
    loud = level > 0.1
    quiet_before = np.array([not loud[max(0, i - 100) : i].any() for i in range(len(loud))])
    return np.flatnonzero(loud & quiet_before)[1 if loud[0] else 0 :] / 1000


def plan(rate: Rate, segments: int, total: int) -> tuple[Timeline, list[int]]:
    """`segments` segments of uneven length from two clips in turn, and the frames they begin on.

    In-points lie anywhere between two frames and come round again every 20 segments, so that the same
    cut can be compared early and late in the draft.
    """
    cuts = [total * index // segments + (index * 7) % 11 for index in range(segments)]
    parts = []
    for index, (a, b) in enumerate(pairwise([*cuts, total])):
        clip = ("footage/a.mp4", "footage/b.mp4")[index % 2]
        parts.append(kit.shot(clip, Fraction(index % 20 * 977, 200), b - a, rate))
    return kit.timeline(rate, parts, width=SIZE[0], height=SIZE[1]), cuts


@pytest.mark.parametrize("draft_rate", ["29.97", "25"])
def test_60_cuts_over_10_minutes_leave_every_beep_within_a_frame_of_its_flash(
    beeping_job: Path, draft_rate: str
) -> None:
    rate = Rate.parse(draft_rate)
    total = int(600 * rate.exact)
    timeline, cuts = plan(rate, 60, total)
    path, made = kit.draft(beeping_job, timeline, f"beeps{draft_rate}.mp4")
    assert made.frames == total
    seen, heard = flashes(path), beeps(path)
    assert len(seen) >= 270
    frame = float(1 / rate.exact)
    gaps = np.array([heard[np.abs(heard - time).argmin()] - time for time in seen])
    print(
        f"{len(seen)} flashes at {rate}: beeps off by {gaps.min() * 1000:.1f} to {gaps.max() * 1000:.1f} ms"
    )
    assert np.abs(gaps).max() <= frame
    of = np.searchsorted(np.array(cuts) * frame - frame / 2, seen, side="right") - 1
    for early in range(20):
        before, after = gaps[of == early], gaps[of == early + 40]
        both = min(len(before), len(after))
        assert both >= 3
        assert np.abs(after[:both] - before[:both]).max() < 0.003, "the sound drifts"
    with av.open(str(path)) as container:
        lengths = [float(stream.duration * stream.time_base) for stream in container.streams]
    assert abs(lengths[0] - lengths[1]) < 1024 / kit.SAMPLE_RATE + 0.001  # one AAC block


def test_sound_of_a_cut_begins_on_the_sample(beeping_job: Path) -> None:
    """Not only within a frame: at normal speed the beep lies where the clip has it, to 2 ms."""
    rate = Rate.parse("25")
    starts = [Fraction(1, 2), Fraction(37, 25), Fraction(60), Fraction(2001, 20)]
    segments = [kit.shot("footage/a.mp4", start, 100, rate) for start in starts]
    path, _ = kit.draft(beeping_job, kit.timeline(rate, segments), "sample.mp4")
    expected = []
    for index, start in enumerate(starts):
        first = -start % 2
        expected += [float(4 * index + first + 2 * n) for n in range(2) if 0.15 < first + 2 * n < 4]
    heard = beeps(path)
    for time in expected:
        assert np.abs(heard - time).min() < 0.002, time


def test_speeds_up_to_double_keep_beeps_with_flashes(beeping_job: Path) -> None:
    rate = Rate.parse("30")
    segments = [
        kit.shot("footage/a.mp4", Fraction(1), 300, rate, Fraction(3, 2)),
        kit.shot("footage/b.mp4", Fraction(11), 300, rate, Fraction(2)),
    ]
    path, _ = kit.draft(beeping_job, kit.timeline(rate, segments), "quick.mp4")
    seen, heard = flashes(path), beeps(path)
    assert len(seen) >= 15
    assert max(np.abs(heard - time).min() for time in seen) <= 0.045  # atempo works in blocks of some 40 ms


def test_time_lapse_has_natural_sound_as_a_bed_and_holds_are_silent(beeping_job: Path) -> None:
    rate = Rate.parse("25")
    lapse = kit.shot("footage/a.mp4", Fraction(2), 100, rate, Fraction(20))
    held = Segment(Frames(100), Picture("footage/a.mp4", Seconds(4), Seconds(5), Fraction(1), Frames(75)))
    normal = kit.shot("footage/a.mp4", Fraction(2), 100, rate)
    path, _ = kit.draft(beeping_job, kit.timeline(rate, [normal, lapse, held, kit.slate(50)]), "bed.mp4")
    sound = kit.mono_sound(path)

    def level(start: float, end: float) -> float:
        part = sound[int(start * kit.SAMPLE_RATE) : int(end * kit.SAMPLE_RATE)]
        return float(20 * np.log10(np.sqrt(np.mean(part**2)) + 1e-9))

    assert level(2.05, 2.15) - level(6.05, 6.15) == pytest.approx(12, abs=0.5)
    assert level(8.05, 8.15) == pytest.approx(level(0.05, 0.15), abs=0.5)
    assert level(9.1, 14) < -70


def test_sound_that_begins_after_the_picture_is_placed_by_its_own_stamps(tmp_path: Path) -> None:
    """The tone starts 0.7 s after the first frame; the clip says so only by its time stamps."""
    (tmp_path / "footage").mkdir()
    tone = np.full(2 * kit.SAMPLE_RATE, 0.0, np.float32)
    tone[:] = 0.5 * np.sin(2 * np.pi * kit.BEEP_HZ * np.arange(len(tone)) / kit.SAMPLE_RATE)
    kit.coded_clip(
        tmp_path / "footage" / "late.mkv", Fraction(25), 100, sound=tone, sound_starts=Fraction(7, 10)
    )
    rate = Rate.parse("25")
    segments = [kit.shot("footage/late.mkv", start, 40, rate) for start in (Fraction(0), Fraction(1, 2))]
    path, _ = kit.draft(tmp_path, kit.timeline(rate, segments), "late.mp4")
    sound = np.abs(kit.mono_sound(path)) > 0.1
    assert np.flatnonzero(sound)[0] / kit.SAMPLE_RATE == pytest.approx(0.7, abs=0.03)
    second = np.flatnonzero(sound[int(1.62 * kit.SAMPLE_RATE) :])[0] / kit.SAMPLE_RATE + 1.62
    assert second == pytest.approx(1.8, abs=0.03)
