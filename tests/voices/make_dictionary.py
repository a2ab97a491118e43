"""Makes templates/speech/words.txt.gz from the pronouncing dictionary that the package pocketsphinx carries.

`python tests/voices/make_dictionary.py DICTIONARY TARGET`, with `pocketsphinx/model/en-us/cmudict-en-us.dict`
of the unpacked wheel (5.1.1 was used). Of each word's first pronunciation only the counts are kept: phones, and the
long ones among them. Possessives are left out where the word itself is there. The same input makes the same bytes.
"""

from __future__ import annotations

import gzip
import re
import sys
from pathlib import Path

GLIDES = frozenset("AW AY EY OW OY UW".split())  # noqa: SIM905  # reads better so
HISSES = frozenset("CH JH S SH TH".split())  # noqa: SIM905  # reads better so
LONG = GLIDES | HISSES


def words(text: str) -> dict[str, tuple[int, int]]:
    """Phones and long phones of each plain word of a CMU dictionary, alternatives left out.

    >>> words("lamp L AE M P\\nlamp's L AE M P S\\nday D EY\\nread R EH D\\nread(2) R IY D\\n'em AH M")
    {'lamp': (4, 0), 'day': (2, 1), 'read': (3, 0)}
    """
    found: dict[str, tuple[int, int]] = {}
    for line in text.splitlines():
        word, *phones = line.split()
        if re.fullmatch(r"[a-z]+('[a-z]+)*", word):
            found[word] = (len(phones), sum(phone in LONG for phone in phones))
    return {w: counts for w, counts in found.items() if not (w.endswith("'s") and w[:-2] in found)}


def table(found: dict[str, tuple[int, int]]) -> bytes:
    """One line a word, sorted: word, phones, long ones. Compressed without a time stamp."""
    lines = sorted(f"{word} {phones} {long}" for word, (phones, long) in found.items())
    return gzip.compress(("\n".join(lines) + "\n").encode("ascii"), 9, mtime=0)


if __name__ == "__main__":
    source, target = map(Path, sys.argv[1:])
    target.write_bytes(table(words(source.read_text(encoding="utf-8"))))
