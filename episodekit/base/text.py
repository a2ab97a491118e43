"""Small helpers for text that several rooms need."""

from __future__ import annotations

import re
import unicodedata


def slug(text: str, longest: int = 40) -> str:
    """An id from a title: small letters, digits and hyphens; "" if nothing is left.

    >>> slug("Pry out the old battery!"), slug("Café №5")
    ('pry-out-the-old-battery', 'cafe-no5')
    """
    ascii_text = unicodedata.normalize("NFKD", text).encode("ascii", "ignore").decode("ascii")
    name = re.sub(r"[^a-z0-9]+", "-", ascii_text.lower()).strip("-")
    if len(name) > longest:
        name = name[: longest + 1].rpartition("-")[0] or name[:longest]
    return name


def one_line(text: str) -> str:
    r"""A text on one line: white space becomes a space, control characters and non-characters are dropped.

    Those break players' lists and are not allowed in XML 1.0 (W3C, section 2.2).

    >>> one_line("Pack:\x07 out\n and in ")
    'Pack: out and in'
    """
    kept = (sign for sign in " ".join(text.split()) if not _unprintable(sign))
    return " ".join("".join(kept).split())


def _unprintable(sign: str) -> bool:
    return unicodedata.category(sign) in {"Cc", "Cs"} or ord(sign) & 0xFFFE == 0xFFFE


def closed(text: str) -> str:
    r"""A text that closes each isolate that it opens, and none that it does not: the words around it keep their order.

    Isolates run from U+2066, U+2067 or U+2068 to U+2069 (Unicode Standard Annex 9).

    >>> closed("FFC \u2066 12"), closed("FFC \u2069 12"), closed("\u20673.7 V\u2069")
    ('FFC \u2066 12\u2069', 'FFC  12', '\u20673.7 V\u2069')
    """
    if not _ISOLATES.search(text):
        return text
    kept, opened = [], 0
    for sign in text:
        if sign == _CLOSES and not opened:
            continue
        opened += (sign in _OPEN) - (sign == _CLOSES)
        kept.append(sign)
    return "".join(kept) + _CLOSES * opened


_OPEN, _CLOSES = "\u2066\u2067\u2068", "\u2069"
_ISOLATES = re.compile(f"[{_OPEN}{_CLOSES}]")


def counted(number: int, one: str, many: str | None = None) -> str:
    """A number with its noun.

    >>> counted(1, "shot"), counted(3, "shot")
    ('1 shot', '3 shots')
    """
    return f"{number} {one if number == 1 else many or one + 's'}"


def no_formula(cell: str) -> str:
    """A cell that a spreadsheet will not run as a formula.

    >>> no_formula("=1+1")
    "'=1+1"
    """
    return f"'{cell}" if cell[:1] in {"=", "+", "-", "@", "\t", "\r"} else cell
