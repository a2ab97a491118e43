"""The pronouncing dictionary's door: a table of words that comes with the program.

A lookup table of the CMU pronouncing dictionary (BSD licence, beside the table); how it is made stands in
`tests/voices/make_dictionary.py`.
"""

from __future__ import annotations

import gzip
from bisect import bisect_left
from collections.abc import Iterator, Mapping
from functools import lru_cache

from episodekit.outside.resources import templates_dir
from episodekit.timing.words import Sound


class SortedLines(Mapping[str, Sound]):
    """Words looked up in the sorted lines of the table, since making 118,000 values would take longer.

    >>> SortedLines(["lamp 4 0", "lathe 3 1"])["lathe"]
    Sound(phones=3, long=1)
    """

    def __init__(self, lines: list[str]) -> None:
        self._lines = lines
        self._met: dict[str, Sound] = {}  # a plan says the same words again and again

    def __getitem__(self, word: str) -> Sound:
        met = self._met.get(word)
        if met is not None:
            return met
        key = f"{word} "
        at = bisect_left(self._lines, key)
        if at == len(self._lines) or not self._lines[at].startswith(key):
            raise KeyError(word)
        phones, long = self._lines[at][len(key) :].split()
        sound = self._met[word] = Sound(int(phones), int(long))
        return sound

    def __iter__(self) -> Iterator[str]:
        return (line.partition(" ")[0] for line in self._lines)

    def __len__(self) -> int:
        return len(self._lines)


@lru_cache(maxsize=1)
def load_dictionary() -> Mapping[str, Sound]:
    """Some 118,000 English words in lower case; read once a run. Raises FileNotFoundError if it is not there."""
    packed = (templates_dir() / "speech" / "words.txt.gz").read_bytes()
    return SortedLines(gzip.decompress(packed).decode("ascii").splitlines())
