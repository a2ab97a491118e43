"""Job folders with made footage, shared by all tests of the media door."""

from __future__ import annotations

import hashlib
from collections.abc import Iterator
from fractions import Fraction
from pathlib import Path

import pytest

from tests.media import kit

RATES = {
    "23976": Fraction(24000, 1001),
    "25": Fraction(25),
    "2997": Fraction(30000, 1001),
    "30": Fraction(30),
    "50": Fraction(50),
    "5994": Fraction(60000, 1001),
}
SECONDS = 8
PHONE_STEPS = (33, 33, 34, 33, 67, 33, 50, 33, 34, 100)
"""Milliseconds between frames of a phone in low light; own choice, within what real phone clips show."""


def phone_stamps(count: int) -> list[Fraction]:
    """Time stamps of a variable-rate recording."""
    stamps, now = [], 0
    for index in range(count):
        stamps.append(Fraction(now, 1000))
        now += PHONE_STEPS[index % len(PHONE_STEPS)]
    return stamps


@pytest.fixture(scope="session")
def coded_job(tmp_path_factory: pytest.TempPathFactory) -> Iterator[Path]:
    """A job folder whose footage carries frame numbers; its files are the same bytes afterwards."""
    root = tmp_path_factory.mktemp("coded")
    footage = root / "footage"
    footage.mkdir()
    for name, rate in RATES.items():
        kit.coded_clip(footage / f"r{name}.mp4", rate, int(rate * SECONDS))
    kit.coded_clip(footage / "df.mov", RATES["2997"], 300, timecode="00:59:58;10")
    kit.coded_clip(footage / "phone.mp4", Fraction(30), 160, stamps=phone_stamps(160))
    kit.remux(footage / "r25.mp4", footage / "late.ts", before=["-itsoffset", "10"])
    kit.remux(footage / "r2997.mp4", footage / "milliseconds.mkv")
    for degrees in (90, 180, 270):
        turned = ["-display_rotation", str(degrees)]
        kit.remux(footage / "r30.mp4", footage / f"turned{degrees}.mp4", before=turned)
    before = kit.hashes(footage)
    yield root
    assert kit.hashes(footage) == before, "raw footage was changed"


@pytest.fixture(scope="session")
def beeping_job(tmp_path_factory: pytest.TempPathFactory) -> Iterator[Path]:
    """A job folder with a flash and a beep every second, from clips at two rates."""
    root = tmp_path_factory.mktemp("beeping")
    footage = root / "footage"
    footage.mkdir()
    for name, rate in (("a", Fraction(25)), ("b", Fraction(30000, 1001))):
        path = footage / f"{name}.mp4"
        kit.flash_and_beep(path, rate, 120, every=Fraction(2), length=Fraction(1, 5))
    before = {path.name: hashlib.sha256(path.read_bytes()).hexdigest() for path in footage.iterdir()}
    yield root
    after = {path.name: hashlib.sha256(path.read_bytes()).hexdigest() for path in footage.iterdir()}
    assert after == before, "raw footage was changed"
