"""The cache: bounded, safe with two runs at once, and it tells why a piece was cut again.

Sources: the files' own sizes as the system tells them, bytes compared with a clean render, and the frames'
own numbers.
"""

from __future__ import annotations

import os
import threading
from dataclasses import replace
from fractions import Fraction
from pathlib import Path

import pytest

from episodekit.base.box import WHOLE_PICTURE
from episodekit.base.time import Frames, Rate
from episodekit.footage.model import Clip
from episodekit.footage.private import Private
from episodekit.outside.media.engine import Rendered, render
from episodekit.outside.media.probing.identity import BLOCK_BYTES, BLOCKS, identified, identity
from episodekit.outside.media.recipes.quality import Quality, look_of
from episodekit.outside.media.rendering.cache import Cache
from episodekit.timeline.model import Overlay, OverlayKind, Timeline
from tests.media import kit

RATE = Rate.parse("25")
CLIP = "footage/coded.mp4"


@pytest.fixture(scope="module")
def job(tmp_path_factory: pytest.TempPathFactory) -> Path:
    root = tmp_path_factory.mktemp("cache")
    (root / "footage").mkdir()
    kit.coded_clip(root / CLIP, Fraction(25), 200)
    return root


def plan(*starts: int, more: tuple[str, ...] = ()) -> Timeline:
    """A second from each start, each in a step of its own, and a slate."""
    shots = [
        replace(kit.shot(CLIP, Fraction(start), 25, RATE), step=f"step{number}")
        for number, start in enumerate(starts)
    ]
    return kit.timeline(RATE, [*shots, *(replace(kit.slate(10, text), step=text) for text in more)])


def cut(
    job: Path, folder: Path, what: Timeline, words: dict[str, str] | None = None, **more: object
) -> Rendered:
    return render(
        what, kit.clips_in(job), job, folder / "draft.mp4", folder / "cache", workers=2, words=words, **more
    )  # type: ignore[arg-type]


def held(cache: Path) -> int:
    return sum(path.stat().st_size for kind in ("*.h264", "*.s16") for path in cache.glob(kind))


def test_cache_stays_within_its_limit_and_drops_what_was_not_used_for_longest(
    job: Path, tmp_path: Path
) -> None:
    for start in (0, 1, 2, 3):
        cut(job, tmp_path, plan(start), keep=10**9)
    whole = held(tmp_path / "cache")
    assert (
        cut(job, tmp_path, plan(0), keep=10**9).told == "0 pieces rendered, 1 kept"
    )  # used anew: the first now
    assert held(tmp_path / "cache") == whole
    cut(job, tmp_path, plan(0), keep=whole * 6 // 10)
    assert whole * 3 // 10 < held(tmp_path / "cache") <= whole * 6 // 10
    assert cut(job, tmp_path, plan(0), keep=10**9).segments_rendered == 0
    assert cut(job, tmp_path, plan(3), keep=10**9).segments_rendered == 0
    assert cut(job, tmp_path, plan(1), keep=10**9).segments_rendered == 1
    assert [path.name for path in (tmp_path / "cache").glob("work-*")] == []


def test_what_a_run_needs_is_kept_even_above_the_limit(job: Path, tmp_path: Path) -> None:
    cut(job, tmp_path, plan(0, 1), keep=0)
    assert held(tmp_path / "cache") > 0
    assert cut(job, tmp_path, plan(0, 1), keep=0).told == "0 pieces rendered, 2 kept"
    cut(job, tmp_path, plan(2), keep=0)
    assert cut(job, tmp_path, plan(0, 1), keep=0).segments_rendered == 2


def test_entries_that_another_run_needs_stay(tmp_path: Path) -> None:
    here, there = (Cache(tmp_path, tmp_path / f"work-{name}") for name in ("here", "there"))
    for cache in (here, there):
        cache.work.mkdir()
    for name in ("a.h264", "b.h264"):
        assert here.fill(name, lambda path: bool(path.write_bytes(b"x" * 100)))
    there.need(["a.h264"])
    assert here.trim(0) == 100
    assert (here.has("a.h264"), here.has("b.h264")) == (True, False)
    assert sorted(path.name for path in tmp_path.glob("*.h264*")) == ["a.h264", "a.h264.sum"]


def test_two_runs_that_drop_all_they_can_do_not_hurt_each_other(job: Path, tmp_path: Path) -> None:
    faults: list[BaseException] = []

    def again(name: str, *starts: int) -> None:
        folder = tmp_path / name
        folder.mkdir()
        try:
            for _ in range(4):
                render(
                    plan(*starts),
                    kit.clips_in(job),
                    job,
                    folder / "d.mp4",
                    tmp_path / "cache",
                    workers=1,
                    keep=0,
                )
                assert kit.numbers_in(folder / "d.mp4") == [25 * s + n for s in starts for n in range(25)]
        except BaseException as fault:
            faults.append(fault)

    threads = [
        threading.Thread(target=again, args=args)
        for args in (("one", 0, 1, 2), ("two", 2, 3), ("three", 4, 0))
    ]
    for thread in threads:
        thread.start()
    for thread in threads:
        thread.join()
    assert faults == []


def test_a_draft_tells_why_it_was_cut_again(job: Path, tmp_path: Path) -> None:
    words = {"step0": "The first words.", "step1": "Others.", "step2": ""}
    assert cut(job, tmp_path, plan(0, 1, 2), words).told == "3 pieces rendered, 0 kept"
    assert cut(job, tmp_path, plan(0, 1, 2), words).told == "0 pieces rendered, 3 kept"
    other = {**words, "step1": "Others, and more."}
    told = cut(job, tmp_path, plan(0, 4, 2, more=("New shot",)), other).told
    assert told == "2 pieces rendered: 1 because step 'step1' changed its words, 1 new; 2 kept"
    told = cut(job, tmp_path, plan(0, 4, 5, more=("New shot",)), other).told
    assert told == "1 piece rendered: 1 because step 'step2' is cut or paced otherwise; 3 kept"
    titled = replace(
        plan(0, 4, 5, more=("New shot",)),
        overlays=(Overlay(OverlayKind.CAUTION, "It stays hot", Frames(30), Frames(40)),),
    )
    told = cut(job, tmp_path, titled, other).told
    assert told == "1 piece rendered: 1 because what lies over the picture changed; 3 kept"
    told = cut(job, tmp_path, replace(titled, width=480, height=270), other).told
    assert (
        told
        == "4 pieces rendered: 4 because size, quality, frame rate, burnt-in timecode or ffmpeg is another; 0 kept"
    )
    hides = Private(CLIP, Fraction(4), Fraction(9, 2), WHOLE_PICTURE)
    cut(job, tmp_path, titled, other)
    told = cut(job, tmp_path, replace(titled, private=(hides,)), other).told
    assert "because what is private there changed" in told
    cut(job, tmp_path, replace(titled, width=480, height=270), other)
    for entry in (tmp_path / "cache").glob("*.h264"):
        entry.unlink()
    told = cut(job, tmp_path, replace(titled, width=480, height=270), other).told
    assert told == "4 pieces rendered: 4 that the cache lost; 0 kept"


def test_damaged_notes_of_the_last_draft_cost_only_the_reasons(job: Path, tmp_path: Path) -> None:
    cut(job, tmp_path, plan(0), {})
    (tmp_path / "cache" / "last-draft.json").write_text('{"pieces": [{"step": 3}], "words": 1}')
    assert cut(job, tmp_path, plan(1), {}).told == "1 piece rendered, 0 kept"


def test_an_edit_gives_the_bytes_of_a_clean_render(job: Path, tmp_path: Path) -> None:
    (tmp_path / "edited").mkdir()
    (tmp_path / "clean").mkdir()
    cut(job, tmp_path / "edited", plan(0, 1, 2, 3))
    made = cut(job, tmp_path / "edited", plan(0, 5, 2, 3))
    cut(job, tmp_path / "clean", plan(0, 5, 2, 3))
    assert (made.segments_rendered, made.segments_reused) == (1, 3)
    edited, clean = ((tmp_path / name / "draft.mp4").read_bytes() for name in ("edited", "clean"))
    assert edited == clean


def test_other_content_between_the_samples_is_found_by_reading_whole(tmp_path: Path) -> None:
    path, cache = tmp_path / "big.mp4", tmp_path / "cache"
    data = bytearray(os.urandom(BLOCK_BYTES * BLOCKS * 2))
    path.write_bytes(data)
    stamp = path.stat()
    clips = {"big.mp4": Clip("big.mp4", Fraction(9), RATE, 320, 180, "h264", identity(path))}

    def known(*, every_byte: bool) -> str:
        return identified(clips, tmp_path, cache, every_byte=every_byte)["big.mp4"].identity

    first = clips["big.mp4"].identity
    assert (known(every_byte=False), known(every_byte=True), known(every_byte=False)) == (first, first, first)
    data[BLOCK_BYTES + 7] ^= 1  # the samples lie further apart than a block
    path.write_bytes(data)
    os.utime(path, ns=(stamp.st_atime_ns, stamp.st_mtime_ns))
    assert identity(path) == first
    other = known(every_byte=True)
    assert other != first
    assert known(every_byte=False) == other
    data[BLOCK_BYTES + 7] ^= 1
    path.write_bytes(data)
    assert known(every_byte=True) == first
    next(cache.iterdir()).write_text("[1")
    assert known(every_byte=False) == first


def test_qualities_keep_the_shape_and_never_shrink_the_plan(job: Path, tmp_path: Path) -> None:
    wide = replace(plan(0), width=1280, height=720)
    clips = {CLIP: replace(kit.clips_in(job)[CLIP], width=3840, height=2160)}
    sizes = [(look.width, look.height) for look in (look_of(wide, clips, quality) for quality in Quality)]
    assert sizes == [(1280, 720), (1920, 1080), (3840, 2160)]
    tall = replace(plan(0), width=1080, height=1920)
    assert [look_of(tall, {}, quality).height for quality in Quality] == [1920, 1920, 1920]
    target = tmp_path / "draft.mp4"
    render(plan(0), kit.clips_in(job), job, target, tmp_path / "cache", quality=Quality.REVIEW)
    frames = kit.grey_frames(target)
    assert frames[0].shape == (1080, 1920)
    assert [kit.number_in(frame) for frame in frames] == list(range(25))
