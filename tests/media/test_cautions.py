"""Cautions and disclosures in every accepted picture size: drawn whole, large enough, and never a crash."""

from __future__ import annotations

import re
from math import radians, tan

import pytest
from fontTools.ttLib import TTFont
from hypothesis import example, given, settings
from hypothesis import strategies as st
from PIL import ImageChops

from episodekit.base.time import Frames
from episodekit.job.hazards import DEFER, HAZARDS
from episodekit.job.units import picture_size
from episodekit.outside.media.drawing.cards import draw_card, draw_overlay, lay_out_card, overlay_room
from episodekit.outside.media.drawing.fonts import load_fonts
from episodekit.outside.media.drawing.lettering import SetText
from episodekit.outside.media.drawing.overlays import lay_out_overlay
from episodekit.timeline.model import Card, Overlay, OverlayKind
from episodekit.timeline.turns import ON_FOOTAGE, ON_SLATE, in_turns
from tests.media.test_cards import contrast_seen, texts

FONTS, _ = load_fonts(None)
STOCK = sorted((hazard.caution for hazard in HAZARDS.values()), key=len, reverse=True)
OWN = "Mind the hinge pin: it jumps out under spring load when the cover is lifted"
WORDS = "The bus reads 325 V a second after the plug is out, so I wait, and then I meter it again. " * 6
DISCLOSURE = Overlay(OverlayKind.DISCLOSURE, "Ad · paid for by Larkspur Printing", Frames(0), Frames(90))


@st.composite
def accepted(draw: st.DrawFn) -> tuple[int, int]:
    """Sizes that a plan may ask for, the narrowest and the flattest among them."""
    short = draw(st.integers(90, 360)) * 2
    shape = draw(st.one_of(st.sampled_from([1.0, 16 / 9, 2.5]), st.floats(1, 2.5)))
    if draw(st.booleans()):
        width, height = int(short * shape) // 2 * 2, short
    else:
        width, height = short, int(short * min(shape, 2.25)) // 2 * 2
    return picture_size(f"{width}x{height}")


def caution(*paragraphs: str) -> Overlay:
    return Overlay(OverlayKind.CAUTION, "\n".join(paragraphs), Frames(0), Frames(90), DEFER)


def slate(cautions: tuple[str, ...]) -> Card:
    lines = ("Camera top · overhead · 12.4 s", "Point of no return: cannot be filmed again")
    return Card("Discharge the bus capacitors", "Shot 7 · to film", lines, WORDS, "caution", cautions)


def shown(drawn: list[SetText]) -> str:
    joined = " ".join(line for text in drawn for line in text.lines)
    return joined.replace("residual- current", "residual-current")  # a line may end after a hyphen


def least_size(width: int, height: int) -> float:
    """16 arc-minutes at least: ISO 9241-3; distance and phone as in the other tests of cards."""
    with TTFont(FONTS.bold) as font:
        capital = font["OS/2"].sCapHeight / font["head"].unitsPerEm
    pixels = max(max(width, height) / 12, min(width, height) / 6.75)
    return float(2 * 32.2 * tan(radians(16 / 60) / 2) * pixels / capital)


@pytest.mark.parametrize("hazards", range(1, 8))
@pytest.mark.parametrize("size", [(1280, 720), (1920, 1080), (640, 360), (720, 1280)])
def test_slate_shows_every_caution_whole_however_many(size: tuple[int, int], hazards: int) -> None:
    layout = lay_out_card(slate((*STOCK[:hazards], OWN, DEFER)), *size, FONTS)
    drawn = [placed.text for placed in layout.texts]
    for text in (*STOCK[:hazards], OWN, DEFER):
        assert text in shown(drawn)
    assert "Discharge the bus" in shown(drawn), "what to film is still told"
    assert min(text.size for text in drawn) >= least_size(*size)


def test_slate_gives_up_words_before_what_to_film() -> None:
    drawn = [p.text for p in lay_out_card(slate((*STOCK[:7], OWN, DEFER)), 1280, 720, FONTS).texts]
    card = slate(())
    assert all(text in shown(drawn) for text in (card.kicker, card.heading, *card.lines))


@pytest.mark.parametrize(("size", "hazards"), [((1280, 720), 7), ((720, 1280), 7), ((640, 360), 6)])
def test_many_cautions_on_one_board_shrink_and_none_is_cut(size: tuple[int, int], hazards: int) -> None:
    few, many = (lay_out_overlay(caution(*STOCK[:n]), *size, FONTS) for n in (1, hazards))
    assert all(text in shown([p.text for p in many.texts]) for text in (*STOCK[:hazards], DEFER))
    assert many.texts[0].text.size < few.texts[0].text.size
    assert few.size[1] < many.size[1] <= 0.75 * size[1]


def test_each_caution_on_a_board_begins_on_a_line_of_its_own() -> None:
    (text, _) = (p.text for p in lay_out_overlay(caution(*STOCK[-2:]), 1280, 720, FONTS).texts)
    assert text.lines == tuple(STOCK[-2:])
    pitch = lay_out_overlay(caution(STOCK[0]), 1280, 720, FONTS).texts[0].text.baselines
    assert text.baselines[1] - text.baselines[0] > pitch[1] - pitch[0], "with a gap before it"


@settings(max_examples=40, deadline=None)
@given(size=accepted(), pick=st.permutations(STOCK), own=st.lists(st.just(OWN), max_size=2))
@example(size=(720, 720), pick=STOCK, own=[OWN])
@example(size=(1800, 720), pick=STOCK, own=[OWN])
@example(size=(720, 1620), pick=STOCK, own=[OWN])
@example(size=(180, 180), pick=STOCK, own=[OWN])
@example(size=(180, 404), pick=STOCK, own=[])
def test_every_turn_is_whole_and_large_enough_in_every_accepted_size(
    size: tuple[int, int], pick: list[str], own: list[str]
) -> None:
    said = [*pick, *own]
    for turn in in_turns(said, ON_FOOTAGE):
        drawn = [p.text for p in lay_out_overlay(caution(*turn), *size, FONTS).texts]
        assert all(text.whole and text.size >= least_size(*size) for text in drawn)
        assert all(text in shown(drawn) for text in (*turn, DEFER)), "no word is broken"
    for turn in in_turns(said, ON_SLATE):
        drawn = [p.text for p in lay_out_card(slate((*turn, DEFER)), *size, FONTS).texts]
        assert all(text in shown(drawn) for text in (*turn, DEFER))
        assert min(text.size for text in drawn) >= least_size(*size)
    (text,) = (p.text for p in lay_out_overlay(DISCLOSURE, *size, FONTS).texts)
    assert text.whole
    assert shown([text]) == DISCLOSURE.text


@settings(max_examples=25, deadline=None)
@given(size=accepted(), said=st.lists(texts, max_size=8), other=texts)
@example(size=(180, 450), said=["W" * 400] * 4, other="W" * 400)
@example(size=(450, 180), said=["W" * 400] * 4, other="W" * 400)
def test_nothing_raises_and_no_caution_is_cut_in_any_accepted_size(
    size: tuple[int, int], said: list[str], other: str
) -> None:
    overlays = [Overlay(kind, other, Frames(0), Frames(90), other) for kind in OverlayKind]
    for turn in in_turns(said, ON_FOOTAGE):
        overlays.append(caution(*turn))
        assert all(placed.text.whole for placed in lay_out_overlay(overlays[-1], *size, FONTS).texts)
    for graphic in overlays:
        image, x, y = draw_overlay(graphic, *size, FONTS)
        assert (x + image.width <= size[0], y + image.height <= size[1]) == (True, True)
    top, bottom = overlay_room(tuple(overlays), *size, FONTS)
    for turn in in_turns(said, ON_SLATE) or ((),):
        card = Card(other, other, (other,), other, "caution", turn)
        assert draw_card(card, *size, FONTS, top=top, bottom=bottom).size == size
        layout = lay_out_card(Card(other, other, (other,), other, "caution", turn), *size, FONTS)
        assert not layout.cautions or layout.texts[-1].text.whole


@settings(max_examples=300)
@given(st.integers(1, 4900).map(lambda n: n * 2), st.integers(1, 4900).map(lambda n: n * 2))
@example(2000, 90)
@example(240, 1280)
@example(160, 7680)
def test_a_size_too_small_or_too_long_is_refused_with_one_that_is_not(width: int, height: int) -> None:
    try:
        assert picture_size(f"{width}x{height}") == (width, height)
    except ValueError as error:
        said, _, remedy = str(error).partition("; ")
        assert f"{width}x{height}" in said
        assert remedy
        most = re.search(r"longer side (\d+)", remedy)
        if most:  # the remedy is followed to the letter
            long, short = int(most[1]), min(width, height)
            assert picture_size(f"{long}x{short}" if width > height else f"{short}x{long}")


def test_cautions_on_a_slate_have_contrast_and_a_warning_sign() -> None:
    card = slate((STOCK[0], DEFER))
    layout = lay_out_card(card, 1280, 720, FONTS)
    assert layout.sign is not None
    image = draw_card(card, 1280, 720, FONTS)
    # 4.5:1 for text, 3:1 for a sign: WCAG 2.2, 1.4.3 and 1.4.11, measured on the drawn pixels.
    assert contrast_seen(image.crop(layout.texts[-1].box)) >= 4.5
    sign = image.crop(layout.sign)
    assert contrast_seen(sign) >= 4.5
    # A triangle with something cut out of its middle; the idea of ISO 7010, W001, the drawing is our own.
    mirrored = sign.transpose(0)
    assert max(ImageChops.difference(sign, mirrored).convert("L").tobytes()) < 60, "left like right"
    assert layout.texts[-1].box[0] >= layout.sign[2]
