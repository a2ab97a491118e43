"""Figures as a narrator reads them, each against the source that is named beside it."""

from __future__ import annotations

import re
from decimal import Decimal

import pytest
from babel.numbers import get_currency_name
from babel.units import format_unit
from hypothesis import given
from hypothesis import strategies as st
from num2words import num2words

from episodekit.timing.figures import as_spoken
from episodekit.timing.unit_names import MONEY, UNITS

PRACTICE = "common practice, no source"
TABLE = [
    # Whole numbers, decimals, ordinals, years: num2words.
    ("14", "fourteen", "num2words"),
    ("2,490", "two thousand four hundred and ninety", "num2words without its commas"),
    ("0.09", "zero point zero nine", "num2words"),
    ("-5", "minus five", "num2words"),
    ("3rd", "third", "num2words"),
    ("in 1998", "in nineteen ninety-eight", "num2words, year"),
    ("1998-2004", "nineteen ninety-eight to two thousand and four", "num2words, year"),
    ("£4.50", "four pounds fifty pence", "num2words, currency, without its comma and 'sterling'"),
    ("$4.50", "four dollars fifty cents", "num2words, currency, without its comma"),
    ("$0.99", "ninety-nine cents", PRACTICE),
    ("$26", "twenty-six dollars", "CLDR, without the country"),
    ("$1", "one dollar", "CLDR, without the country"),
    ("EUR 12", "twelve euros", "CLDR"),
    ("12 €", "twelve euros", "CLDR"),
    ("1,100 USD", "one thousand one hundred dollars", "CLDR, without the country"),
    ("500 SEK", "five hundred kronor", "CLDR, without the country"),
    ("$20-30", "twenty to thirty dollars", PRACTICE),
    ("$1.2 million", "one point two million dollars", PRACTICE),
    ("99p", "ninety-nine pence", PRACTICE),
    # Units: the SI brochure's and CLDR's English names; the deviations are in test_units_are_named_as_in_cldr.
    ("325 V", "three hundred and twenty-five volts", "SI brochure"),
    ("1 V", "one volt", "SI brochure"),
    ("0.5 mm", "zero point five millimetres", "SI brochure"),
    (".5 mm", "zero point five millimetres", "SI brochure"),
    ("2.2 kOhm", "two point two kilohms", "SI brochure"),
    ("10 kΩ", "ten kilohms", "SI brochure"),
    ("4.7 MOhm", "four point seven megohms", "SI brochure"),
    ("100 uF", "one hundred microfarads", "SI brochure"),
    ("100 µF", "one hundred microfarads", "SI brochure"),
    ("20 mm²", "twenty square millimetres", "SI brochure"),
    ("14 %", "fourteen per cent", "CLDR, en-GB"),
    ("5GHz", "five gigahertz", "SI brochure"),
    ("2,490 rpm", "two thousand four hundred and ninety revs a minute", PRACTICE),
    ("65 C", "sixty-five degrees", PRACTICE),
    ("-5 °C", "minus five degrees", PRACTICE),
    ("41 Mbit/s", "forty-one megabits a second", PRACTICE),
    ("100 km/h", "one hundred kilometres an hour", PRACTICE),
    ("a 9-V battery", "a nine volt battery", PRACTICE),
    ("12 V/2 A", "twelve volts/two amps", PRACTICE),
    # Ranges, times, fractions, dimensions, signs.
    ("17-19 min", "seventeen to nineteen minutes", PRACTICE),
    ("45–55 s", "forty-five to fifty-five seconds", PRACTICE),
    ("-40 to 85 C", "minus forty to eighty-five degrees", PRACTICE),
    ("8-16x", "eight to sixteen times", PRACTICE),
    ("0:38", "thirty-eight seconds", PRACTICE),
    ("12:25", "twelve twenty-five", PRACTICE),
    ("10:05", "ten oh five", PRACTICE),
    ("1:02:03", "one hour two minutes and three seconds", PRACTICE),
    ("2026-11-07", "November seventh twenty twenty-six", PRACTICE),
    ("1/60", "one sixtieth", "num2words, ordinal"),
    ("1/60 s", "one sixtieth of a second", PRACTICE),
    ("3/4", "three quarters", PRACTICE),
    ("2½ turns", "two and a half turns", PRACTICE),
    ("3¾ turns and ½ turn", "three and three quarters turns and one half turn", PRACTICE),
    (
        "a ¼ mm gap, then 1½ mm",
        "a one quarter of a millimetre gap, then one and a half millimetres",
        PRACTICE,
    ),
    ("1 1/2 turns", "one and a half turns", PRACTICE),
    ("50/60 Hz", "fifty sixty hertz", PRACTICE),
    ("60x40x20 mm", "sixty by forty by twenty millimetres", PRACTICE),
    ("5 V ± 2", "five volts plus or minus two", PRACTICE),
    ("16:9", "sixteen to nine", PRACTICE),
    # Screws, counts, part numbers, abbreviations.
    ("M1.6x5.5", "M one point six by five point five", PRACTICE),
    ("7 x M1.6x5.5", "seven M one point six by five point five", PRACTICE),
    ("4 x M2", "four M two", PRACTICE),
    ("ML-180", "M L one eighty", PRACTICE),
    ("BC547", "B C five four seven", PRACTICE),
    ("CR2032", "C R twenty thirty-two", PRACTICE),
    ("2S2P", "two S two P", PRACTICE),
    ("4k7", "four K seven", PRACTICE),
    ("an 18650 cell", "an eighteen six fifty cell", PRACTICE),
    ("1080p", "ten eighty P", PRACTICE),
    ("USB-C", "U S B C", PRACTICE),
    ("two LEDs", "two L E Ds", PRACTICE),
    ("some IPA", "some I P A", PRACTICE),
    ("the PCB's edge", "the P C B's edge", PRACTICE),
    ("code POCKET", "code POCKET", PRACTICE),
    ("e.g. glue, tape, etc.", "for example glue, tape, et cetera.", PRACTICE),
    ("No. 5 is approx. 3", "number five is approximately three", PRACTICE),
    ("larkspur.example/pocket", "larkspur dot example slash pocket", PRACTICE),
    ("version 1.2.3", "version one point two point three", PRACTICE),
    ("005", "zero zero five", PRACTICE),
    ("a 5-way switch", "a five-way switch", PRACTICE),
    # Left as it stands.
    ("no figures", "no figures", "nothing to read"),
    ("I measured 3. A screw fell.", "I measured three. A screw fell.", "the full stop ends a sentence"),
    ("٣ وات", "٣ وات", "other scripts' digits are not read"),
]


@pytest.mark.parametrize(("written", "said", "source"), TABLE, ids=[row[0] for row in TABLE])
def test_figures_are_read_as_a_narrator_reads_them(written: str, said: str, source: str) -> None:
    assert as_spoken(written) == said, source


@given(st.integers(0, 10**12))
def test_whole_numbers_are_those_of_num2words(number: int) -> None:
    text = f"{number:,}"
    expected = num2words(number, to="cardinal").replace(",", "")
    assert as_spoken(text) == expected or re.fullmatch(r"1[89]\d\d|20\d\d", text)


@given(st.decimals(0, 10_000, places=3))
def test_decimals_are_those_of_num2words(number: Decimal) -> None:
    digits = f"{number:f}"
    expected = num2words(number).replace(",", "")  # it drops the zeros at the end, a narrator reads them
    assert as_spoken(digits).startswith(expected.removesuffix(" zero"))


# CLDR's English names by unit, as babel gives them. What is said otherwise at a bench stands in SAID.
CLDR = {
    "V": "electric-volt",
    "A": "electric-ampere",
    "mA": "electric-milliampere",
    "Ohm": "electric-ohm",
    "W": "power-watt",
    "mW": "power-milliwatt",
    "kW": "power-kilowatt",
    "Hz": "frequency-hertz",
    "kHz": "frequency-kilohertz",
    "MHz": "frequency-megahertz",
    "GHz": "frequency-gigahertz",
    "mm": "length-millimeter",
    "cm": "length-centimeter",
    "m": "length-meter",
    "km": "length-kilometer",
    "g": "mass-gram",
    "kg": "mass-kilogram",
    "mg": "mass-milligram",
    "s": "duration-second",
    "ms": "duration-millisecond",
    "min": "duration-minute",
    "h": "duration-hour",
    "GB": "digital-gigabyte",
    "MB": "digital-megabyte",
    "J": "energy-joule",
    "N": "force-newton",
    "Pa": "pressure-pascal",
    "kPa": "pressure-kilopascal",
    "bar": "pressure-bar",
    "l": "volume-liter",
    "ml": "volume-milliliter",
    "lx": "light-lux",
    "lm": "light-lumen",
    "%": "concentr-percent",
    "°C": "temperature-celsius",
    "°F": "temperature-fahrenheit",
    "cm²": "area-square-centimeter",
    "m²": "area-square-meter",
    "lb": "mass-pound",
    "oz": "mass-ounce",
    "ft": "length-foot",
    "px": "graphics-pixel",
}
SAID = {
    "A": ("amp", "amps"),
    "mA": ("milliamp", "milliamps"),
    "°C": ("degree", "degrees"),
}


@pytest.mark.parametrize("symbol", list(CLDR))
def test_units_are_named_as_in_cldr(symbol: str) -> None:
    expected = tuple(
        format_unit(count, CLDR[symbol], "long", locale="en_GB").split(" ", 1)[-1] for count in (1, 2)
    )
    if symbol in SAID:
        assert SAID[symbol] != expected
        expected = SAID[symbol]
    got = UNITS[symbol]
    assert tuple(word.lower() for word in got) == tuple(word.lower() for word in expected)


@pytest.mark.parametrize("code", sorted(MONEY))
def test_money_is_named_as_in_cldr_without_the_country(code: str) -> None:
    for count, said in zip((1, 2), MONEY[code][0], strict=True):
        named = get_currency_name(code, count, locale="en")
        assert said in named.split(), (code, named)


@given(st.text(max_size=200))
def test_any_text_is_read_without_an_error(text: str) -> None:
    as_spoken(text)


@given(st.text(alphabet="0123456789.,:/-–xM$€£% kVmAΩ½sp", max_size=40))
def test_any_heap_of_figures_is_read_without_an_error(text: str) -> None:
    as_spoken(text)
