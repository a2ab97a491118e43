"""How much there is to say in a text: sounds, words and pauses, counted after figures are written out."""

from __future__ import annotations

import re
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from fractions import Fraction
from typing import NamedTuple

from episodekit.timing.figures import as_spoken


class Sound(NamedTuple):
    """How a word sounds: its number of phones (speech sounds), and how many of them are long.

    Long are gliding vowels (day, my, go, now, boy, too) and hisses (s, sh, ch, j, th).
    """

    phones: int
    long: int


Dictionary = Mapping[str, Sound]
"""Words in lower case. Empty is fine: lengths then rest on letters, and are a little less sure."""

# Sounds are counted in hundredths of a short one.
_SHORT = 100
_LONG = 100
"""What a long sound takes more: it counts as two."""
_LETTER = 95
"""A letter of a word that the dictionary lacks."""

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
_COMMAS = re.compile(r"[,;:](?=\s)|\s[–—-]+\s|—|(?<=\s)[(\[]")
# Endings that leave the sounds before them alone, with the sounds they add in hundredths.
_ENDINGS = (
    ("'s", 100),
    ("s", 100),
    ("ed", 100),
    ("d", 100),
    ("ing", 200),
    ("ly", 200),
    ("er", 100),
    ("less", 400),
    ("ness", 400),
)


@dataclass(frozen=True)
class Content:
    """What a narrator has to say. Stops and commas are the pauses inside; `breaks` those between paragraphs.

    `sounds` are counted in short ones. `weighty` are the words that are not said lightly, all but the, of, is and
    their like. An opening bracket is a comma.
    """

    sounds: Fraction = Fraction(0)
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
    Content(sounds=Fraction(209, 20), words=3, weighty=3, stops=1, commas=1, breaks=0)
    """
    hundredths, count, weighty, stops, commas, spoken_paragraphs = 0, 0, 0, 0, 0, 0
    for paragraph in paragraphs:
        spoken = as_spoken(paragraph).strip()
        words = [word.lower().replace("’", "'") for word in _WORDS.findall(spoken)]
        if not words:
            continue
        ends = [match.end() for match in _STOPS.finditer(spoken)]
        last = bool(ends) and not _WORDS.search(spoken, ends[-1])
        hundredths += sum(_sounds(word, dictionary) for word in words)
        count += len(words)
        weighty += sum(word not in LIGHT for word in words)
        stops += len(ends) - last
        commas += len(_COMMAS.findall(spoken))
        spoken_paragraphs += 1
    return Content(Fraction(hundredths, _SHORT), count, weighty, stops, commas, max(0, spoken_paragraphs - 1))


def sounds(word: str, dictionary: Dictionary) -> Fraction:
    """Sounds of one word in short ones, by the dictionary, by it and a common ending, or by its letters.

    >>> sounds("Lamps", {"lamp": Sound(4, 0)}), sounds("day", {"day": Sound(2, 1)}), sounds("xyz", {})
    (Fraction(5, 1), Fraction(3, 1), Fraction(57, 20))
    """
    return Fraction(_sounds(word.lower().replace("’", "'"), dictionary), _SHORT)


def _sounds(word: str, dictionary: Dictionary) -> int:
    """In hundredths; the word in lower case, its apostrophe a straight one."""
    known = dictionary.get(word)
    if known is not None:
        return _SHORT * known.phones + _LONG * known.long
    for ending, more in _ENDINGS:
        stem = dictionary.get(word.removesuffix(ending)) if word.endswith(ending) else None
        if stem is not None:
            return _SHORT * stem.phones + _LONG * stem.long + more
    return _LETTER * len(word)
