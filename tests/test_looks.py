"""A look at one place shows what the draft shows there, out of the same pieces.

Source of truth: the draft's own frames, decoded through PyAV, and sums done by hand.
"""

from __future__ import annotations

import re
from collections.abc import Callable

import numpy as np
import pytest

from episodekit.base.time import Frames, Ms, Rate
from episodekit.timeline.excerpt import excerpt, segments_between, segments_of
from episodekit.timeline.model import ChapterMark, Overlay, OverlayKind
from episodekit.timeline.narration import Line
from tests.conftest import JobFolder, Run
from tests.media import kit

RATE = Rate.parse("25")


def test_an_excerpt_has_whole_segments_and_cut_lines() -> None:
    segments = [kit.slate(50, "a"), kit.slate(25, "b"), kit.slate(75, "c")]
    caution = Overlay(OverlayKind.CAUTION, "Hot", Frames(40), Frames(60))
    later = Overlay(OverlayKind.CAUTION, "Sharp", Frames(75), Frames(100))
    whole = kit.timeline(
        RATE, segments, overlays=[caution, later], chapters=[ChapterMark(Ms(0), "x"), ChapterMark(Ms(1), "y")]
    )
    lines = [
        Line("a.1", "takes/a.1.wav", Ms(100), Ms(1500), Ms(1000)),
        Line("c.1", "c", Ms(0), Ms(500), Ms(3000)),
    ]
    part, heard, begin = excerpt(whole, lines, range(1, 2))
    assert (part.frames, begin, part.chapters) == (25, 2000, ())
    assert [(over.text, over.start, over.end) for over in part.overlays] == [("Hot", -10, 10)]
    # the line plays from 1.0 to 2.5 s; half a second of it is left at 2.0 s, a second into its words
    assert heard == (Line("a.1", "takes/a.1.wav", Ms(1100), Ms(500), Ms(0)),)


@pytest.mark.parametrize(
    ("start", "end", "numbers"),
    [
        (0, 1, [0]),
        (1999, 2000, [0]),
        (2000, 2001, [1]),
        (1000, 3001, [0, 1, 2]),
        (6000, 9000, []),
        (5999, 9000, [2]),
    ],
)
def test_times_ask_for_the_segments_that_play_then(start: int, end: int, numbers: list[int]) -> None:
    plan = kit.timeline(RATE, [kit.slate(50), kit.slate(25), kit.slate(75)])
    assert list(segments_between(plan, Ms(start), Ms(end))) == numbers
    assert list(segments_of(plan, "nowhere")) == []


def test_a_look_costs_nothing_after_the_draft_and_shows_the_same(
    job: JobFolder, run: Callable[..., Run]
) -> None:
    assert run("draft", job.root).status == 0
    whole = kit.grey_frames(job.root / "out" / "draft.mp4")
    made = run("draft", job.root, "--only", "solder")
    assert made.status == 0
    assert re.search(r"look-solder\.mp4: \d+:\d\d, 0 pieces rendered, \d+ kept", made.out)
    seen = kit.grey_frames(job.root / "out" / "look-solder.mp4")
    at = next(index for index, frame in enumerate(whole) if np.array_equal(frame, seen[0]))
    assert 0 < at < len(whole) - len(seen)
    assert all(np.array_equal(one, two) for one, two in zip(seen, whole[at:], strict=False))


def test_a_look_first_leaves_its_pieces_to_the_draft(job: JobFolder, run: Callable[..., Run]) -> None:
    made = run("draft", job.root, "--from", "5 s", "--to", "0:06")
    assert made.status == 0
    (look,) = (job.root / "out").glob("look-*.mp4")
    assert re.fullmatch(r"look-\d\.\d\d-\d\.\d\d\.mp4", look.name)
    assert not (job.root / "out" / "draft.mp4").exists()
    pieces = int(re.findall(r"(\d+) pieces? rendered", made.out)[0])
    assert pieces > 0
    assert re.search(rf"rendered, {pieces} kept", run("draft", job.root).out)


@pytest.mark.parametrize(
    ("options", "says"),
    [
        (("--only", "solderr"), "Did you mean 'solder'?"),
        (("--from", "5:00:00"), "The draft is over at"),
        (("--from", "9 s", "--to", "8 s"), "Write --from before --to."),
        (("--to", "5"), "has no unit"),
        (("--only", "solder", "--to", "5 s"), "Give either"),
        (("--quality", "superb"), "'draft', 'review', 'full'"),
    ],
)
def test_a_place_that_is_not_there_is_a_usage_error(
    job: JobFolder, run: Callable[..., Run], options: tuple[str, ...], says: str
) -> None:
    made = run("draft", job.root, *options)
    assert made.status == 2
    assert says in made.text
    assert not [*(job.root / "out").glob("*.mp4")]


def test_an_edit_to_a_beat_says_that_its_words_changed(job: JobFolder, run: Callable[..., Run]) -> None:
    run("draft", job.root)
    plan = (job.root / "job.md").read_text(encoding="utf-8")
    job.write("job.md", plan.replace("has fooled me before.", "has fooled me before, and more than once."))
    assert "because step 'solder' changed its words" in run("draft", job.root).out
