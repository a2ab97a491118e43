"""The speed badge and the burnt-in timecode: where they stand, how large they are, and read back from frames."""

from __future__ import annotations

from dataclasses import replace
from fractions import Fraction
from math import radians, tan
from pathlib import Path

import numpy as np
import pytest
from fontTools.ttLib import TTFont
from hypothesis import example, given, settings
from PIL import Image, ImageDraw, ImageFont

from episodekit.base.time import Frames, Rate
from episodekit.job.hazards import DEFER, HAZARDS
from episodekit.job.units import picture_size
from episodekit.outside.media.drawing.burn import COLUMNS, draw_labels, draw_name, strip
from episodekit.outside.media.drawing.cards import draw_overlay
from episodekit.outside.media.drawing.fonts import load_fonts
from episodekit.outside.media.drawing.overlays import lay_out_overlay
from episodekit.outside.media.engine import render
from episodekit.timeline.badge import badges, speed_text
from episodekit.timeline.model import Overlay, OverlayKind, Segment
from tests.media import kit
from tests.media.test_cards import meet, texts, title_safe
from tests.media.test_cautions import accepted, least_size

FONTS, _ = load_fonts(None)
RATE = Rate.parse("30")
LONG = "W" * 400
STOCK = "\n".join(hazard.caution for hazard in HAZARDS.values())


def badge(text: str = "59.9x") -> Overlay:
    return Overlay(OverlayKind.BADGE, text, Frames(0), Frames(90))


def box_of(overlay: Overlay, size: tuple[int, int]) -> tuple[int, int, int, int]:
    image, x, y = draw_overlay(overlay, *size, FONTS)
    return (x, y, x + image.width, y + image.height)


@settings(max_examples=60, deadline=None)
@given(size=accepted(), text=texts, small=texts)
@example(size=(180, 180), text=LONG, small=LONG)
@example(size=(180, 404), text=LONG, small=LONG)
@example(size=(450, 180), text=LONG, small=LONG)
@example(size=(1280, 720), text=STOCK, small=DEFER)
def test_badge_never_meets_a_board_whatever_that_says(size: tuple[int, int], text: str, small: str) -> None:
    own = box_of(badge(), size)
    for kind in OverlayKind:
        if kind is not OverlayKind.BADGE:
            assert not meet(own, box_of(Overlay(kind, text, Frames(0), Frames(9), small), size))
    safe = title_safe(*size)
    assert (own[0] >= safe[0], own[2] <= safe[2]) == (True, True)


@settings(max_examples=60, deadline=None)
@given(size=accepted())
@example(size=(180, 180))
@example(size=(180, 404))
@example(size=(450, 180))
def test_badge_is_whole_and_large_enough_for_a_phone_in_every_accepted_size(size: tuple[int, int]) -> None:
    (placed,) = lay_out_overlay(badge(), *size, FONTS).texts
    assert placed.text.lines == ("59.9x",)
    assert placed.text.size >= least_size(*size)  # 16 arc-minutes: ISO 9241-3


def test_only_footage_that_plays_visibly_faster_has_a_badge() -> None:
    def shot(speed: str, frames: int = 60, hold: int = 0) -> Segment:
        return kit.shot("footage/top.mp4", Fraction(0), frames, RATE, Fraction(speed), hold)

    segments = [shot("1"), shot("4"), shot("4"), kit.slate(30), shot("4"), shot("5/4"), shot("8", 60, 20)]
    told = [(board.text, board.start, board.end) for board in badges(segments)]
    assert told == [("4x", 60, 180), ("4x", 210, 270), ("8x", 330, 370)]
    assert next(iter(badges([shot("126/100")]))).text == "1.3x"
    assert speed_text(Fraction(995, 100)) == "10x"
    assert not list(badges([shot("1/2"), shot("1")]))


@pytest.fixture(scope="module")
def job(tmp_path_factory: pytest.TempPathFactory) -> Path:
    root = tmp_path_factory.mktemp("badge")
    (root / "footage").mkdir()
    kit.encode(
        root / "footage" / "top 2.mp4", (np.full((180, 320), 128, np.uint8) for _ in range(900)), Fraction(30)
    )
    return root


def glyphs(text: str, size: int, weight: str) -> Image.Image:
    """A text as the general-purpose imaging library draws it, light on dark."""
    font = ImageFont.truetype(getattr(FONTS, weight), size)
    left, top, right, bottom = font.getbbox(text)
    image = Image.new("L", (int(right - left), int(bottom - top)), 0)
    ImageDraw.Draw(image).text((-left, -top), text, fill=255, font=font)
    return image


def alike(found: Image.Image, wanted: Image.Image) -> float:
    """How alike two pictures are where the best fit lies: the correlation of their ink."""
    small = wanted.resize((found.width, found.height))
    a, b = (np.asarray(one, np.float64).ravel() for one in (found, small))
    return float(np.corrcoef(a, b)[0, 1])


def ink_box(frame: kit.Image, box: tuple[int, int, int, int], threshold: int = 130) -> Image.Image:
    """What is light inside a box, cropped to it."""
    left, top, right, bottom = box
    part = frame[top:bottom, left:right]
    rows, columns = np.where(part > threshold)
    return Image.fromarray(part[rows.min() : rows.max() + 1, columns.min() : columns.max() + 1])


def test_badge_is_read_back_from_each_frame_of_a_ramp_and_from_no_other(job: Path) -> None:
    segments = [
        kit.shot("footage/top 2.mp4", Fraction(0), 20, RATE),
        kit.shot("footage/top 2.mp4", Fraction(1), 20, RATE, Fraction(4)),
        kit.shot("footage/top 2.mp4", Fraction(5), 20, RATE, Fraction(8)),
    ]
    plan = kit.timeline(RATE, segments, width=1280, height=720, overlays=tuple(badges(segments)))
    target, _ = kit.draft(job, plan)
    left, top, right, bottom = box_of(badge("4x"), (1280, 720))
    size = lay_out_overlay(badge("4x"), 1280, 720, FONTS).texts[0].text.size
    for number, frame in enumerate(kit.grey_frames(target)):
        ground = float(np.median(frame[top + 4 : bottom - 4, left + 8 : left + 10]))
        if number < 20:
            assert ground > 110, "footage"
            continue
        assert ground < 60, "the badge's ground"
        seen = ink_box(frame, (left + 6, top + 2, right - 6, bottom - 2))
        likeness = {text: alike(seen, glyphs(text, size, "bold")) for text in ("2x", "4x", "6x", "8x", "9x")}
        assert max(likeness, key=lambda text: likeness[text]) == ("4x" if number < 40 else "8x")


def figures_seen(frame: kit.Image, count: int, drop: bool = False) -> str:
    """The timecode in a frame, letter by letter, by likeness with figures drawn by the imaging library."""
    x, y = strip(frame.shape[1], frame.shape[0])
    _, (wide, tall) = draw_labels(Frames(0), 1, RATE, frame.shape[1], frame.shape[0])
    part = frame[y : y + tall, x : x + wide].astype(np.int16)
    lit = (part > 110).any(axis=0)
    edges = np.flatnonzero(np.diff(np.concatenate([[0], lit.astype(np.int8), [0]])))
    runs = [(int(a), int(b)) for a, b in zip(edges[::2], edges[1::2], strict=True)]
    height = max(int(np.ptp(np.where(part[:, a:b] > 110)[0])) + 1 for a, b in runs)
    read = ""
    for a, b in runs:
        seen = ink_box(frame, (x + a, y, x + b, y + tall), 110)
        if seen.height < 0.9 * height or seen.width < 0.3 * height:
            read += "." if len(read) % 3 == 2 else "1"
            continue
        likeness = {figure: alike(seen, glyphs(figure, 200, "semibold")) for figure in "0123456789"}
        read += max(likeness, key=lambda figure: likeness[figure])
    return read


@pytest.mark.parametrize("rate", ["30", "29.97 DF", "25"])
def test_timecode_is_read_back_from_frames(job: Path, rate: str) -> None:
    at = Rate.parse(rate)
    start = 60 * at.nominal - 20  # the minute at which drop-frame labels skip two numbers
    segments = [kit.slate(start), kit.shot("footage/top 2.mp4", Fraction(0), 60, at, Fraction(4))]
    target = job / "out" / "draft-timecode.mp4"
    plan = kit.timeline(at, segments, width=1280, height=720)
    render(plan, kit.clips_in(job), job, target, job / "out" / "cache", timecode=True)
    frames = kit.grey_frames(target)
    # Which labels drop-frame counting skips: D. Heidelberger, "About Drop-Frame Timecode".
    skipped = 2 if at.drop else 0
    last = at.nominal
    for number, wanted in (
        (0, "00.00.00.00"),
        (last - 1, f"00.00.00.{last - 1:02d}"),
        (last, "00.00.01.00"),
        (start + 19, f"00.00.59.{last - 1:02d}"),
        (start + 20, f"00.01.00.{skipped:02d}"),
        (start + 27, f"00.01.00.{7 + skipped:02d}"),
    ):
        assert figures_seen(frames[number], 11) == wanted


def test_timecode_is_only_where_it_is_asked_for_and_in_the_pieces_names(job: Path) -> None:
    segments = [kit.shot("footage/top 2.mp4", Fraction(0), 30, RATE)]
    plan = kit.timeline(RATE, segments, width=640, height=360)
    cache = job / "out" / "cache"
    plain, _ = kit.draft(job, plan, "plain.mp4")
    x, y = strip(640, 360)
    assert kit.grey_frames(plain)[3][y : y + 8, x : x + 80].min() > 110
    before = {path.name for path in cache.glob("*.h264")}
    burnt = job / "out" / "burnt.mp4"
    made = render(plan, kit.clips_in(job), job, burnt, cache, timecode=True)
    assert made.segments_rendered == 1
    assert kit.grey_frames(burnt)[3][y : y + 8, x : x + 80].min() < 60
    again = render(plan, kit.clips_in(job), job, burnt, cache, timecode=True)
    assert (again.segments_rendered, len({p.name for p in cache.glob("*.h264")} - before)) == (0, 1)
    assert kit.draft(job, plan, "plain.mp4")[1].segments_rendered == 0


@settings(max_examples=40, deadline=None)
@given(size=accepted(), text=texts)
@example(size=(180, 180), text=LONG)
@example(size=(450, 180), text=LONG)
@example(size=(180, 404), text=LONG)
def test_burnt_in_strip_meets_no_board_and_stays_in_the_picture(size: tuple[int, int], text: str) -> None:
    sheet, (wide, tall) = draw_labels(Frames(1790), 20, Rate.parse("29.97 DF"), *size)
    x, y = strip(*size)
    assert not [number for number in (x, y, wide, tall) if number % 2]
    assert (sheet.width, sheet.height) == (COLUMNS * wide, 3 * tall)
    name = draw_name(text, x + wide, *size, FONTS)
    assert (x + wide + name.width <= size[0], name.height % 2, name.width % 2) == (True, 0, 0)
    own = (x, y, x + wide + name.width, y + max(tall, name.height))
    for kind in OverlayKind:
        assert not meet(own, box_of(Overlay(kind, text or "W", Frames(0), Frames(9)), size))


@pytest.mark.parametrize("size", ["1280x720", "1920x1080", "720x1280", "320x180", "450x180"])
def test_burnt_in_figures_are_large_enough_for_a_phone(size: str) -> None:
    width, height = picture_size(size)
    sheet, (wide, tall) = draw_labels(Frames(0), 1, RATE, width, height)
    rows = np.where(np.asarray(sheet.convert("L"))[:tall, :wide] > 90)[0]
    with TTFont(FONTS.semibold) as font:
        capital = font["OS/2"].sCapHeight / font["head"].unitsPerEm
    # Letter height = 2 x distance x tan(angle / 2): 16 arc-minutes, ISO 9241-3, at 32.2 cm on a screen of 12 x 6.75 cm.
    wanted = 2 * 32.2 * tan(radians(16 / 60) / 2) * max(max(width, height) / 12, min(width, height) / 6.75)
    assert rows.max() - rows.min() + 1 >= int(wanted)
    assert capital > 0.7


def test_a_clip_name_no_font_of_ours_can_write_is_no_trouble(job: Path) -> None:
    image = draw_name("электро ⚡ سلام.mp4", 300, 1280, 720, FONTS)
    assert image.width > 40
    segments = [kit.shot("footage/top 2.mp4", Fraction(0), 12, RATE)]
    plan = replace(kit.timeline(RATE, segments, width=320, height=180), title="x")
    render(plan, kit.clips_in(job), job, job / "out" / "n.mp4", job / "out" / "cache", timecode=True)
