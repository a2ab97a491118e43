"""Machine voices that read lines to sound files, each family in a process of its own.

`python tests/voices/say.py FAMILY VOICE SPEED FOLDER < lines` writes 0000.wav, 0001.wav, ... They are test
data only: the program never speaks. Families: `pico` (py-nanotts), `formant` (espeakng-loader) and `units`
(the system's flite, where it is installed).
"""

from __future__ import annotations

import ctypes
import subprocess
import sys
import wave
from pathlib import Path

# Family, voice, speed in the family's own terms.
VOICES = (
    ("pico", "en-US", "1.0"),
    ("pico", "en-US", "0.85"),
    ("pico", "en-GB", "1.0"),
    ("pico", "en-GB", "1.2"),
    ("formant", "en-us", "150"),
    ("formant", "en-us", "185"),
    ("formant", "en", "165"),
    ("formant", "en-gb-scotland", "140"),
    ("units", "slt", "1.0"),
    ("units", "rms", "1.1"),
    ("units", "awb", "0.9"),
    ("units", "kal16", "1.0"),
)


def write_wav(path: Path, pcm: bytes, rate: int) -> None:
    """Mono, 16 bits."""
    with wave.open(str(path), "wb") as file:
        file.setnchannels(1)
        file.setsampwidth(2)
        file.setframerate(rate)
        file.writeframes(pcm)


def pico(lines: list[str], voice: str, speed: str, folder: Path) -> None:
    import py_nanotts

    engine = py_nanotts.NanoTTS()
    for index, line in enumerate(lines):
        write_wav(folder / f"{index:04}.wav", engine.speak(line, voice=voice, speed=float(speed)), 16_000)


def formant(lines: list[str], voice: str, speed: str, folder: Path) -> None:
    import espeakng_loader

    engine = ctypes.CDLL(espeakng_loader.get_library_path())
    got = bytearray()

    @ctypes.CFUNCTYPE(ctypes.c_int, ctypes.POINTER(ctypes.c_short), ctypes.c_int, ctypes.c_void_p)
    def take(samples: object, count: int, events: object) -> int:
        if count > 0:
            got.extend(ctypes.string_at(samples, count * 2))  # type: ignore[arg-type]  # a ctypes pointer
        return 0

    retrieval, rate_parameter, utf8 = 1, 1, 1
    rate = engine.espeak_Initialize(retrieval, 0, espeakng_loader.get_data_path().encode(), 0)
    engine.espeak_SetSynthCallback(take)
    assert engine.espeak_SetVoiceByName(voice.encode()) == 0, voice
    engine.espeak_SetParameter(rate_parameter, int(speed), 0)
    for index, line in enumerate(lines):
        got.clear()
        text = line.encode() + b"\0"
        engine.espeak_Synth(text, len(text), 0, 0, 0, utf8, None, None)
        engine.espeak_Synchronize()
        write_wav(folder / f"{index:04}.wav", bytes(got), rate)


def units(lines: list[str], voice: str, speed: str, folder: Path) -> None:
    stretch = str(1 / float(speed))
    for index, line in enumerate(lines):
        target = str(folder / f"{index:04}.wav")
        command = [
            "flite",
            "-voice",
            voice,
            "--setf",
            f"duration_stretch={stretch}",
            "-t",
            line,
            "-o",
            target,
        ]
        subprocess.run(command, check=True)


FAMILIES = {"pico": pico, "formant": formant, "units": units}

if __name__ == "__main__":
    _, family, voice, speed, folder = sys.argv
    FAMILIES[family](sys.stdin.read().splitlines(), voice, speed, Path(folder))
