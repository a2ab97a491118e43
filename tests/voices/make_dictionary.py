"""Makes templates/speech/words.txt.gz from the pronouncing dictionary that the package pocketsphinx carries.

`python tests/voices/make_dictionary.py DICTIONARY TARGET`, with `pocketsphinx/model/en-us/cmudict-en-us.dict`
of the unpacked wheel (5.1.1 was used). Of each word's first pronunciation only the counts are kept: phones and
syllables. Possessives are left out where the word itself is there. The same input makes the same bytes.
"""

from __future__ import annotations

import gzip
import re
import sys
from pathlib import Path

VOWELS = frozenset("AA AE AH AO AW AY EH ER EY IH IY OW OY UH UW".split())  # noqa: SIM905  # reads better so


def words(text: str) -> dict[str, tuple[int, int]]:
    """Phones and syllables of each plain word of a CMU dictionary, alternatives left out.

    >>> words("lamp L AE M P\\nlamp's L AE M P S\\nread R EH D\\nread(2) R IY D\\n'em AH M")
    {'lamp': (4, 1), 'read': (3, 1)}
    """
    found: dict[str, tuple[int, int]] = {}
    for line in text.splitlines():
        word, *phones = line.split()
        if re.fullmatch(r"[a-z]+('[a-z]+)*", word):
            found[word] = (len(phones), sum(phone in VOWELS for phone in phones))
    return {w: counts for w, counts in found.items() if not (w.endswith("'s") and w[:-2] in found)}


def table(found: dict[str, tuple[int, int]]) -> bytes:
    """One line a word, sorted: word, phones, syllables. Compressed without a time stamp."""
    lines = sorted(f"{word} {phones} {syllables}" for word, (phones, syllables) in found.items())
    return gzip.compress(("\n".join(lines) + "\n").encode("ascii"), 9, mtime=0)


if __name__ == "__main__":
    source, target = map(Path, sys.argv[1:])
    target.write_bytes(table(words(source.read_text(encoding="utf-8"))))
