"""out/sync.json: where each clip lies on the log's clock, and what tells it.

Times are exact fractions written as text ("1764061200007/1000"), since a number in JSON would round them. A clip is
known by its identity too, so that one that was exchanged is not put where another lay.
"""

from __future__ import annotations

import re
from collections.abc import Sequence
from fractions import Fraction
from typing import Annotated, Literal

from pydantic import BaseModel, ConfigDict, Field, ValidationError

from episodekit.sync.line import IMPOSSIBLE
from episodekit.sync.model import Residual, Rung, Synced

_YEARS = range(-62_135_596_800, 253_402_300_800)
"""Seconds since 1970 UTC of the years 1 to 9999."""

Exact = Annotated[str, Field(pattern=r"^-?\d{1,40}(/[1-9]\d{0,40})?$")]


class _Doc(BaseModel):
    model_config = ConfigDict(frozen=True, extra="forbid")


class ClueDoc(_Doc):
    """A clue in the clip, and how far it lies from where the clip was put."""

    rung: Rung
    at: Exact
    wall: Exact
    within: Exact
    other: str
    text: str
    off: Exact


class ClipDoc(_Doc):
    """A clip; `start` is null if it was not placed."""

    path: str
    identity: str
    camera: str | None
    start: Exact | None
    pace: Exact
    within: Exact | None
    rung: Rung | None
    why: str
    clues: tuple[ClueDoc, ...]


class SyncDoc(_Doc):
    """The whole file."""

    version: Literal[1] = 1
    clips: tuple[ClipDoc, ...]


def sync_json(clips: Sequence[Synced]) -> str:
    """The file's text; the same clips give the same bytes."""
    return SyncDoc(clips=tuple(_clip(one) for one in clips)).model_dump_json(indent=1) + "\n"


def read_sync_json(text: bytes) -> tuple[ClipDoc, ...]:
    """The clips of a file. Raises ValueError if it is none, or of another version."""
    try:
        doc = SyncDoc.model_validate_json(text)
    except ValidationError as error:
        raise ValueError(_said(error)) from None
    for one in doc.clips:
        if not _possible(one):
            raise ValueError(f"the place of {one.path} is impossible")
    return doc.clips


def _said(error: ValidationError) -> str:
    """What is wrong first, as a clause."""
    first = error.errors()[0]
    line = re.search(r"line (\d+)", first["msg"]) if first["type"] == "json_invalid" else None
    if line:
        return f"line {line[1]} is not JSON"
    if first["loc"] == ("version",):
        return "it is of another version"
    where = [f"{part + 1}" if isinstance(part, int) else part for part in first["loc"]]
    return f"'{' '.join(where) or 'clips'}' is not as sync writes it"


def _possible(one: ClipDoc) -> bool:
    if one.start is None or one.within is None:
        return one.start is one.within is None
    there = int(Fraction(one.start)) in _YEARS and Fraction(one.within) >= 0
    return there and abs(Fraction(one.pace) - 1) <= IMPOSSIBLE


def _clip(one: Synced) -> ClipDoc:
    return ClipDoc(
        path=one.clip,
        identity=one.identity,
        camera=one.camera,
        start=None if one.start is None else str(one.start),
        pace=str(one.pace),
        within=None if one.within is None else str(one.within),
        rung=one.rung,
        why=one.why,
        clues=tuple(_clue(residual) for residual in one.residuals),
    )


def _clue(residual: Residual) -> ClueDoc:
    clue = residual.clue
    return ClueDoc(
        rung=clue.rung,
        at=str(clue.at),
        wall=str(clue.wall),
        within=str(clue.in_all),
        other=clue.other,
        text=clue.text,
        off=str(residual.off),
    )
