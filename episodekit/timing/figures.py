"""Figures as a narrator reads them: "41 Mbit/s" is "forty-one megabits a second".

A simple reading of whole numbers, decimals, percent, money, units of the bench, ranges and screw sizes.
What it does not know it leaves as it stands, so the length is then estimated from the letters.
"""

from __future__ import annotations

import re
from decimal import Decimal

from num2words import num2words

_UNITS = {
    "%": "per cent",
    "°C": "degrees",
    "A": "amps",
    "C": "degrees",
    "GB": "gigabytes",
    "Hz": "hertz",
    "J": "joules",
    "Mbit/s": "megabits a second",
    "MOhm": "megaohms",
    "Ohm": "ohms",
    "V": "volts",
    "W": "watts",
    "Wh": "watt hours",
    "cm": "centimetres",
    "dB": "decibels",
    "dBA": "decibels",
    "g": "grams",
    "h": "hours",
    "kHz": "kilohertz",
    "kOhm": "kiloohms",
    "kg": "kilograms",
    "kΩ": "kiloohms",
    "m": "metres",
    "mA": "milliamps",
    "mAh": "milliamp hours",
    "min": "minutes",
    "mm": "millimetres",
    "mΩ": "milliohms",
    "rpm": "revs a minute",
    "s": "seconds",
    "uF": "microfarads",
    "µF": "microfarads",
    "Ω": "ohms",
}
_MONEY = {"$": "dollars", "€": "euros", "£": "pounds"}
_UNIT = "|".join(re.escape(unit) for unit in sorted(_UNITS, key=len, reverse=True))
_NUMBER = r"\d{1,3}(?:,\d{3})+(?:\.\d+)?|\d+(?:\.\d+)?"
_SCREW = re.compile(r"\bM(\d+(?:\.\d+)?)\s*[x×]\s*(\d+(?:\.\d+)?)")
_FIGURE = re.compile(rf"([$€£])?({_NUMBER})(?:\s?({_UNIT})(?![\w/]))?")


def as_spoken(text: str) -> str:
    """The text with its figures written out in English words.

    >>> as_spoken("It fell from 14 % to 1.2, for $26.")
    'It fell from fourteen per cent to one point two, for twenty-six dollars.'
    """
    text = _SCREW.sub(lambda m: f"M {_words(m[1])} by {_words(m[2])}", text)
    return _FIGURE.sub(_figure, text)


def _figure(match: re.Match[str]) -> str:
    before = match.string[: match.start()]
    words = _words(match[2])
    if match[1]:
        words = f"{words} {_MONEY[match[1]]}"
    if match[3]:
        words = f"{words} {_UNITS[match[3]]}"
    # "USB3" and "ML-180" are read with a break before the figure.
    return f" {words}" if before[-1:].isalpha() else words


def _words(figure: str) -> str:
    figure = figure.replace(",", "")
    if len(figure.split(".")[0]) > 15:
        return " ".join(num2words(int(digit)) for digit in figure if digit.isdigit())
    if len(figure) > 1 and figure[0] == "0" and "." not in figure:
        return " ".join(num2words(int(digit)) for digit in figure)
    return str(num2words(Decimal(figure))).replace(",", "")
