"""Words of any script come out as Chromium draws them in the same font: in its order, joined and stacked as there.

Chromium orders by Unicode UAX #9 and shapes by itself; what is compared is where along each line there is ink.
"""

from __future__ import annotations

import base64
import io
import json
import os
import shutil
import subprocess
import sys
from collections.abc import Callable
from pathlib import Path

import numpy as np
import pytest
from fontTools.ttLib import TTFont
from numpy.typing import NDArray
from PIL import Image

from episodekit.outside.media.drawing.breaks import is_right_to_left
from episodekit.outside.media.drawing.cards import draw_card, lay_out_card
from episodekit.outside.media.drawing.fonts import Fonts, can_shape, load_fonts, undrawable
from episodekit.outside.media.drawing.lettering import SetText, Style, ink, set_text
from episodekit.outside.media.drawing.overlays import draw_overlay, lay_out_overlay
from episodekit.timeline.model import Card, Overlay, OverlayKind
from tests.browser import Browser, browser
from tests.conftest import ROOT, JobFolder, Run

__all__ = ["browser"]

# Each font by its file's name and its Debian package.
FONTS = {
    "DejaVuSans.ttf": "fonts-dejavu-core",
    "Lohit-Devanagari.ttf": "fonts-lohit-deva",
    "Loma.ttf": "fonts-tlwg-loma-ttf",
    "wqy-microhei.ttc": "fonts-wqy-microhei",
}
LINES = {
    "Arabic": ("DejaVuSans.ttf", "افصل البطارية قبل الفتح"),
    "Hebrew": ("DejaVuSans.ttf", "נתקו את הסוללה לפני הפתיחה"),
    "Arabic with figures and Latin": ("DejaVuSans.ttf", "البطارية 18650 بجهد 3.7 V فقط"),
    "Hebrew with a range and brackets": ("DejaVuSans.ttf", "המתינו 5-10 דקות (USB-C) ואז מדדו!"),
    "Hebrew inside English": ("DejaVuSans.ttf", "Unplug the סוללה first, then wait 5 min"),
    "an isolate": ("DejaVuSans.ttf", "الجهد \u20663.7 V\u2069 فقط، \u200fUSB-C\u200f"),
    "letters kept apart": ("DejaVuSans.ttf", "می\u200cخواهم باتری را جدا کنم"),
    "combining marks": ("DejaVuSans.ttf", "Café naïve a\u0301\u0323 o\u0308 x\u0302"),
    "Hindi": ("Lohit-Devanagari.ttf", "स्क्रू से क्षेत्र की मिट्टी हटाएँ, 5 मिनट प्रतीक्षा"),
    "Thai": ("Loma.ttf", "ถอดแบตเตอรี่ก่อน แล้วรอ 5 นาที น้ำยาที่เป็นพิษ"),
    "Chinese": ("wqy-microhei.ttc", "打开外壳之前,先取下18650电池(3.7 V)。"),
}
PARAGRAPHS = {
    # Some lines begin with a word that runs the other way, or with a figure.
    "Arabic": (
        "DejaVuSans.ttf",
        "افصل بطارية Farrow 18650 قبل الفتح، وانتظر 5-10 دقائق ثم قِس 3.7 V عند USB-C بحذر، وخمسًا مع Tallow.",
    ),
    "Hebrew": (
        "DejaVuSans.ttf",
        "נתקו את סוללת Farrow 18650 לפני הפתיחה, המתינו 5-10 דקות ואז מדדו 3.7 V ב-USB-C, בעזרת Tallow.",
    ),
    "English": (
        "DejaVuSans.ttf",
        "Say סוללה for battery, מסך for screen, ברגים for screws, and שמע for sound, 2 each.",
    ),
}
PIXELS = 40


def font_file(name: str) -> Path:
    """A font of the machine."""
    told = ""
    if shutil.which("fc-list"):
        listed = subprocess.run(["fc-list", "--format=%{file}\n"], capture_output=True, text=True, check=True)
        told = next((line for line in sorted(listed.stdout.splitlines()) if line.endswith("/" + name)), "")
    if not told:
        pytest.skip(f"needs the font {name} (Debian: {FONTS[name]})")
    return Path(told)


def only(path: Path) -> Fonts:
    return Fonts(path, path, path)


def profile(coverage: NDArray[np.float32]) -> NDArray[np.float32]:
    """Ink in each column from the first to the last that holds any."""
    columns = coverage.sum(0)
    inked = np.flatnonzero(columns > 20)
    found: NDArray[np.float32] = columns[inked[0] : inked[-1] + 1]
    return found


def alike(one: NDArray[np.float32], other: NDArray[np.float32]) -> float:
    """The correlation of two profiles, the second stretched to the first's length, smoothed over five pixels."""
    at = np.linspace(0, len(other) - 1, len(one))
    stretched = np.interp(at, np.arange(len(other)), other)
    smooth = [np.convolve(p, np.ones(5) / 5, "same") for p in (one, stretched)]
    return float(np.corrcoef(*smooth)[0, 1])


def in_browser(
    browser: Browser, folder: Path, font: Path, lines: tuple[str, ...], width: int = 1200
) -> NDArray[np.float32]:
    """A paragraph that Chromium breaks into these lines, since they must not be broken elsewhere; 80 pixels a line."""
    data = font.read_bytes()
    if font.suffix == ".ttc":  # pages take no collections
        single = io.BytesIO()
        with TTFont(io.BytesIO(data), fontNumber=0) as first:
            first.save(single)
        data = single.getvalue()
    page = folder / "line.html"
    face = base64.b64encode(data).decode("ascii")
    page.write_text(
        f"<!doctype html><meta charset=utf-8><style>@font-face{{font-family:F;src:url(data:font/ttf;base64,{face})}}"
        f"p{{font:{PIXELS}px/80px F;margin:40px;width:{width}px}}span{{white-space:nowrap}}</style>"
        f"<p dir=auto><span>{'</span> <span>'.join(lines)}</span></p>",
        encoding="utf-8",
    )
    browser.open(page)
    assert browser.ask("return document.fonts.ready.then(() => document.fonts.check('40px F'))")
    assert browser.ask("return document.querySelector('p').offsetHeight") == 80 * len(lines)
    shot = Image.open(io.BytesIO(browser.picture())).convert("L")
    return 255 - np.asarray(shot, np.float32)[40 : 40 + 80 * len(lines)]


def lines_of(text: SetText) -> list[NDArray[np.float32]]:
    """The ink of each line."""
    whole = np.asarray(ink(text), np.float32)
    pitch = text.height // len(text.lines)
    return [whole[text.overhang + n * pitch :][:pitch] for n in range(len(text.lines))]


@pytest.mark.parametrize("name", LINES)
def test_line_is_drawn_as_a_browser_draws_it(name: str, browser: Browser, tmp_path: Path) -> None:
    font, text = font_file(LINES[name][0]), LINES[name][1]
    assert undrawable(text, only(font)) == ""
    made = set_text((text,), Style(font, PIXELS, PIXELS), 1200, 200, 1)
    assert made.whole
    assert len(made.lines) == 1
    ours = profile(np.asarray(ink(made), np.float32))
    theirs = profile(in_browser(browser, tmp_path, font, (text,)))
    assert abs(len(ours) - len(theirs)) <= 0.02 * len(theirs)
    assert alike(theirs, ours) > 0.9
    assert alike(theirs, ours[::-1]) < 0.8, "the comparison would not tell a line that runs the wrong way"


@pytest.mark.parametrize("name", PARAGRAPHS)
def test_every_line_runs_as_its_paragraph_does(name: str, browser: Browser, tmp_path: Path) -> None:
    font, text = font_file(PARAGRAPHS[name][0]), PARAGRAPHS[name][1]
    otherwise = 0
    for width in (300, 420, 560):
        made = set_text((text,), Style(font, PIXELS, PIXELS, 2.0), width, 1600)
        assert made.whole
        assert " ".join(made.lines) == text
        otherwise += sum(is_right_to_left(line) != is_right_to_left(text) for line in made.lines)
        page = in_browser(browser, tmp_path, font, made.lines, width)
        for n, drawn in enumerate(lines_of(made)):
            theirs = profile(page[80 * n : 80 * n + 80])
            ours = profile(drawn)
            assert abs(len(ours) - len(theirs)) <= max(3, 0.02 * len(theirs)), made.lines[n]
            assert alike(theirs, ours) > 0.9, made.lines[n]
    assert otherwise, "no line begins with a word that runs the other way"


def test_words_from_right_to_left_stand_at_the_right_of_their_ground() -> None:
    fonts = only(font_file("DejaVuSans.ttf"))
    words, short = PARAGRAPHS["Hebrew"][1], "נתקו"
    for kind in (OverlayKind.LOWER_THIRD, OverlayKind.CAUTION, OverlayKind.CODE, OverlayKind.DISCLOSURE):
        layout = lay_out_overlay(Overlay(kind, words, 0, 1, short), 1280, 720, fonts)
        edges = {placed.left + placed.text.width for placed in layout.texts}
        assert len(layout.texts) == 2
        assert len(edges) == 1, kind
        assert next(iter(edges)) < layout.size[0]
    card = Card(short, "SHOT 7", (short,), words, cautions=(short,))
    layout = lay_out_card(card, 1280, 720, fonts)
    lefts = [placed.left for placed in layout.texts if placed.text.lines[0] == short]
    assert len(lefts) == 3
    assert min(lefts) > 640
    assert draw_card(card, 1280, 720, fonts).size == (1280, 720)


def test_zero_width_space_is_where_a_line_may_end_and_shows_nothing() -> None:
    # Unicode UAX #14, class ZW. Thai has no spaces between words, so this is how a line is told its places.
    font = font_file("Loma.ttf")
    words = ["ถอด", "แบตเตอรี่", "ก่อน", "เปิด", "ฝา"]
    style = Style(font, PIXELS, PIXELS)
    for width in range(180, 420, 15):
        made = set_text(("\u200b".join(words),), style, width, 1600)
        left = list(words)
        for line in made.lines:
            while line:
                assert line.startswith(left[0])
                line = line.removeprefix(left.pop(0))
        assert not left
    joined = set_text(("\u200b".join(words),), style, 1200, 200)
    assert bytes(ink(joined).tobytes()) == bytes(ink(set_text(("".join(words),), style, 1200, 200)).tobytes())


@pytest.mark.parametrize(
    ("font", "word", "whole"),
    [
        ("Lohit-Devanagari.ttf", "क्षेत्रमिट्टीप्रतीक्षास्क्रू", ("क्षे", "त्र", "मि", "ट्टी", "प्र", "ती", "क्षा", "स्क्रू")),
        ("Loma.ttf", "น้ำยาที่เป็นพิษน้ำ", ("น้ำ", "ย", "า", "ที่", "เ", "ป็", "น", "พิ", "ษ", "น้ำ")),
        (
            "DejaVuSans.ttf",
            "a\u0323\u0302b\u0323\u0302c\u0323\u0302",
            ("a\u0323\u0302", "b\u0323\u0302", "c\u0323\u0302"),
        ),
    ],
)
def test_a_word_too_long_for_a_line_is_never_parted_within_a_letter(
    font: str, word: str, whole: tuple[str, ...]
) -> None:
    # Letters are extended grapheme clusters of Unicode UAX #29, with its rule GB9c for conjuncts, written down by hand.
    import unicodedata

    clusters = [unicodedata.normalize("NFC", letter) for letter in whole]
    assert unicodedata.normalize("NFC", word) == "".join(clusters)
    for width in range(30, 200, 10):
        made = set_text((word,), Style(font_file(font), PIXELS, PIXELS), width, 4000)
        left = list(clusters)
        for line in made.lines:
            while line:
                assert line.startswith(left[0]), made.lines
                line = line.removeprefix(left.pop(0))
        assert not left


def test_a_font_collection_letters_a_draft() -> None:
    font = font_file("wqy-microhei.ttc")
    fonts, findings = load_fonts(font)
    assert findings == ()
    assert undrawable("先取下电池 USB-C", fonts) == ""
    image, _, _ = draw_overlay(Overlay(OverlayKind.CAUTION, "切勿刺穿电芯!", 0, 1), 1280, 720, fonts)
    assert image.width > 200


def test_a_machine_that_cannot_join_letters_is_told(
    job: JobFolder, run: Callable[..., Run], tmp_path: Path
) -> None:
    """FriBiDi stands on the search path, but it is no library, as on a machine that has none."""
    job.write("font.ttf", font_file("DejaVuSans.ttf").read_bytes())
    text = (job.root / "job.md").read_text(encoding="utf-8").replace("Four screws {", "ארבעה ברגים {")
    job.write("job.md", text.replace("size: 320x180", "size: 320x180\nfont: font.ttf"))
    assert can_shape()
    assert "DRAFT-SHAPING" not in run("check", job.root).text
    if not sys.platform.startswith("linux"):
        pytest.skip("needs a loader that can be led astray")
    (tmp_path / "none").mkdir()
    (tmp_path / "none" / "libfribidi.so.0").write_bytes(b"")
    done = subprocess.run(
        [sys.executable, "-m", "episodekit", "check", str(job.root), "--format", "json"],
        env={**os.environ, "LD_LIBRARY_PATH": str(tmp_path / "none"), "PYTHONPATH": str(ROOT)},
        capture_output=True,
        text=True,
        check=False,
    )
    found = [one for one in json.loads(done.stdout)["findings"] if one["code"] == "DRAFT-SHAPING"]
    assert len(found) == 1, done.stderr
    assert "FriBiDi" in found[0]["remedy"]
