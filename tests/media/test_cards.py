"""Cards and overlays: nothing meets, nothing leaves the frame, everything can be read."""

from __future__ import annotations

import hashlib
import random
import subprocess
import sys
from itertools import combinations, pairwise
from math import radians, tan

import pytest
from fontTools.ttLib import TTFont
from hypothesis import example, given, settings
from hypothesis import strategies as st
from PIL import Image, ImageChops, ImageDraw, ImageFont

from episodekit.base.time import Frames
from episodekit.outside.media.drawing.cards import draw_card, draw_overlay, lay_out_card, overlay_room
from episodekit.outside.media.drawing.fonts import load_fonts
from episodekit.outside.media.drawing.lettering import SetText, Style, ink, set_text
from episodekit.outside.media.drawing.paint import ACCENTS, Box, letter_height
from episodekit.timeline.model import Card, Overlay, OverlayKind

FONTS, _ = load_fonts(None)
SIZES = [(1280, 720), (1920, 1080), (640, 360), (1080, 1920), (320, 180)]
SHOT = Card(
    "Lift the screen",
    "SHOT 7 · TO FILM",
    ("The gasket letting go", "Camera: macro", "On screen 0:42 · bench 10 min"),
    "The glue lets go at the corners first, so I start there. Slow and even: the panel is thin.",
)
HARD = [
    "",
    " \n\t ",
    "W" * 400,
    "Unscrewthebatterybracketwithoutliftingtheshoulderflexconnector" * 3,
    "one two\nthree\r\nfour\u2028five",
    "🔧 fix 👩\u200d🔧 ⚠️ 🇫🇮",
    "電池を取り外してから、画面を温めます。" * 3,
    "افصل البطارية أولاً ثم ارفع الشاشة",
    "נתקו את הסוללה לפני כל מחבר אחר",
    "Z\u0300\u0301\u0302\u0303\u0304\u0306\u0307\u0308\u030a\u030b" * 30,
    "half a pair \ud83d and a null \x00",
    "The same careful words again. " * 400,
]
texts = st.one_of(st.sampled_from(HARD), st.text(max_size=200), st.text("abc defg hij", max_size=900))
cards = st.builds(
    Card,
    heading=texts,
    kicker=texts,
    lines=st.lists(texts, max_size=5).map(tuple),
    words=texts,
    accent=st.sampled_from(sorted(ACCENTS)),
    cautions=st.lists(texts, max_size=3).map(tuple),
)


def overlay(kind: OverlayKind, text: str, small: str = "") -> Overlay:
    return Overlay(kind, text, Frames(0), Frames(90), small)


def luminance(colour: tuple[int, ...]) -> float:
    """Relative luminance. Source: WCAG 2.2, definitions."""
    parts = [value / 255 for value in colour[:3]]
    r, g, b = (c / 12.92 if c <= 0.04045 else ((c + 0.055) / 1.055) ** 2.4 for c in parts)
    return 0.2126 * r + 0.7152 * g + 0.0722 * b


def contrast_seen(image: Image.Image) -> float:
    """Contrast of the ground, the colour most seen, against the letters, the colour furthest from it.

    Source: WCAG 2.2, definition of contrast ratio.
    """
    seen = image.convert("RGB").getcolors(image.width * image.height) or []
    ground = luminance(max(seen)[1])  # type: ignore[arg-type]  # RGB pixels are tuples
    ratios = []
    for _, colour in seen:
        light, dark = sorted((luminance(colour), ground), reverse=True)  # type: ignore[arg-type]
        ratios.append((light + 0.05) / (dark + 0.05))
    return max(ratios)


def meet(a: Box, b: Box) -> bool:
    return a[0] < b[2] and b[0] < a[2] and a[1] < b[3] and b[1] < a[3]


def inside(a: Box, b: Box) -> bool:
    return a[0] >= b[0] and a[1] >= b[1] and a[2] <= b[2] and a[3] <= b[3]


def title_safe(width: int, height: int) -> Box:
    """90 % of width and height, centred. Source: SMPTE ST 2046-1, from memory."""
    return (round(width * 0.05), round(height * 0.05), round(width * 0.95), round(height * 0.95))


def busy(width: int, height: int) -> Image.Image:
    """Footage of the most restless kind."""
    pick = random.Random(7)
    image = Image.new("RGB", (width, height))
    pen = ImageDraw.Draw(image)
    for _ in range(400):
        x, y = pick.randrange(width), pick.randrange(height)
        pen.rectangle(
            (x, y, x + pick.randrange(4, 80), y + pick.randrange(4, 80)),
            fill=(pick.randrange(256), pick.randrange(256), pick.randrange(256)),
        )
    return image


@settings(max_examples=50, deadline=None)
@given(card=cards, size=st.sampled_from(SIZES))
@example(card=Card("W" * 400, "W" * 400, ("W" * 400,) * 5, "W" * 4000), size=(320, 180))
@example(card=Card(HARD[9], HARD[9], (HARD[9],) * 3, HARD[9]), size=(1280, 720))
@example(card=Card("", "", (), ""), size=(1080, 1920))
@example(card=Card("Lift", "SHOT 7", ("a",), "Slow.", cautions=("W" * 400,) * 9), size=(320, 180))
@example(card=Card("", cautions=("Fume: extraction on",)), size=(1280, 720))
def test_card_texts_never_meet_and_stay_title_safe(card: Card, size: tuple[int, int]) -> None:
    layout = lay_out_card(card, *size, FONTS)
    boxes = [placed.box for placed in layout.texts]
    assert all(not meet(a, b) for a, b in combinations(boxes, 2))
    assert all(inside(box, title_safe(*size)) for box in boxes)
    grounds = [ground for ground in (layout.label, layout.panel, layout.cautions) if ground]
    for ground in grounds:
        assert inside(ground, title_safe(*size))
        assert sum(meet(box, ground) for box in boxes) == 1
    assert all(not meet(a, b) for a, b in combinations(grounds, 2))
    if layout.sign:
        assert layout.cautions is not None
        assert inside(layout.sign, layout.cautions)
        assert not [box for box in boxes if meet(box, layout.sign)]
    image = draw_card(card, *size, FONTS)
    assert (image.mode, image.size) == ("RGB", size)
    changed = ImageChops.difference(image, draw_card(Card(""), *size, FONTS))
    for box in [*boxes, *grounds]:
        changed.paste((0, 0, 0), box)
    assert changed.getbbox() is None, "ink outside every text's box"


@settings(max_examples=60, deadline=None)
@given(first=texts, second=texts, third=texts, small=texts, size=st.sampled_from(SIZES))
@example(first=HARD[-1], second=HARD[-1], third=HARD[-1], small=HARD[-1], size=(1080, 1920))
@example(first="W" * 400, second="W" * 400, third="W" * 400, small="W" * 400, size=(320, 180))
@pytest.mark.parametrize("low_kind", [OverlayKind.LOWER_THIRD, OverlayKind.CODE])
def test_overlays_never_meet_and_lie_on_even_pixels(
    first: str, second: str, third: str, small: str, size: tuple[int, int], low_kind: OverlayKind
) -> None:
    width, height = size
    drawn = {}
    kinds = (low_kind, OverlayKind.CAUTION, OverlayKind.DISCLOSURE)
    for kind, text in zip(kinds, (first, second, third), strict=True):
        image, x, y = draw_overlay(overlay(kind, text, small), width, height, FONTS)
        assert image.mode == "RGBA"
        assert not [number for number in (x, y, *image.size) if number % 2]
        drawn[kind] = (x, y, x + image.width, y + image.height)
    assert all(inside(box, title_safe(width, height)) for box in drawn.values())
    assert all(not meet(a, b) for a, b in combinations(drawn.values(), 2))
    low, caution, ad = (drawn[kind] for kind in kinds)
    assert low[1] >= 0.65 * height
    assert ad[3] <= height / 2
    assert caution[2] - caution[0] <= 0.60 * width
    assert ad[2] - ad[0] <= 0.38 * width
    assert ad[2] + caution[0] == width, "both keep the same margin"


@pytest.mark.parametrize("kind", [OverlayKind.DISCLOSURE, OverlayKind.CODE])
@pytest.mark.parametrize("size", SIZES)
def test_disclosure_letters_are_large_enough_on_a_phone(size: tuple[int, int], kind: OverlayKind) -> None:
    # Letter height = 2 x distance x tan(angle / 2), 22 arc-minutes: ISO 9241-3 and NUREG-0700, 1.3.1-4.
    # Distance 32.2 cm: Bababekova and others, 2011. A 5.5-inch phone shows 16:9 at 12 cm by 6.75 cm.
    wanted = 2 * 32.2 * tan(radians(22 / 60) / 2) / 12 * max(size)
    assert letter_height(22, *size) == pytest.approx(wanted)
    image, _, _ = draw_overlay(overlay(kind, "HHHH"), *size, FONTS)
    if kind is OverlayKind.CODE:  # without the bar at its left
        image = image.crop((image.width // 4, 0, image.width, image.height))
    strong = image.convert("L").point([255 if value > 90 else 0 for value in range(256)]).getbbox()
    assert strong is not None
    assert strong[3] - strong[1] >= round(wanted)


@pytest.mark.parametrize("size", SIZES)
def test_no_text_on_a_card_is_smaller_than_the_least_readable(size: tuple[int, int]) -> None:
    # 16 arc-minutes at least: ISO 9241-3. The font's own table gives the height of its capitals.
    with TTFont(FONTS.regular) as font:
        capital = font["OS/2"].sCapHeight / font["head"].unitsPerEm
    wanted = 2 * 32.2 * tan(radians(16 / 60) / 2) / 12 * max(size)
    long = "Every latch on this board closes the same way. " * 60
    layout = lay_out_card(Card(long, long, (long,), long), *size, FONTS)
    assert len(layout.texts) == 4
    for placed in layout.texts:
        assert placed.text.size * capital >= wanted


@pytest.mark.parametrize("accent", sorted(ACCENTS))
def test_every_text_on_a_card_has_contrast(accent: str) -> None:
    # 4.5:1 for text: WCAG 2.2, 1.4.3, measured on the drawn pixels.
    card = Card(SHOT.heading, SHOT.kicker, SHOT.lines, SHOT.words, accent)
    image = draw_card(card, 1280, 720, FONTS)
    boxes = [placed.box for placed in lay_out_card(card, 1280, 720, FONTS).texts]
    assert len(boxes) == 4
    assert min(contrast_seen(image.crop(box)) for box in boxes) >= 4.5


def test_accents_can_be_told_apart_and_stand_out_from_the_card() -> None:
    images = {}
    for accent in ACCENTS:
        card = Card("", "KICKER", accent=accent)
        label = lay_out_card(card, 1280, 720, FONTS).label
        assert label is not None
        left, _, right, bottom = label
        image = draw_card(card, 1280, 720, FONTS)
        # A strip over the label's lower edge holds label and card. 4.5:1 is more than 1.4.11 asks (3:1).
        assert contrast_seen(image.crop((left + 20, bottom - 3, right - 20, bottom + 3))) >= 4.5
        images[accent] = image.getpixel((left + 20, bottom - 3))
    assert len(set(images.values())) == len(ACCENTS) == 4


@pytest.mark.parametrize("kind", list(OverlayKind))
@pytest.mark.parametrize("footage", [(0, 0, 0), (255, 255, 255), (255, 255, 0), (128, 128, 128)])
@pytest.mark.parametrize("row", ["text", "small"])
def test_overlay_is_readable_over_any_footage(
    kind: OverlayKind, footage: tuple[int, int, int], row: str
) -> None:
    # 4.5:1: WCAG 2.2, 1.4.3, measured where overlay and footage are laid over each other.
    words = "Mind the pouch"
    graphic = overlay(kind, words, "") if row == "text" else overlay(kind, "", words)
    image, _, _ = draw_overlay(graphic, 1280, 720, FONTS)
    frame = Image.new("RGB", image.size, footage)
    frame.paste(image, (0, 0), image)
    lettering = frame.crop((frame.width // 2, 8, frame.width - 8, frame.height - 8))
    assert contrast_seen(lettering) >= 4.5


def test_caution_shows_a_triangle_with_an_exclamation_mark() -> None:
    # The idea of the general warning sign: ISO 7010, W001 (its description; the drawing is our own).
    image, _, _ = draw_overlay(overlay(OverlayKind.CAUTION, "Glued lithium pouch"), 1280, 720, FONTS)
    sign = image.convert("RGB").crop((12, 0, 86, image.height))
    amber = image.convert("RGB").getpixel((10, image.height // 2))
    assert isinstance(amber, tuple)
    red, green, blue = amber[:3]
    assert red > 220
    assert red > green > 2 * blue
    dark = sign.convert("L").point([255 if value < 90 else 0 for value in range(256)])
    box = dark.getbbox()
    assert box is not None
    left, top, right, bottom = box
    widths = []
    for share in (0.15, 0.4, 0.65, 0.9):
        line = dark.crop((left, round(top + share * (bottom - top)), right, bottom)).crop((0, 0, right, 1))
        span = line.getbbox()
        assert span is not None
        widths.append(span[2] - span[0])
    assert widths == sorted(widths)
    assert widths[-1] > 2 * widths[0], "wider from top to bottom"
    middle = dark.crop(((left + right) // 2, top, (left + right) // 2 + 1, bottom - 1)).tobytes()
    runs = [middle[0], *(b for a, b in pairwise(middle) if a != b)]
    assert runs == [255, 0, 255, 0, 255], "a stroke and a dot are left out of the triangle"


def test_overlay_with_nothing_to_say_is_clear() -> None:
    for kind in OverlayKind:
        image, _, _ = draw_overlay(overlay(kind, " ", "\n"), 1280, 720, FONTS)
        assert image.size == (2, 2)
        assert image.getchannel("A").getextrema() == (0, 0)


@pytest.mark.parametrize("size", SIZES)
@pytest.mark.parametrize("kind", list(OverlayKind))
def test_long_overlay_keeps_its_small_line(kind: OverlayKind, size: tuple[int, int]) -> None:
    long = "Unplug, lock off, meter the bus, discharge, and meter again before anything is touched. " * 20
    images = [draw_overlay(overlay(kind, long, small), *size, FONTS)[0] for small in ("60 V", "12 V")]
    assert images[0].tobytes() != images[1].tobytes()


def test_second_line_of_a_lower_third_makes_it_taller_not_higher_set() -> None:
    alone, _, high = draw_overlay(overlay(OverlayKind.LOWER_THIRD, "Lift the screen"), 1280, 720, FONTS)
    both, _, top = draw_overlay(
        overlay(OverlayKind.LOWER_THIRD, "Lift the screen", "Step 16 of 25"), 1280, 720, FONTS
    )
    assert both.height > alone.height
    assert top + both.height == high + alone.height


@pytest.mark.parametrize("size", SIZES)
def test_card_keeps_its_text_clear_of_overlays(size: tuple[int, int]) -> None:
    over = (
        overlay(OverlayKind.DISCLOSURE, "Ad · paid for by Larkspur Printing"),
        overlay(OverlayKind.CAUTION, "Glued lithium pouch: plastic tools only"),
        overlay(OverlayKind.LOWER_THIRD, "Lift the screen", "Step 16 of 25"),
    )
    top, bottom = overlay_room(over, *size, FONTS)
    layout = lay_out_card(SHOT, *size, FONTS, top=top, bottom=bottom)
    shown = {placed.text.font for placed in layout.texts}
    assert shown == {FONTS.regular, FONTS.semibold, FONTS.bold}, "kicker, heading and words all stay"
    for graphic in over:
        image, x, y = draw_overlay(graphic, *size, FONTS)
        box = (x, y, x + image.width, y + image.height)
        assert not [placed for placed in layout.texts if meet(placed.box, box)]


def test_long_words_shrink_before_they_are_cut() -> None:
    def words_of(text: str) -> SetText:
        return lay_out_card(Card("Lift", "SHOT 7", ("a",), text), 1280, 720, FONTS).texts[0].text

    short, long, endless = (words_of("The glue lets go at the corners. " * n) for n in (1, 16, 400))
    assert short.size > long.size > endless.size or long.size == endless.size
    assert short.whole
    assert long.whole
    assert " ".join(long.lines) == ("The glue lets go at the corners. " * 16).strip()
    assert not endless.whole
    assert endless.lines[-1].endswith("…")
    assert endless.lines[-1][-2].isalpha()


def test_what_to_film_stays_on_the_card_when_there_is_much_to_say() -> None:
    card = Card(SHOT.heading, SHOT.kicker, SHOT.lines, "Slow and even, from corner to corner. " * 12)
    shown = [line for placed in lay_out_card(card, 1280, 720, FONTS).texts for line in placed.text.lines]
    assert {SHOT.heading, SHOT.kicker, *SHOT.lines} <= set(shown)
    assert not [line for line in shown if line.endswith("…")]


@pytest.mark.parametrize("size", SIZES)
def test_accents_and_tails_are_not_cut_at_the_edges_of_their_box(size: tuple[int, int]) -> None:
    card = Card("jÅÉÑgjpqyf", "ÅÇgjÕ|", ("jÄÖÜß(gjy)f",), "fjÂÊgjpqyÝ|")
    for placed in lay_out_card(card, *size, FONTS).texts:
        letters = ImageFont.truetype(placed.text.font, placed.text.size)
        free = Image.new("L", (size[0] * 2, size[1] * 2))
        for line, baseline in zip(placed.text.lines, placed.text.baselines, strict=True):
            ImageDraw.Draw(free).text((size[0] // 2, size[1] // 2 + baseline), line, 255, letters, "ls")
        assert sum(ink(placed.text).tobytes()) == sum(free.tobytes()) > 0


def test_lines_part_between_ideographs_but_not_before_a_full_stop() -> None:
    # Unicode UAX #14: class CL may not start a line; ideographs part anywhere.
    text = "電池を取り外してから、画面を温めます。" * 4
    for width in range(90, 400, 7):
        lines = set_text((text,), Style(FONTS.regular, 20, 20), width, 5000).lines
        assert len(lines) > 1
        assert "".join(lines) == text
        assert not [line for line in lines if line[0] in "、。"]


def test_right_to_left_text_starts_at_the_right() -> None:
    # Unicode UAX #9, rules P2 and P3: the first strong letter gives the paragraph its direction.
    def first_line(text: str) -> Box | None:
        block = set_text((text,), Style(FONTS.regular, 24, 24), 200, 400)
        assert len(block.lines) == 2
        mask = ink(block)
        return mask.crop((0, 0, mask.width, mask.height // 2)).getbbox()

    right, left = first_line("אבג דה זחטיכלמנ"), first_line("abc de ghijklmnopqr")
    assert right is not None
    assert left is not None
    assert left[0] < 8 < right[0]


def test_unknown_accent_is_refused() -> None:
    with pytest.raises(KeyError):
        draw_card(Card("Lift", accent="nonesuch"), 320, 180, FONTS)


def test_overlays_do_not_hide_more_of_the_footage_than_their_ground() -> None:
    frame = busy(1280, 720)
    laid = frame.copy()
    image, x, y = draw_overlay(overlay(OverlayKind.LOWER_THIRD, "Lift the screen"), 1280, 720, FONTS)
    laid.paste(image, (x, y), image)
    box = ImageChops.difference(frame, laid).getbbox()
    assert box is not None
    assert inside(box, (x, y, x + image.width, y + image.height))
    assert image.width < 0.4 * 1280


def test_same_card_gives_same_bytes_in_every_process() -> None:
    script = (
        "import hashlib\n"
        "from episodekit.outside.media.drawing.cards import draw_card, draw_overlay\n"
        "from episodekit.outside.media.drawing.fonts import load_fonts\n"
        "from episodekit.timeline.model import Card, Overlay, OverlayKind\n"
        "fonts, _ = load_fonts(None)\n"
        "card = Card('Lift', 'SHOT 7', ('a', 'b'), 'Slow.')\n"
        "sum_ = hashlib.sha256(draw_card(card, 640, 360, fonts).tobytes())\n"
        "for kind in OverlayKind:\n"
        "    image, x, y = draw_overlay(Overlay(kind, 'Mind the pouch', 0, 9, 'b'), 640, 360, fonts)\n"
        "    sum_.update(image.tobytes() + f'{x},{y}'.encode())\n"
        "print(sum_.hexdigest())\n"
    )
    here = hashlib.sha256(draw_card(Card("Lift", "SHOT 7", ("a", "b"), "Slow."), 640, 360, FONTS).tobytes())
    for kind in OverlayKind:
        image, x, y = draw_overlay(overlay(kind, "Mind the pouch", "b"), 640, 360, FONTS)
        here.update(image.tobytes() + f"{x},{y}".encode())
    for seed in ("1", "2"):
        run = subprocess.run(
            [sys.executable, "-c", script],
            env={"PYTHONHASHSEED": seed, "PYTHONPATH": ":".join(p for p in sys.path if p)},
            capture_output=True,
            text=True,
            check=True,
        )
        assert run.stdout.strip() == here.hexdigest()
