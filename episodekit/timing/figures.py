"""Figures as a narrator reads them: "41 Mbit/s" is "forty-one megabits a second".

Whole numbers, decimals, money, units of the bench, ranges, times, fractions, dates, screw sizes, part
numbers and abbreviations. What it does not know it leaves as it stands, so that its length is estimated
from the letters.

Each reading is a row in `RULES`: what it looks like, and what is said. The text is read once from the left;
where two rows fit at the same place, the earlier one reads it.
"""

from __future__ import annotations

import re
from collections.abc import Callable
from functools import lru_cache

from episodekit.timing.letters import model_number, spell_word
from episodekit.timing.number_words import cardinal, digits, fraction, number, ordinal, span, value, year
from episodekit.timing.unit_names import MONEY, SIGNS, UNITS, Name

Reading = Callable[[re.Match[str]], str]

_NUMBER = r"(?:[0-9]{1,3}(?:,[0-9]{3})+(?![0-9])|[0-9]{1,40})(?:\.[0-9]{1,40})?"
_DASH = r"\s?[-–—]\s?"
_START = r"(?<![\w.])"
_UNIT = "|".join(re.escape(unit) for unit in sorted(UNITS, key=len, reverse=True))
_PER = rf"(?:{_UNIT})(?:/(?:{_UNIT}))?"
_SIGN = "".join(SIGNS)
_CODE = "|".join(MONEY)
_SCALE = r"(?:\s(?P<scale>thousand|million|billion)\b|(?P<short>bn|k|K|M)\b)?"
_SHORT = {"bn": "billion", "k": "thousand", "K": "thousand", "M": "million"}
_TWELVE = "January February March April May June July August September October November December"
_MONTHS = _TWELVE.split()
_ABBREVIATIONS = {
    "a.m.": "A M",
    "approx.": "approximately",
    "ca.": "about",
    "dr.": "doctor",
    "e.g.": "for example",
    "etc.": "et cetera",
    "i.e.": "that is",
    "incl.": "including",
    "max.": "maximum",
    "mr.": "mister",
    "mrs.": "missis",
    "ms.": "miz",
    "p.m.": "P M",
    "vs.": "versus",
}
_SIGNS = {
    "&": "and",
    "+": "plus",
    "+-": "plus or minus",
    "+/-": "plus or minus",
    "±": "plus or minus",
    "<": "less than",
    "<=": "at most",
    "=": "equals",
    ">": "more than",
    ">=": "at least",
    "≤": "at most",
    "≥": "at least",
    "~": "about",
    "≈": "about",
}
_VULGAR = {"½": (1, 2), "⅓": (1, 3), "⅔": (2, 3), "¼": (1, 4), "¾": (3, 4), "⅛": (1, 8)}
_LINES = {"480": "four eighty", "720": "seven twenty", "1080": "ten eighty", "1440": "fourteen forty"}
_LINES |= {"2160": "twenty-one sixty", "4320": "forty-three twenty"}


@lru_cache(maxsize=20_000)  # each beat is asked for its words and its length, in each stage of the drift
def as_spoken(text: str) -> str:
    """The text with its figures and abbreviations written out in English words.

    >>> as_spoken("It fell from 14 % to 1.2, for $26.")
    'It fell from fourteen per cent to one point two, for twenty-six dollars.'
    >>> as_spoken("4 x M2, 17-19 min, 1/60 s and an ML-180")
    'four M two, seventeen to nineteen minutes, one sixtieth of a second and an M L one eighty'
    """
    return _ANY.sub(lambda match: _READINGS[str(match.lastgroup)](match), text)


def _plain(match: re.Match[str]) -> str:
    """A bare number, a range of numbers, or a year."""
    low, high = match["n1"], match["n2"]
    if all(figure is None or _YEAR.fullmatch(figure) for figure in (low, high)):
        return year(low) + (f" to {year(high)}" if high else "")
    if high is None and low in {"18650", "21700", "26650"}:
        return model_number(low)
    return span(low, high)


_YEAR = re.compile(r"1[89]\d\d|20\d\d")


_ARTICLE = re.compile(r"\b[Aa]n?\s$")


def _quantity(match: re.Match[str]) -> str:
    unit, _, per = match["unit"].partition("/") if match["unit"] not in UNITS else (match["unit"], "", "")
    # "a 9-V battery", "a 9 V battery": joined by a hyphen or after "a" it is an adjective, and singular.
    adjective = match["glue"] == "-" or _ARTICLE.search(
        match.string[max(0, match.start() - 4) : match.start()]
    )
    single = (match["q2"] is None and value(match["q1"]) == 1) or adjective
    name = UNITS[unit][0 if single else 1]
    if per:
        name = f"{name} {_a(UNITS[per][0])}"
    return f"{span(match['q1'], match['q2'])} {name}"


def _amount(figure: str, names: tuple[Name, Name], scale: str | None) -> str:
    """Money: "4.50" is four pounds fifty pence, as num2words says it without its comma."""
    main, part = names
    whole, _, cents = figure.replace(",", "").partition(".")
    if scale is not None:
        return f"{number(figure)} {_SHORT.get(scale, scale)} {main[1]}"
    if len(cents) != 2:
        return f"{number(figure)} {main[0 if value(figure) == 1 else 1]}"
    said = []
    if int(whole) or not int(cents):
        said.append(f"{number(whole)} {main[0 if int(whole) == 1 else 1]}")
    if int(cents):
        said.append(f"{cardinal(int(cents))} {part[0 if int(cents) == 1 else 1]}")
    return " ".join(said)


def _money(code: str, low: str, high: str | None, scale: str | None) -> str:
    if high is None:
        return _amount(low, MONEY[code], scale)
    first = number(low) if "." not in low else _amount(low, MONEY[code], None)
    return f"{first} to {_amount(high, MONEY[code], scale)}"


def _money_before(match: re.Match[str]) -> str:
    sign = match["currency"]
    return _money(SIGNS.get(sign, sign), match["b1"], match["b2"], match["scale"] or match["short"])


def _money_after(match: re.Match[str]) -> str:
    sign = match["after"]
    return _money(SIGNS.get(sign, sign), match["a1"], match["a2"], None)


def _clock(match: re.Match[str]) -> str:
    """0:38 on a player is thirty-eight seconds; 12:25 is said in pairs; 1:02:03 in full."""
    first, second, third = int(match["c1"]), int(match["c2"]), match["c3"]
    if third is not None:
        parts = ((first, "hour"), (second, "minute"), (int(third), "second"))
        said = [f"{cardinal(n)} {name}{'' if n == 1 else 's'}" for n, name in parts if n]
        return " ".join([*said[:-1], "and", said[-1]]) if len(said) > 1 else "".join(said) or "zero seconds"
    if first == 0:
        return f"{cardinal(second)} second{'' if second == 1 else 's'}"
    if second == 0:
        return f"{cardinal(first)} o'clock"
    return f"{cardinal(first)} {'oh ' if second < 10 else ''}{cardinal(second)}"


def _fraction(match: re.Match[str]) -> str:
    whole, top, bottom = match["whole"], int(match["top"]), int(match["bottom"])
    unit = match["of"]
    if whole is None and (top > bottom or min(top, bottom) >= 10):  # 24/7, 50/60 Hz
        return f"{cardinal(top)} {cardinal(bottom)}{f' {UNITS[unit][1]}' if unit else ''}"
    said = fraction(top, bottom, mixed=whole is not None)
    if whole is not None:
        return f"{number(whole)} and {said}{f' {UNITS[unit][1]}' if unit else ''}"
    return f"{said} of {_a(UNITS[unit][0])}" if unit else said


def _a(name: str) -> str:
    return f"{'an' if name[0] in 'aeiou' or name == 'hour' else 'a'} {name}"


def _vulgar(match: re.Match[str]) -> str:
    said = fraction(*_VULGAR[match["vulgar"]], mixed=match["before"] is not None)
    unit = match["vulgar_of"]
    if match["before"]:
        return f"{number(match['before'])} and {said}{f' {UNITS[unit][1]}' if unit else ''}"
    return f"{said} of {_a(UNITS[unit][0])}" if unit else said


def _screw(match: re.Match[str]) -> str:
    length = f" by {number(match['s2'])}" if match["s2"] else ""
    return f"M {number(match['s1'])}{length}"


def _dimension(match: re.Match[str]) -> str:
    sides = " by ".join(
        number(side) for side in re.findall(_NUMBER, match[0].removesuffix(match["each"] or ""))
    )
    return f"{sides} {UNITS[match['each']][1]}" if match["each"] else sides


def _date(match: re.Match[str]) -> str:
    return f"{_MONTHS[int(match['month']) - 1]} {ordinal(int(match['day']))} {year(match['year'])}"


def _abbreviation(match: re.Match[str]) -> str:
    short = match[0]
    said = _ABBREVIATIONS[short.lower()]
    rest = match.string[match.end() :]
    ends = short.lower() in {"etc.", "a.m.", "p.m."} and (not rest.strip() or re.match(r"\s+[A-Z]", rest))
    return f"{said}." if ends else said


def _address(match: re.Match[str]) -> str:
    return match[0].replace(".", " dot ").replace("/", " slash ").rstrip()


def _decade(match: re.Match[str]) -> str:
    figure = match["d"] or match["d2"]
    said = year(figure) if len(figure) == 4 else cardinal(int(figure))
    return f"{said[:-1]}ies" if said.endswith("y") else f"{said}s"


RULES: dict[str, tuple[str, Reading]] = {
    "abbreviation": (
        r"(?<!\w)(?i:" + "|".join(re.escape(short) for short in _ABBREVIATIONS) + r")(?!\w)",
        _abbreviation,
    ),
    "number_sign": (r"(?<!\w)(?:[Nn]os?\.\s?|#)(?=[0-9])", lambda match: "number "),
    "figure_sign": (r"(?<!\w)[Ff]igs?\.\s?(?=[0-9])", lambda match: "figure "),
    "address": (
        r"(?<![\w.])[a-z][\w-]*(?:\.[\w-]+)*\.(?:com|example|io|net|org|tv)\b(?:/[\w-]+)*",
        _address,
    ),
    "minus": (rf"(?<![\w.)\]])[-−](?=[{_SIGN}]?\.?[0-9])", lambda match: "minus "),
    "sign": (
        rf"\s?(?P<op>\+/-|\+-|±|<=|>=|[<>≤≥~≈=])\s?(?=[{_SIGN}.]?[0-9])|\s(?P<op2>[&+=])\s"
        rf"|(?<!\w)(?P<op3>\+)(?=[0-9])",
        lambda match: f" {_SIGNS[match['op'] or match['op2'] or match['op3']]} ",
    ),
    "date": (
        rf"{_START}(?P<year>[12]\d{{3}})-(?P<month>0[1-9]|1[0-2])-(?P<day>0[1-9]|[12]\d|3[01])(?!\w)",
        _date,
    ),
    "screw": (rf"(?<!\w)M(?P<s1>{_NUMBER})(?:\s?[x×]\s?(?P<s2>{_NUMBER}))?(?!\w)", _screw),
    "money_before": (
        rf"(?P<currency>[{_SIGN}]|\b(?:{_CODE})(?=\s?[0-9]))\s?(?P<b1>{_NUMBER})"
        rf"(?:{_DASH}[{_SIGN}]?(?P<b2>{_NUMBER}))?{_SCALE}",
        _money_before,
    ),
    "money_after": (
        rf"{_START}(?P<a1>{_NUMBER})(?:{_DASH}(?P<a2>{_NUMBER}))?\s?(?P<after>(?:{_CODE})\b|[€£])",
        _money_after,
    ),
    "pence": (
        rf"{_START}(?P<p>[0-9]{{1,2}})p(?!\w)",
        lambda match: f"{number(match['p'])} {'penny' if match['p'] == '1' else 'pence'}",
    ),
    "clock": (
        r"(?<![\w.:])(?P<c1>[0-9]{1,2}):(?P<c2>[0-5][0-9])(?::(?P<c3>[0-5][0-9]))?(?![\w:])",
        _clock,
    ),
    "ratio": (
        r"(?<![\w.:])(?P<r1>[0-9]{1,4}):(?P<r2>[0-9]{1,4})(?![\w:])",
        lambda match: f"{number(match['r1'])} to {number(match['r2'])}",
    ),
    "fraction": (
        r"(?<![\w./])(?:(?P<whole>[0-9]{1,6})\s)?(?P<top>[0-9]{1,4})/(?P<bottom>[0-9]{1,5})"
        rf"(?![\w/])(?:\s(?P<of>{_UNIT})(?![\w/]))?",
        _fraction,
    ),
    "vulgar": (
        rf"(?:(?P<before>[0-9]{{1,6}})\s?)?(?P<vulgar>[{''.join(_VULGAR)}])"
        rf"(?:\s?(?P<vulgar_of>{_UNIT})(?![\w/]))?",
        _vulgar,
    ),
    "ordinal": (
        rf"{_START}(?P<o>[0-9]{{1,9}})(?:st|nd|rd|th)(?!\w)",
        lambda match: ordinal(int(match["o"])),
    ),
    "decade": (rf"{_START}(?:['’](?P<d2>[1-9]0)|(?P<d>[12][0-9]{{2}}0))['’]?s(?!\w)", _decade),
    "version": (
        rf"{_START}[0-9]{{1,6}}(?:\.[0-9]{{1,6}}){{2,}}(?!\w)",
        lambda match: " point ".join(number(part) for part in match[0].split(".")),
    ),
    "dimension": (
        rf"{_START}{_NUMBER}(?:\s?[x×]\s?{_NUMBER})+(?:\s?(?P<each>{_UNIT}))?(?![\w/°])",
        _dimension,
    ),
    "count": (
        rf"{_START}(?P<of_them>{_NUMBER})\s[x×]\s(?=[^\W\d])",
        lambda match: f"{number(match['of_them'])} ",
    ),
    "quantity": (
        rf"{_START}(?P<q1>{_NUMBER}|\.[0-9]{{1,40}})(?:{_DASH}(?P<q2>{_NUMBER}))?(?P<glue>[\s-]?)(?P<unit>{_PER})(?![\w°]|/[^\W\d])",
        _quantity,
    ),
    "lines": (
        rf"{_START}(?P<lines>{'|'.join(_LINES)})(?P<scan>[pi])(?!\w)",
        lambda match: f"{_LINES[match['lines']]} {match['scan'].upper()}",
    ),
    "plain": (
        rf"{_START}(?P<n1>{_NUMBER})(?:[-–—](?P<n2>{_NUMBER}))?(?![\w-]|\.[0-9])",
        _plain,
    ),
    "point": (
        r"(?<![\w.])\.(?P<after_point>[0-9]{1,40})(?!\w)",
        lambda match: f"point {digits(match['after_point'])}",
    ),
    "word": (r"(?P<w>[^\W_]+(?:[-'’][^\W_]+)*)", lambda match: spell_word(match["w"])),
}


# The names of rows stand apart from the names of groups inside them.
_READINGS = {f"_{name}": reading for name, (_, reading) in RULES.items()}
_ANY = re.compile("|".join(f"(?P<_{name}>{looks})" for name, (looks, _) in RULES.items()))
