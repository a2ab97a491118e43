"""How much there is to say in a text: phones, words and pauses, counted after figures are written out."""

from __future__ import annotations

import re
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from fractions import Fraction
from typing import NamedTuple

from episodekit.timing.figures import as_spoken


class Sound(NamedTuple):
    """How a word sounds: its number of phones (speech sounds) and syllables."""

    phones: int
    syllables: int


Dictionary = Mapping[str, Sound]
"""Words in lower case. Empty is fine: lengths then rest on letters, and are a little less sure."""

PHONES_A_LETTER = Fraction(82, 100)
"""A word that the dictionary lacks counts so many phones a letter: 0.0525 s a letter (see `speech`)."""

# Words that carry grammar and are said lightly: articles, pronouns, prepositions, auxiliaries, conjunctions.
_LIGHT = """
    a am an and are as at be because been but by can could did do does don't for from had has have he her his i i'm
    i've if in into is it it's its may me might must my no not of off on onto or our out shall she should so than that
    that's the their them then there these they this those to up us was we were what when which while who will with
    would you you've your him
"""
LIGHT = frozenset(_LIGHT.split())

_WORDS = re.compile(r"[^\W_]+(?:['’][^\W_]+)*")
_STOPS = re.compile(r"[.!?…]+(?=[\s\"'”’)]|$)")
_COMMAS = re.compile(r"[,;:](?=\s)|\s[–—-]+\s|—")
# Endings that leave the sounds before them alone, with the phones they add.
_ENDINGS = (
    ("'s", 1),
    ("s", 1),
    ("ed", 1),
    ("d", 1),
    ("ing", 2),
    ("ly", 2),
    ("er", 1),
    ("less", 3),
    ("ness", 3),
)


@dataclass(frozen=True)
class Content:
    """What a narrator has to say. Stops and commas are the pauses inside; `breaks` those between paragraphs.

    `weighty` are the words that are not said lightly, all but the, of, is and their like.
    """

    phones: Fraction = Fraction(0)
    words: int = 0
    weighty: int = 0
    stops: int = 0
    commas: int = 0
    breaks: int = 0


def word_count(text: str) -> int:
    """Words as they are spoken, figures written out.

    >>> word_count("It moves 41 Mbit/s.")
    7
    """
    return len(_WORDS.findall(as_spoken(text)))


def content(paragraphs: Sequence[str], dictionary: Dictionary) -> Content:
    """Count what is said. The stop at the end of a paragraph is its break, and after the last one nothing.

    >>> content(["One, two. Three."], {})
    Content(phones=Fraction(451, 50), words=3, weighty=3, stops=1, commas=1, breaks=0)
    """
    total = Content()
    for paragraph in paragraphs:
        spoken = as_spoken(paragraph).strip()
        words = _WORDS.findall(spoken)
        if not words:
            continue
        ends = [match.end() for match in _STOPS.finditer(spoken)]
        last = bool(ends) and not _WORDS.search(spoken, ends[-1])
        total = Content(
            total.phones + sum((phones(word, dictionary) for word in words), Fraction(0)),
            total.words + len(words),
            total.weighty + sum(word.lower().replace("’", "'") not in LIGHT for word in words),
            total.stops + len(ends) - last,
            total.commas + len(_COMMAS.findall(spoken)),
            total.breaks + (total.words > 0),
        )
    return total


def phones(word: str, dictionary: Dictionary) -> Fraction:
    """Speech sounds of one word, by the dictionary, by it and a common ending, or by its letters.

    >>> phones("Lamps", {"lamp": Sound(4, 1)}), phones("xyz", {})
    (Fraction(5, 1), Fraction(123, 50))
    """
    word = word.lower().replace("’", "'")
    known = dictionary.get(word)
    if known is not None:
        return Fraction(known.phones)
    for ending, more in _ENDINGS:
        stem = dictionary.get(word.removesuffix(ending)) if word.endswith(ending) else None
        if stem is not None:
            return Fraction(stem.phones + more)
    return PHONES_A_LETTER * len(word)
