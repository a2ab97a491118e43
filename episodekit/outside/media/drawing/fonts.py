"""Which font files letter the draft, and which characters they can draw.

The shipped font is Inter (SIL Open Font License 1.1, see templates/fonts/OFL.txt). The machine's own
fonts are never asked, so a draft looks the same wherever it is made.
"""

from __future__ import annotations

import unicodedata
from dataclasses import dataclass
from functools import lru_cache
from io import BytesIO
from pathlib import Path

from fontTools.ttLib import TTFont
from PIL import ImageFont, features

from episodekit.base.findings import Finding, finding
from episodekit.base.place import Place
from episodekit.outside.resources import templates_dir
from episodekit.timeline.rules import FONT

PLAN = Place("job.md")
# Characters without ink of their own; Unicode, "Default_Ignorable_Code_Point", the ones met in text.
_STEERING = frozenset("\u200c\u200d\u200e\u200f\u061c\u2066\u2067\u2068\u2069")
_BACKWARDS, _MARKS = frozenset({"R", "AL", "AN"}), frozenset({"Mn", "Mc"})
_VARIATION_SELECTORS = frozenset(map(chr, (*range(0xFE00, 0xFE10), *range(0xE0100, 0xE01F0))))


@dataclass(frozen=True)
class Fonts:
    """The font files of a draft, one a weight."""

    regular: Path
    semibold: Path
    bold: Path


def shipped_fonts() -> Fonts:
    """The font that comes with the package."""
    folder = templates_dir() / "fonts"
    return Fonts(*(folder / f"Inter-{weight}.otf" for weight in ("Regular", "SemiBold", "Bold")))


def load_fonts(job_font: Path | None, at: Place = PLAN) -> tuple[Fonts, tuple[Finding, ...]]:
    """The draft's fonts: the job's own file in every weight, or the shipped font.

    `at` is where the job names its font. A file that cannot be used gives the finding DRAFT-FONT and
    the shipped font in its place, so that the draft is made all the same.
    """
    if job_font is None:
        return shipped_fonts(), ()
    trouble = _trouble(job_font)
    if trouble:
        message = f"The font {job_font.name} {trouble}; the shipped font stands in."
        remedy = "Name a .ttf, .otf or .ttc file inside the job folder, or take the `font:` line out."
        return shipped_fonts(), (finding(FONT, at, message, remedy),)
    return Fonts(job_font, job_font, job_font), ()


def undrawable(text: str, fonts: Fonts) -> str:
    """The characters that some weight of the font cannot draw, each once, in their order in the text.

    White space and characters that only steer their neighbours (joiners, variation selectors,
    direction marks) need no glyph.

    >>> undrawable("Schräg → 電池 🔧", shipped_fonts())
    '電池🔧'
    """
    known = characters(fonts.regular) & characters(fonts.semibold) & characters(fonts.bold)
    composed = unicodedata.normalize("NFC", text)
    missing = (c for c in composed if c not in known and not c.isspace() and not is_silent(c))
    return "".join(dict.fromkeys(missing))


def can_shape() -> bool:
    """Whether letters can be joined and ordered here: Pillow brings the means, but for the library FriBiDi, which
    it takes from the machine.
    """
    return features.check_feature("raqm") is True


def needs_shaping(text: str) -> bool:
    """Whether a text comes out wrong unless its letters are joined or ordered: scripts that run from right to left,
    those of South and South-East Asia, and marks that no composed letter holds.
    """
    composed = unicodedata.normalize("NFC", text)
    shown = (c for c in composed if not is_silent(c))
    return any(unicodedata.bidirectional(c) in _BACKWARDS or unicodedata.category(c) in _MARKS for c in shown)


def is_steering(character: str) -> bool:
    """Whether it shows nothing, but tells its neighbours how to join or which way to run."""
    return character in _STEERING


def is_silent(character: str) -> bool:
    """Whether a character has no ink of its own: controls, format marks, variation selectors."""
    return unicodedata.category(character) in {"Cc", "Cf"} or character in _VARIATION_SELECTORS


@lru_cache(maxsize=16)
def characters(path: Path) -> frozenset[str]:
    """All characters a font file maps to a glyph; the file is read once a run."""
    # From memory, since the reader leaves a file open when it is no font. Of a collection it is the first, as drawn.
    with TTFont(BytesIO(path.read_bytes()), lazy=True, fontNumber=0) as font:
        return frozenset(map(chr, font.getBestCmap() or ()))


@lru_cache(maxsize=256)
def face(path: Path, size: int) -> ImageFont.FreeTypeFont:
    """A font file at a size in pixels an em; opened once a run."""
    return ImageFont.truetype(path, size)


@lru_cache(maxsize=16)
def capital_share(path: Path) -> float:
    """Height of a capital H in ems, as drawn at a size where whole pixels do not matter.

    A font without an H is taken to have capitals of 0.7 em (common practice, no source).
    """
    _, top, _, bottom = face(path, 2000).getbbox("H", anchor="ls")
    return (bottom - top) / 2000 if "H" in characters(path) and bottom > top else 0.7


def _trouble(path: Path) -> str:
    """Why a font file cannot letter a draft, or nothing."""
    if not path.is_file():
        return "is not there"
    try:
        face = ImageFont.truetype(path, 40)
        letters = "".join(sorted(filter(str.isalpha, characters(path))))
        drawn = face.getmask(letters[:40]).getbbox() if letters else None
        # One damaged outline stops a card in the middle of a draft, so each is tried here.
        for start in range(0, len(letters), 200):
            face.getmask(letters[start : start + 200])
        face.getmask("".join(filter(str.isprintable, map(chr, range(32, 256)))))
    except Exception:  # two font readers meet any bytes here and raise far more than they document
        return "cannot be read as a font"
    return "" if drawn else "draws no letters"
