"""The draft's fonts: the shipped one, a job's own, and what neither can draw."""

from __future__ import annotations

import shutil
import subprocess
import sys
from pathlib import Path

import pytest
from fontTools import subset
from fontTools.ttLib import TTFont
from hypothesis import given, settings
from hypothesis import strategies as st
from PIL import ImageFont

import episodekit
from episodekit.base.place import Place
from episodekit.outside.media.drawing.cards import draw_card
from episodekit.outside.media.drawing.fonts import capital_share, load_fonts, shipped_fonts, undrawable
from episodekit.outside.resources import templates_dir
from episodekit.timeline.model import Card

SHIPPED = shipped_fonts()


def small_font(folder: Path, letters: str) -> Path:
    """A font file with just these letters, made by fontTools' subsetter from the shipped one."""
    font = subset.load_font(str(SHIPPED.regular), subset.Options())
    cutter = subset.Subsetter()
    cutter.populate(text=letters)
    cutter.subset(font)
    target = folder / "own.otf"
    font.save(target)
    font.close()
    return target


def test_without_a_font_of_its_own_a_job_gets_the_shipped_one() -> None:
    fonts, findings = load_fonts(None)
    assert findings == ()
    assert all(p.parent == templates_dir() / "fonts" for p in (fonts.regular, fonts.semibold, fonts.bold))
    styles = [ImageFont.truetype(p, 20).getname() for p in (fonts.regular, fonts.semibold, fonts.bold)]
    assert [name for _, name in styles] == ["Regular", "Semi Bold", "Bold"]


def test_a_jobs_own_font_replaces_every_weight(tmp_path: Path) -> None:
    own = small_font(tmp_path, "Lift the screen")
    fonts, findings = load_fonts(own)
    assert findings == ()
    assert {fonts.regular, fonts.semibold, fonts.bold} == {own}
    assert draw_card(Card("Lift the screen"), 320, 180, fonts).getcolors(100_000)
    assert undrawable("Lift a car", fonts) == "a"


@pytest.mark.parametrize(
    ("name", "content", "told"),
    [
        ("empty.otf", b"", "cannot be read as a font"),
        ("text.ttf", b"this is no font\n" * 40, "cannot be read as a font"),
        ("missing.otf", None, "is not there"),
        ("cut.otf", SHIPPED.regular.read_bytes()[:3000], "cannot be read as a font"),
    ],
)
def test_unreadable_font_is_a_finding_and_the_shipped_font_stands_in(
    tmp_path: Path, name: str, content: bytes | None, told: str
) -> None:
    path = tmp_path / name
    if content is not None:
        path.write_bytes(content)
    fonts, findings = load_fonts(path, Place("job.md", 4, 7))
    assert fonts == SHIPPED
    [finding] = findings
    assert (finding.code, str(finding.at)) == ("DRAFT-FONT", "job.md:4:7")
    assert f"The font {name} {told}" in finding.message
    assert str(tmp_path) not in str(finding)


@settings(max_examples=40, deadline=None)
@given(cut=st.integers(0, 200_000), flips=st.lists(st.integers(0, 200_000), max_size=20))
def test_damaged_font_never_stops_a_draft(
    tmp_path_factory: pytest.TempPathFactory, cut: int, flips: list[int]
) -> None:
    data = bytearray(SHIPPED.bold.read_bytes())
    for place in flips:
        data[place % len(data)] ^= 0xFF
    path = tmp_path_factory.mktemp("font") / "damaged.otf"
    path.write_bytes(data[: len(data) - cut % len(data)])
    fonts, findings = load_fonts(path)
    assert (fonts == SHIPPED) == bool(findings)
    assert draw_card(Card("Lift the screen", "SHOT 7", (), "Slow."), 320, 180, fonts).size == (320, 180)


@pytest.mark.parametrize(
    ("text", "missing"),
    [
        ("Schräg, œuvre, Straße, Οθόνη, Экран: 5 × 2 µF → 12 Ω", ""),
        ("a\tb\n c\u00a0d\u200be", ""),
        ("cafe\u0301", ""),
        ("電池 and 電", "電池"),
        ("👩\u200d🔧 ⚠\ufe0f", "👩🔧"),
        ("", ""),
    ],
)
def test_undrawable_names_each_missing_character_once(text: str, missing: str) -> None:
    # Checked against FreeType, which draws a character without a glyph like one that no font has.
    assert undrawable(text, SHIPPED) == missing
    letters = ImageFont.truetype(SHIPPED.regular, 40)
    nothing = bytes(letters.getmask("\U0010fffd"))
    for character in missing:
        assert bytes(letters.getmask(character)) == nothing
    for character in set(text) - set(missing) - set("\t\n\u0301\u200b\u200d\ufe0f\u00a0 "):
        assert bytes(letters.getmask(character)) != nothing


def test_capital_share_agrees_with_the_fonts_own_table() -> None:
    for path in (SHIPPED.regular, SHIPPED.semibold, SHIPPED.bold):
        with TTFont(path) as font:
            table = font["OS/2"].sCapHeight / font["head"].unitsPerEm
        assert capital_share(path) == pytest.approx(table, abs=0.001)


def test_templates_are_found_in_an_installed_package(tmp_path: Path) -> None:
    package = Path(episodekit.__file__).parent
    site = tmp_path / "site" / "episodekit"
    (site / "outside").mkdir(parents=True)
    (site / "__init__.py").touch()
    (site / "outside" / "__init__.py").touch()
    shutil.copy(package / "outside" / "resources.py", site / "outside")
    ask = "from episodekit.outside.resources import templates_dir; print(templates_dir())"

    def found() -> subprocess.CompletedProcess[str]:
        return subprocess.run(
            [sys.executable, "-c", ask],
            cwd=tmp_path / "site",
            env={"PYTHONPATH": str(tmp_path / "site"), "PYTHONDONTWRITEBYTECODE": "1"},
            capture_output=True,
            text=True,
            check=False,
        )

    broken = found()
    assert broken.returncode != 0
    assert "install episodekit again" in broken.stderr
    shutil.copytree(templates_dir() / "fonts", site / "templates" / "fonts")
    assert found().stdout.strip() == str((site / "templates").resolve())
