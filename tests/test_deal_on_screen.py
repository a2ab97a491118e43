"""What a deal puts on screen: the disclosure over the whole read, its code, goods received free."""

from __future__ import annotations

import pytest

from episodekit.base.time import Frames, frames_to_ms
from episodekit.job.reader import read_plan
from episodekit.job.units import picture_size
from episodekit.outside.media.drawing.fonts import load_fonts
from episodekit.outside.media.drawing.overlays import lay_out_overlay
from episodekit.pipeline import compile_episode
from episodekit.timeline.deal import LATER_USE, ON_BOARD
from episodekit.timeline.episode import Episode
from episodekit.timeline.model import Overlay, OverlayKind

JOB = """---
title: A lamp
frame rate: 25
size: 640x360
cameras:
  top: {view: overhead}
reads:
  tallow:
    sponsor: Tallow Tools
    code: LAMP
    code shown: 3 s
    link: https://tallow.example/lamp
    goods: a long driver
free goods:
  iron: {from: Ashbourne Tools, what: a soldering iron}
---
# Start
## One
> I start with the base, which four screws hold, and they all look alike to me.
## Two
- uses: iron
- hazard: heat
> The iron warms up while I look at the board under the lamp.
## Three
- uses: iron, tallow
> And now the joint is soldered again, with two seconds of heat and a little patience on my side.
## Four
- uses: tallow
> That closes it.
# Ad
- read: tallow
> This part is paid for by Tallow Tools, who sponsor the bench.

> Code LAMP takes a tenth off, and the long driver in this video is one of theirs, as you may have seen.
"""


def compiled(text: str) -> Episode:
    plan, findings = read_plan(text.encode(), "job.md")
    assert plan is not None, findings
    return compile_episode(plan)


def boards(episode: Episode, kind: OverlayKind) -> list[Overlay]:
    return [overlay for overlay in episode.timeline.overlays if overlay.kind is kind]


def spans(episode: Episode) -> dict[str, tuple[int, int]]:
    found, at = {}, 0
    for laid in episode.steps:
        found[laid.step.id] = (at, at + laid.fitted.frames)
        at += laid.fitted.frames
    return found


def test_read_is_disclosed_from_its_first_frame_to_its_last_on_slates_too() -> None:
    episode = compiled(JOB)
    (ad,) = [board for board in boards(episode, OverlayKind.DISCLOSURE) if board.text.startswith("Ad")]
    assert (ad.start, ad.end) == spans(episode)["ad"]
    assert ad.text == "Ad · paid for by Tallow Tools\nFree from Tallow Tools: a long driver"


def test_code_comes_on_with_the_beat_that_says_it_for_as_long_as_asked() -> None:
    episode = compiled(JOB)
    (code,) = boards(episode, OverlayKind.CODE)
    (read,) = [laid for laid in episode.steps if laid.step.read]
    start = spans(episode)["ad"][0]
    said = read.time.beats[1].start
    assert abs(frames_to_ms(Frames(code.start - start), episode.timeline.rate) - said) <= 20
    assert (code.end - code.start, code.text, code.small) == (75, "Code LAMP", "tallow.example")


def test_code_without_a_length_stays_to_the_end_of_the_read() -> None:
    episode = compiled(JOB.replace("    code shown: 3 s\n", ""))
    (code,) = boards(episode, OverlayKind.CODE)
    assert code.end == spans(episode)["ad"][1]


def test_code_said_too_late_is_told_with_what_is_missing() -> None:
    episode = compiled(JOB.replace("code shown: 3 s", "code shown: 30 s"))
    (told,) = [found for found in episode.findings if found.code == "SLOT-CODE-SHOWN"]
    (code,) = boards(episode, OverlayKind.CODE)
    assert code.end == spans(episode)["ad"][1], "never beyond the read"
    assert f"{(code.end - code.start) / 25:.1f} s; its contract asks 30 s" in told.message
    assert str(told.at).startswith("job.md:11")


def test_free_goods_are_disclosed_through_their_first_use_and_at_the_start_of_later_ones() -> None:
    episode = compiled(JOB)
    free = [board for board in boards(episode, OverlayKind.DISCLOSURE) if board.text.startswith("Free")]
    steps = spans(episode)
    iron, driver = "Free from Ashbourne Tools: a soldering iron", "Free from Tallow Tools: a long driver"
    later = LATER_USE * 25 // 1000
    four = steps["four"]
    wanted = [
        (iron, *steps["two"]),
        (driver, *steps["three"]),
        (driver, four[0], min(four[1], four[0] + later)),
    ]
    assert [(board.text, board.start, board.end) for board in free] == wanted


def test_goods_that_one_board_cannot_hold_are_shown_in_turns() -> None:
    what = "an iron with twelve tips, a stand, a sponge of brass and a mat that does not burn"
    episode = compiled(JOB.replace("a soldering iron", f'"{what}"'))
    free = [board for board in boards(episode, OverlayKind.DISCLOSURE) if board.text.startswith("Free")]
    two = spans(episode)["two"]
    turns = [board for board in boards(episode, OverlayKind.DISCLOSURE) if two[0] <= board.start < two[1]]
    assert len(turns) == 2
    assert free
    assert " ".join(board.text for board in turns) == f"Free from Ashbourne Tools: {what}"
    assert (turns[0].start, turns[-1].end) == two
    assert turns[0].end == turns[1].start


@pytest.mark.parametrize(
    "size", ["180x180", "450x180", "180x404", "320x180", "1280x720", "720x720", "768x1728"]
)
def test_board_holds_its_letters_whole_in_every_picture(size: str) -> None:
    text = ("Free from Ashbourne Tools and Sons: a soldering iron with three tips and a stand for the bench")[
        :ON_BOARD
    ]
    fonts, _ = load_fonts(None)
    overlay = Overlay(OverlayKind.DISCLOSURE, text, Frames(0), Frames(9))
    assert all(placed.text.whole for placed in lay_out_overlay(overlay, *picture_size(size), fonts).texts)
