"""Rates whose ratio is a whole number, where a quarter of a frame can fall on the edge of another one.

Source of truth as in `test_frame_exact.py`: the number that each frame carries as a QR code. What is
expected is computed here from the contract of `Picture`.
"""

from __future__ import annotations

from fractions import Fraction
from math import floor
from pathlib import Path

import pytest

from episodekit.base.time import Frames, Rate, Seconds
from episodekit.timeline.model import Picture, Segment
from episodekit.timeline.reading import first_and_last_source_frame, source_frame
from tests.media import kit

SOURCES = {
    "30": Fraction(30),
    "60": Fraction(60),
    "100": Fraction(100),
    "11988": Fraction(120_000, 1001),
    "240": Fraction(240),
}
SECONDS = {"30": 22, "60": 5, "100": 3, "11988": 3, "240": 2}


@pytest.fixture(scope="module")
def ratio_job(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """The same numbered frames in MP4, whose stamps are exact, and in Matroska, in whole milliseconds."""
    root = tmp_path_factory.mktemp("ratios")
    (root / "footage").mkdir()
    for name, rate in SOURCES.items():
        path = root / "footage" / f"r{name}.mp4"
        kit.coded_clip(path, rate, int(rate * SECONDS[name]))
        kit.remux(path, path.with_suffix(".mkv"))
    return root


def expected(start: Fraction, frames: int, rate: Rate, source: Fraction, speed: Fraction) -> list[int]:
    """The frame on screen a quarter of the shorter frame, draft's or clip's, after each draft frame begins."""
    step = speed / rate.exact
    quarter = min(step, 1 / source) / 4
    return [floor((start + n * step + quarter) * source) for n in range(frames)]


@pytest.mark.parametrize("suffix", ["mp4", "mkv"])
@pytest.mark.parametrize(
    ("name", "draft_rate", "speed"),
    [
        ("11988", "29.97", Fraction(1)),  # 4:1
        ("240", "60", Fraction(1)),
        ("100", "25", Fraction(1)),
        ("60", "15", Fraction(1)),
        ("240", "30", Fraction(1)),  # 8:1
        ("60", "30", Fraction(1)),  # 2:1
        ("30", "24", Fraction(1)),  # 5:4, which a quarter meets at every fourth frame
        ("30", "30", Fraction(4)),
        ("30", "30", Fraction(20)),
        ("60", "30", Fraction(1, 2)),
    ],
)
def test_whole_ratios_show_the_planned_frames_in_any_container(
    ratio_job: Path, suffix: str, name: str, draft_rate: str, speed: Fraction
) -> None:
    rate, source = Rate.parse(draft_rate), SOURCES[name]
    clip = kit.clips_in(ratio_job)[f"footage/r{name}.{suffix}"]
    assert (clip.rate.exact, clip.variable) == (source, False)
    # from a frame's edge, and from whole milliseconds that no frame begins on
    starts = [Fraction(0), Fraction(13) / source, Fraction(25, 1000), Fraction(199, 200)]
    segments, wanted = [], []
    for start in starts:
        segments.append(kit.shot(clip.path, start, 24, rate, speed))
        wanted += expected(start, 24, rate, source, speed)
    target = f"{name}-{suffix}-{float(speed)}.mp4"
    path, _ = kit.draft(ratio_job, kit.timeline(rate, segments, width=160, height=160), target)
    assert kit.numbers_in(path) == wanted
    told = [source_frame(s.source, n, clip, rate) for s in segments for n in range(24)]  # type: ignore[arg-type]
    assert told == wanted, "the plan names other frames than the draft shows"


def test_a_fast_stretch_that_ends_early_holds_the_frame_that_the_plan_names(ratio_job: Path) -> None:
    rate, name = Rate.parse("30"), "footage/r30.mp4"
    clip = kit.clips_in(ratio_job)[name]
    held = Segment(Frames(10), Picture(name, Seconds(1), Seconds(3), Fraction(20), Frames(0)))
    path, _ = kit.draft(ratio_job, kit.timeline(rate, [held], width=160, height=160), "held.mp4")
    shown = kit.numbers_in(path)
    assert shown == [30, 50, 70, *[70] * 7]
    assert first_and_last_source_frame(held, clip, rate) == (30, 70)
    assert [source_frame(held.source, n, clip, rate) for n in range(10)] == shown  # type: ignore[arg-type]
