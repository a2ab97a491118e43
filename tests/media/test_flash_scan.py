"""Drafts that flash because they are sped up: what is told, what is safe, what an edit scans again."""

from __future__ import annotations

import re
import threading
from collections.abc import Iterator
from dataclasses import replace
from fractions import Fraction
from pathlib import Path

import numpy as np
import pytest

from episodekit.base.findings import Finding, Severity
from episodekit.base.time import Frames, Rate
from episodekit.catalog import rules
from episodekit.outside.errors import Cancelled
from episodekit.outside.media.engine import render
from episodekit.timeline.model import Picture, Segment
from tests.media import kit
from tests.media.kit import Image

RATE = Rate.parse("30")
CLIP = "footage/lamp.mp4"
SLOW = "footage/still.mp4"
QUICK = "footage/strobe.mp4"
SECONDS = 64


def blinking(half: int, seconds: int = SECONDS) -> Iterator[Image]:
    """A bench under a lamp that goes on and off every `half` frames, over a third of the picture."""
    for n in range(30 * seconds):
        picture = np.full((180, 320), 90, np.uint8)
        picture[20:160, 30:170] = 210 if n // half % 2 else 40
        yield picture


@pytest.fixture(scope="module")
def job(tmp_path_factory: pytest.TempPathFactory) -> Path:
    root = tmp_path_factory.mktemp("flashing")
    (root / "footage").mkdir()
    kit.encode(root / CLIP, blinking(20), Fraction(30))  # 0.75 times a second: calm as it was filmed
    kit.encode(root / SLOW, (picture for picture in blinking(10_000, 30)), Fraction(30))
    kit.encode(root / QUICK, blinking(3, 20), Fraction(30))  # 5 times a second
    return root


def cut(root: Path, *segments: Segment, name: str = "draft.mp4") -> list[Finding]:
    """The flashes told of a draft of these segments."""
    _, made = kit.draft(root, kit.timeline(RATE, segments, width=640, height=360), name)
    return [told for told in made.findings if told.code == "DRAFT-FLASH"]


def at_speed(speed: Fraction, clip: str = CLIP, seconds: int = 60) -> Segment:
    """So much of a clip from its second second on, at a speed."""
    return kit.shot(clip, Fraction(2), int(seconds * 30 / speed), RATE, speed)


def test_ramp_that_makes_a_calm_lamp_flash_is_told_with_its_place_and_numbers(job: Path) -> None:
    (told,) = cut(job, kit.slate(45), at_speed(Fraction(8)), kit.slate(45))
    assert told.severity is Severity.WARNING
    assert told.at.file == CLIP
    # 0.75 Hz at 8x is 6 a second; the lamp lights 140 x 140 of 320 x 180 pixels: 34 % of the picture.
    assert "At 8x it makes 6 general flashes a second over 34 % of the picture" in told.message
    assert "from 0:02.0 to 1:02.0 of the clip, 00:00:01:15 to 00:00:09:00 in the draft" in told.message
    assert "caution on screen does not help" in told.remedy
    why = rules()["DRAFT-FLASH"].why
    assert "no medical advice" in why
    assert "WCAG 2.2, 2.3.1" in rules()["DRAFT-FLASH"].source


def test_highest_safe_speed_is_clean_when_rendered_and_the_next_one_is_not(job: Path) -> None:
    (told,) = cut(job, at_speed(Fraction(8)))
    match = re.search(r"at ([\d.]+)x or slower", told.remedy)
    assert match is not None
    safe = Fraction(match[1])
    # 4 flashes are 8 changes 20 / speed frames apart; 7 such gaps exceed a second of 30 frames below 4.67x.
    assert Fraction(4) <= safe <= Fraction(47, 10)
    assert not cut(job, at_speed(safe))
    assert not cut(job, at_speed(safe - Fraction(1, 2)))
    assert cut(job, at_speed(safe + Fraction(1, 10)))


def test_what_flashes_as_it_was_filmed_has_no_safe_speed(job: Path) -> None:
    (told,) = cut(job, at_speed(Fraction(2), QUICK, 12))
    assert "It flashes at normal speed too: choose another stretch" in told.remedy
    assert "or slower" not in told.remedy


def test_time_lapse_of_key_frames_alone_is_scanned_and_has_its_safe_speed(job: Path) -> None:
    # Key frames a second apart: from 30x on the draft shows those alone, and the lamp beats against them.
    (told,) = cut(job, at_speed(Fraction(30), CLIP, 60))
    assert told.message.startswith("At 30x")
    match = re.search(r"at ([\d.]+)x or slower", told.remedy)
    assert match is not None
    assert Fraction(match[1]) <= Fraction(47, 10)


def test_calm_footage_and_normal_speed_give_nothing(job: Path) -> None:
    assert not cut(job, at_speed(Fraction(8), SLOW, 24), at_speed(Fraction(1), CLIP, 6))


def test_flashes_across_a_cut_are_counted_together(job: Path) -> None:
    # Half a second each at 8x is 3 flashes at most; the two together make more than three within a second.
    short = kit.shot(CLIP, Fraction(2), 15, RATE, Fraction(8))
    other = kit.shot(CLIP, Fraction(20), 15, RATE, Fraction(8))
    assert not cut(job, kit.slate(60), short, kit.slate(60))
    assert cut(job, kit.slate(60), short, other, kit.slate(60))


def test_edit_scans_only_what_it_changed_and_finds_the_same(job: Path) -> None:
    cache = job / "out" / "cache"
    segments = [at_speed(Fraction(8)), kit.slate(90), at_speed(Fraction(6)), kit.slate(90)]
    first = cut(job, *segments)
    kept = {path.name: path.stat().st_mtime_ns for path in cache.glob("*.flashes")}
    again = cut(job, *segments)
    assert again == first
    assert {path.name: path.stat().st_mtime_ns for path in cache.glob("*.flashes")} == kept
    segments[2] = at_speed(Fraction(5))
    changed = cut(job, *segments)
    assert len({*cache.glob("*.flashes")}) == len(kept) + 1
    assert [told for told in changed if "At 8x" in told.message] == [
        told for told in first if "At 8x" in told.message
    ]


def test_damaged_note_in_the_cache_is_made_again(job: Path) -> None:
    first = cut(job, at_speed(Fraction(8)))
    for pattern in ("*.flashes", "*.safe"):
        for path in (job / "out" / "cache").glob(pattern):
            path.write_bytes(b"\xff{")
    assert cut(job, at_speed(Fraction(8))) == first


def test_stopping_during_the_scan_leaves_nothing(job: Path) -> None:
    stop = threading.Event()

    def progress(done: int, total: int) -> None:
        if done == total:  # every piece is rendered, and the scan is what comes next
            stop.set()

    plan = kit.timeline(RATE, [at_speed(Fraction(7))], width=640, height=360)
    target, cache = job / "out" / "never.mp4", job / "out" / "cache"
    with pytest.raises(Cancelled):
        render(plan, kit.clips_in(job), job, target, cache, progress=progress, cancelled=stop)
    assert not target.exists()
    assert not list(cache.glob("work-*"))


def test_several_stretches_of_one_shot_are_one_finding(job: Path, tmp_path: Path) -> None:
    def halting() -> Iterator[Image]:
        for n, picture in enumerate(blinking(20)):
            yield picture if n < 600 or n >= 1300 else np.full((180, 320), 90, np.uint8)

    root = tmp_path
    (root / "footage").mkdir()
    kit.encode(root / CLIP, halting(), Fraction(30))
    (told,) = cut(root, at_speed(Fraction(8)))
    assert "and in 1 later stretch" in told.message


def test_held_picture_and_clip_end_are_no_trouble(job: Path) -> None:
    played = at_speed(Fraction(8))
    assert isinstance(played.source, Picture)
    held = replace(played, frames=Frames(played.frames + 60), source=replace(played.source, hold=Frames(60)))
    (told,) = cut(job, held)
    assert "00:00:00:00 to 00:00:0" in told.message
