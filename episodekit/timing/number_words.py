"""Numbers in English words, by the general library num2words. Digits come in as ASCII text."""

from __future__ import annotations

from decimal import Decimal

from num2words import num2words

_LONGEST = 15
"""Digits; a longer number is read digit by digit, as nobody says quadrillions."""


def cardinal(number: int) -> str:
    """A whole number: 2490 is "two thousand four hundred and ninety"."""
    return str(num2words(number)).replace(",", "")


def ordinal(number: int) -> str:
    """A rank: 3 is "third"."""
    return str(num2words(number, to="ordinal")).replace(",", "")


def year(figure: str) -> str:
    """A year in pairs: "1998" is "nineteen ninety-eight"."""
    return str(num2words(int(figure), to="year"))


def digits(figure: str) -> str:
    """Digit by digit: "005" is "zero zero five"."""
    return " ".join(cardinal(int(digit)) for digit in figure)


def number(figure: str) -> str:
    """A number as it is written, with or without separators; a leading zero makes it a code.

    >>> number("1,100"), number("0.05"), number("005")
    ('one thousand one hundred', 'zero point zero five', 'zero zero five')
    """
    whole, point, part = figure.replace(",", "").partition(".")
    coded = len(whole) > _LONGEST or (len(whole) > 1 and whole[0] == "0")
    said = digits(whole) if coded else cardinal(int(whole or 0))
    return f"{said} point {digits(part)}" if point else said


def span(low: str, high: str | None) -> str:
    """A range "17-19" is "seventeen to nineteen"; figures that fall are a code and only follow one another."""
    if high is None:
        return number(low)
    return f"{number(low)} {'to ' if value(low) < value(high) else ''}{number(high)}"


def value(figure: str) -> Decimal:
    """What a written number is worth."""
    return Decimal(figure.replace(",", ""))


def fraction(top: int, bottom: int, *, mixed: bool = False) -> str:
    """A fraction: 1/60 is "one sixtieth", 3/4 "three quarters", and after a whole number 1/2 is "a half".

    >>> fraction(1, 60), fraction(3, 4), fraction(1, 2, mixed=True), fraction(16, 9)
    ('one sixtieth', 'three quarters', 'a half', 'sixteen over nine')
    """
    if bottom < 2 or top > bottom:
        return f"{cardinal(top)} over {cardinal(bottom)}"
    one = "a" if mixed and top == 1 else cardinal(top)
    name = {2: "half", 4: "quarter"}.get(bottom) or ordinal(bottom)
    many = "halves" if bottom == 2 else f"{name}s"
    return f"{one} {name if top == 1 else many}"
