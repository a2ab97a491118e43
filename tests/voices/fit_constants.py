"""Where the constants of `timing/speech.py` come from: run this again and compare.

`python tests/voices/fit_constants.py` has twelve machine voices say `fitting_beats.txt`, adds every second human
prompt (those that no test measures on), and fits what a weighty word, a stop and a comma take, in sounds, and what
a letter of an unknown word is worth. Figures are written out before the voices read them, since the engines do
not read "10 A" as a narrator does, and a narrator is what is wanted. The results are rounded by hand.

One factor a voice, shared constants: the voice's factor is the median of its beats' own, the constants are least
squares on relative errors with Huber's weights, in turn until both stand still. No beat of `beats`, `later_beats` or
`blind_beats` is read. Needs numpy, the three families of voices and the prompts.
"""

from __future__ import annotations

import sys
import tempfile
from collections.abc import Sequence
from concurrent.futures import ThreadPoolExecutor
from math import sqrt
from pathlib import Path

import numpy as np

sys.path.insert(0, str(Path(__file__).resolve().parents[2]))

from episodekit.outside.dictionary import load_dictionary
from episodekit.timing.figures import as_spoken
from episodekit.timing.words import content, sounds
from tests.voices import heard
from tests.voices.say import VOICES

HUBER = 0.08
"""Relative errors beyond it count less: a word misread, a prompt acted out."""
NAMES = ("a sound", "a weighty word", "a stop", "a comma")


def counted(rows: Sequence[heard.Row]) -> tuple[np.ndarray, np.ndarray]:
    """What is in each text, and the seconds it took."""
    dictionary = load_dictionary()
    said = [content((text,), dictionary) for text, _ in rows]
    counts = [[float(one.sounds), one.weighty, one.stops, one.commas] for one in said]
    return np.array(counts, float), np.array([seconds for _, seconds in rows])


def fit(narrators: Sequence[tuple[np.ndarray, np.ndarray]], weights: Sequence[float]) -> np.ndarray:
    """Constants in sounds."""
    shared = np.array([1.0, 1.0, 6.0, 5.0])
    for _ in range(100):
        rows, ones = [], []
        for (counts, took), weight in zip(narrators, weights, strict=True):
            k = np.median(took / (counts @ shared))
            off = np.abs(k * (counts @ shared) / took - 1)
            root = weight * np.sqrt(np.minimum(1, HUBER / np.maximum(off, 1e-9)))
            rows.append(root[:, None] * k * counts / took[:, None])
            ones.append(root)
        found = np.linalg.lstsq(np.vstack(rows), np.concatenate(ones), rcond=None)[0]
        shared = found / found[0]
    return shared


def a_letter(lines: Sequence[str]) -> float:
    """Sounds a letter, over the words of five letters and more: the unknown ones are long."""
    dictionary = load_dictionary()
    words = {word for line in lines for word in as_spoken(line).lower().split() if word in dictionary}
    longer = [word for word in words if len(word) >= 5]
    return float(sum(sounds(word, dictionary) for word in longer)) / sum(map(len, longer))


def main() -> None:
    lines = [as_spoken(line) for line in heard.beats("fitting_beats")]
    with tempfile.TemporaryDirectory() as folder, ThreadPoolExecutor(2) as pool:
        rows = list(
            pool.map(lambda voice: heard.said_by(voice, lines, Path(folder) / "-".join(voice)), VOICES)
        )
    machines = [counted(one) for one in rows]
    human = counted(heard.human()[::2])
    for name, narrators, weights in (
        # The human's few prompts count as much as a family of four machine voices.
        ("all", [*machines, human], [1.0] * len(machines) + [sqrt(4 * len(lines) / len(human[0]))]),
        ("machines", machines, [1.0] * len(machines)),
    ):
        print(
            f"{name:10}",
            *(f"{label} {value:.2f}" for label, value in zip(NAMES, fit(narrators, weights), strict=True)),
            sep="  ",
        )
    for family in ("pico", "formant", "units"):
        own = [one for one, voice in zip(machines, VOICES, strict=True) if voice[0] == family]
        print(f"{family:10}", *(f"{value:.2f}" for value in fit(own, [1.0] * len(own))), sep="  ")
    print(f"a letter of a long word {a_letter(lines):.3f} sounds")


if __name__ == "__main__":
    main()
