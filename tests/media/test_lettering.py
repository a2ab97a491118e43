"""Where lines end: figures keep their units, and words stay whole where they can."""

from __future__ import annotations

import pytest

from episodekit.outside.media.drawing.fonts import load_fonts
from episodekit.outside.media.drawing.lettering import Style, set_text

FONTS, _ = load_fonts(None)


@pytest.mark.parametrize(
    "figure",
    ["325 V", "4.7 kΩ", "470 µF", "65 °C", "10 min", "2.5 mm", "50 Hz", "1.5 N·m", "20 %", "0.75 mm²", "½ h"],
)
def test_figure_stays_on_a_line_with_its_unit(figure: str) -> None:
    # A space stands between figure and unit: SI Brochure, 9th edition, 5.4.3. They are read as one.
    text = f"After the plug is out the bench reads {figure} and then it falls away slowly. " * 3
    for width in range(120, 420, 5):
        block = set_text((text,), Style(FONTS.regular, 20, 20, even=True), width, 5000)
        assert " ".join(block.lines) == text.strip()
        assert sum(line.count(figure) for line in block.lines) == 3


def test_figure_and_unit_part_at_their_space_when_no_line_holds_both() -> None:
    lines = set_text(("12345678 kΩ",), Style(FONTS.regular, 20, 20), 110, 500).lines
    assert lines == ("12345678", "kΩ")


def test_a_number_that_counts_things_may_end_a_line() -> None:
    widths = range(60, 200)
    blocks = [set_text(("four of 12 screws",), Style(FONTS.regular, 20, 20), w, 500).lines for w in widths]
    assert any(line.endswith("12") for lines in blocks for line in lines)


def test_a_long_word_makes_the_letters_smaller_before_it_is_broken() -> None:
    style = Style(FONTS.bold, 40, 12)
    text = set_text(("Mind the electrolytic capacitors",), style, 160, 1000)
    assert text.lines == ("Mind the", "electrolytic", "capacitors")
    assert 12 < text.size < 40
    assert set_text(("Mind the",), style, 160, 1000).size == 40
