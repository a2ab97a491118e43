"""Whether words say a phrase, as a listener would hear it: capitals, quotes, dashes and line breaks do not count."""

from __future__ import annotations

import re
from collections.abc import Sequence

from episodekit.job.model import Beat

_SAME = str.maketrans({"‘": "'", "’": "'", "“": '"', "”": '"', "–": "-", "—": "-", "‑": "-", "\u00a0": " "})


def heard(text: str) -> str:
    """Text as it is compared.

    >>> heard("Printed in  two days — today.")
    'printed in two days - today'
    """
    return " ".join(text.translate(_SAME).casefold().split()).rstrip(".")


def says(text: str, phrase: str) -> bool:
    """Whether the text contains the phrase, or one of its alternatives `this | or that`, as whole words.

    >>> says("Use code POCKET today.", "code pocket | code case"), says("Pocketful", "pocket")
    (True, False)
    """
    words = heard(text)
    wanted = (heard(one) for one in phrase.split("|"))
    return any(re.search(rf"(?<!\w){re.escape(one)}(?!\w)", words) for one in wanted if one)


def says_code(text: str, code: str) -> bool:
    """Whether the text says the code, in one word or spelled.

    >>> says_code("That is B-E-N-C-H, bench", "BENCH"), says_code("on the workbench", "BENCH")
    (True, False)
    """
    spelled = r"[\s.,-]*".join(map(re.escape, heard(code).replace(" ", "")))
    return bool(spelled and re.search(rf"(?<!\w){spelled}(?!\w)", heard(text)))


def beat_saying_code(beats: Sequence[Beat], code: str) -> int | None:
    """The index of the first beat that says the code; None if none does."""
    return next((index for index, beat in enumerate(beats) if says_code(beat.text, code)), None)
