"""Abbreviations and part numbers as a narrator reads them: "USB-C" is "U S B C", "ML-180" "M L one eighty".

Common practice, no source: short capitals are spelled, model numbers are said in pairs. What looks like a
word stays a word, so that a code such as POCKET is not spelled out.
"""

from __future__ import annotations

import re

from episodekit.timing.number_words import cardinal, digits

# Capitals that are said as a word: acronyms, and short words somebody stresses.
_WORDLIKE = """
    A AM AN AND ALL ANY ARE AT BAD BE BIG BUT BY CAN DID DIP DO FAT FOR GET GIF GO GOT HAD HAS HE HER HIM HIS HOT HOW
    I IF IN IS IT ITS LAN LOW MAY ME MY NEW NO NOR NOT NOW OFF OLD ON ONE OR OUR OUT PIN PUT RAM RED ROM SAY SEE SHE
    SIM SO SUN THE TO TOO TOP TRY TWO UP US USE WAS WAY WE WHY YES YET YOU
"""
_SAID_AS_WORD = frozenset(_WORDLIKE.split())
# Four letters and more that are spelled although they hold a vowel.
_SPELLED = frozenset({"GPIO", "HDMI", "ICSP", "ISBN", "MIPI", "NVME", "PCIE", "SDIO"})
# Bench sayings that pairs would get wrong.
_SAYINGS = {
    "18650": "eighteen six fifty",
    "21700": "twenty-one seven hundred",
    "26650": "twenty-six six fifty",
    "14500": "fourteen five hundred",
    "WIFI": "wi-fi",
    "WI-FI": "wi-fi",
    "OLED": "O led",
    "MIDI": "midi",
    "UART": "U art",
    "JTAG": "J tag",
    "JPEG": "J peg",
    "MOSFET": "moss fet",
    "CMOS": "sea moss",
    "EEPROM": "E E prom",
    "EPROM": "E prom",
    "BIOS": "bye os",
    "SATA": "satta",
}
_RUNS = re.compile(r"\d+|[^\W\d_]+")
_VOWEL = re.compile(r"[aeiouy]", re.I)


def model_number(figure: str) -> str:
    """The digits of a part number: pairs, tens and hundreds where they are round, else one by one.

    >>> model_number("180"), model_number("547"), model_number("2032"), model_number("4700")
    ('one eighty', 'five four seven', 'twenty thirty-two', 'forty-seven hundred')
    """
    if figure in _SAYINGS:
        return _SAYINGS[figure]
    if figure[0] == "0" or len(figure) > 4:
        return digits(figure)
    number = int(figure)
    high, low = divmod(number, 100)
    if len(figure) < 3 or number % 1000 == 0:
        return cardinal(number)
    if low == 0:
        return f"{cardinal(high)} hundred"
    if len(figure) == 4:
        return f"{cardinal(high)} {'oh ' if low < 10 else ''}{cardinal(low)}"
    return f"{cardinal(high)} {cardinal(low)}" if low % 10 == 0 else digits(figure)


def spell_word(token: str) -> str:
    """A word, abbreviation or part number as it is said; ordinary words come back as they stand.

    >>> spell_word("LEDs"), spell_word("BC547"), spell_word("2S2P"), spell_word("5-way"), spell_word("POCKET")
    ('L E Ds', 'B C five four seven', 'two S two P', 'five-way', 'POCKET')
    """
    if token in _SAYINGS or token.upper() in {"WIFI", "WI-FI"}:
        return _SAYINGS[token.upper()]
    parts = token.split("-")
    said = [_part(part, len(parts) > 1) for part in parts]
    if said == parts:
        return token
    ordinary = all(part.isdigit() or (part.islower() and said[i] == part) for i, part in enumerate(parts))
    if ordinary:  # "5-way" is counted, not numbered
        return "-".join(cardinal(int(part)) if _counts(part) else said[i] for i, part in enumerate(parts))
    return " ".join(word for word in said if word)


def _part(part: str, hyphened: bool) -> str:
    if part in _SAYINGS:
        return _SAYINGS[part]
    stem, tail = re.fullmatch(r"(.*?)((?:['’]?s)?)", part, re.S).groups()  # type: ignore[union-attr]  # it always matches
    if stem.isupper() and stem.isalpha() and (len(stem) > 1 or hyphened):
        return " ".join(stem) + tail if _is_spelled(stem) else part
    if any(c.isdigit() for c in part) and (any(c.isalpha() for c in part) or hyphened):
        return " ".join(_run(run) for run in _RUNS.findall(part))
    return part


def _is_spelled(capitals: str) -> bool:
    if capitals in _SAID_AS_WORD:
        return False
    return len(capitals) <= 3 or capitals in _SPELLED or not _VOWEL.search(capitals)


def _run(run: str) -> str:
    if run.isdigit():
        return model_number(run) if _counts(run) else run
    if run.isupper() or len(run) < 3 or not _VOWEL.search(run):
        return " ".join(run.upper())
    return run


def _counts(part: str) -> bool:
    """Digits that Python and num2words both read; other scripts' digits are left alone."""
    return part.isascii() and part.isdigit() and len(part) <= 60
