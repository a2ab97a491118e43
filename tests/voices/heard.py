"""Beats as voices say them: machine voices read the written beats, a human narrator reads telephone prompts.

A row is (text, seconds from the first to the last sound), measured by the program's own trimming.
"""

from __future__ import annotations

import gzip
import re
import shutil
import subprocess
import sys
from importlib.util import find_spec
from pathlib import Path

from episodekit.outside.media.probing.audio import frames_to_ms, loudness
from episodekit.timing.trim import speech_span
from episodekit.timing.words import word_count

HERE = Path(__file__).resolve().parent
Row = tuple[str, float]

PROMPTS = Path("/usr/share/asterisk/sounds/en_US_f_Allison")
TRANSCRIPTS = Path("/usr/share/doc/asterisk-core-sounds-en/core-sounds-en.txt.gz")
NEEDS = {
    "pico": "the package py-nanotts",
    "formant": "the package espeakng-loader",
    "units": "the program flite",
}


def beats(name: str = "beats") -> list[str]:
    """Invented repairs, one beat a line; those of 10 to 60 words."""
    return [written for written, _ in _pairs(name)]


def read_aloud(name: str = "beats") -> list[str]:
    """The same beats with figures, units and part numbers in the words a narrator says.

    The words for `blind_beats` were written by hand with the beats; the others' are the program's own, gone through
    by hand and changed where a narrator would say something else.
    """
    return [read for _, read in _pairs(name)]


def _pairs(name: str) -> list[tuple[str, str]]:
    written = (HERE / f"{name}.txt").read_text(encoding="utf-8").splitlines()
    aloud = HERE / f"{name}_read.txt"
    read = aloud.read_text(encoding="utf-8").splitlines() if aloud.is_file() else written
    return [pair for pair in zip(written, read, strict=True) if 10 <= len(pair[0].split()) <= 60]


def is_here(family: str) -> bool:
    """Whether a family's engine is installed."""
    if family == "units":
        return shutil.which("flite") is not None
    return find_spec({"pico": "py_nanotts", "formant": "espeakng_loader"}[family]) is not None


def seconds(path: Path) -> float:
    """The spoken length of a recording."""
    span = speech_span(loudness(path))
    assert span is not None, path
    return frames_to_ms(span[1] - span[0]) / 1000


def said_by(voice: tuple[str, str, str], lines: list[str], folder: Path) -> list[Row]:
    """What a machine voice makes of the lines; the engine runs in a process of its own."""
    folder.mkdir(parents=True)
    command = [sys.executable, str(HERE / "say.py"), *voice, str(folder)]
    subprocess.run(command, input="\n".join(lines), text=True, encoding="utf-8", check=True, timeout=300)
    return [(line, seconds(folder / f"{index:04}.wav")) for index, line in enumerate(lines)]


def human() -> list[Row]:
    """Prompts of 10 to 60 words that are written as sentences, in the order of the transcripts.

    Debian's asterisk-core-sounds-en-wav, one narrator, CC-BY-SA. Left out: fragments, transcripts without
    punctuation, with signs that are read in a way of their own (* and #), an address, or a stage direction.
    """
    rows = []
    for line in gzip.decompress(TRANSCRIPTS.read_bytes()).decode("utf-8", "replace").splitlines():
        name, _, text = line.partition(":")
        text = text.strip()
        path = PROMPTS / f"{name.strip()}.wav"
        sentence = text[:1].isupper() and text[-1:] in {".", "!", "?"}
        odd = re.search(r"[*#()]|\.\.\.|www", text)
        if sentence and not odd and 10 <= word_count(text) <= 60 and path.is_file():
            rows.append((text, seconds(path)))
    return rows


def human_is_here() -> bool:
    """Whether the prompts and their transcripts are installed."""
    return PROMPTS.is_dir() and TRANSCRIPTS.is_file()
