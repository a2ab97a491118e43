"""Why was a piece rendered again? What each piece was made from is noted, and compared with the last draft's notes."""

from __future__ import annotations

import hashlib
import json
from collections import Counter
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import asdict, dataclass, fields
from pathlib import Path

from episodekit.base.text import counted

_NOTES = "last-draft.json"


@dataclass(frozen=True)
class Facts:
    """What decided a piece: its step, the clip and its content, what is hidden in it, the cut, the card, what lies over
    it, the settings.
    """

    step: str
    clip: str
    content: str
    hidden: str
    cut: str
    card: str
    over: str
    settings: str


@dataclass(frozen=True)
class Notes:
    """A draft's pieces, and a digest of each step's words."""

    pieces: tuple[Facts, ...]
    words: Mapping[str, str]


def notes(pieces: Iterable[Facts], words: Mapping[str, str]) -> Notes:
    """To keep for the next draft."""
    return Notes(tuple(pieces), {step: _digest(text) for step, text in words.items()})


def read_notes(cache: Path) -> Notes | None:
    """The last draft's, or None if there are none that can be read."""
    try:
        kept = json.loads((cache / _NOTES).read_text(encoding="utf-8"))
        pieces = tuple(Facts(**piece) for piece in kept["pieces"])
        return Notes(pieces, dict(kept["words"]))
    except (OSError, ValueError, TypeError, KeyError):
        return None


def write_notes(cache: Path, work: Path, told: Notes) -> None:
    """Keep them, whole or not at all. Raises OSError."""
    kept = {"pieces": [asdict(piece) for piece in told.pieces], "words": dict(told.words)}
    draft = work / _NOTES
    draft.write_text(json.dumps(kept, ensure_ascii=True), encoding="utf-8")
    draft.replace(cache / _NOTES)


def why(made: Sequence[Facts], now: Notes, last: Notes | None) -> str:
    """In words, what the pieces were rendered for: "10 because step 'flex' changed its words, 2 new".

    Empty if nothing was rendered or there is nothing to compare with. The most frequent reason comes first.
    """
    if last is None or not made:
        return ""
    told = Counter(_reason(piece, now, last) for piece in made)
    return ", ".join(f"{number} {reason}" for reason, number in told.most_common())


def tell(rendered: int, kept: int, reasons: str) -> str:
    """The line of a finished draft.

    >>> tell(12, 3, "10 because step 'flex' changed its words, 2 new")
    "12 pieces rendered: 10 because step 'flex' changed its words, 2 new; 3 kept"
    """
    head = f"{counted(rendered, 'piece')} rendered"
    return f"{head}: {reasons}; {kept} kept" if reasons else f"{head}, {kept} kept"


def _reason(piece: Facts, now: Notes, last: Notes) -> str:
    """Compared with the piece of the same step that was most like it."""
    like = [old for old in last.pieces if old.step == piece.step]
    if not like:
        return "new"
    old = max(like, key=lambda one: _alike(piece, one))
    if old.settings != piece.settings:
        return "because size, quality, frame rate, burnt-in timecode or ffmpeg is another"
    if old.clip == piece.clip and old.content != piece.content:
        return f"because {piece.clip} has other content"
    if (old.clip, old.cut, old.card) != (piece.clip, piece.cut, piece.card):
        step = f"step '{piece.step}'" if piece.step else "what belongs to no step"
        changed = now.words.get(piece.step) != last.words.get(piece.step)
        return f"because {step} changed its words" if changed else f"because {step} is cut or paced otherwise"
    if old.hidden != piece.hidden:
        return "because what is private there changed"
    if old.over != piece.over:
        return "because what lies over the picture changed"
    return "that the cache lost"


def _alike(one: Facts, two: Facts) -> int:
    return sum(getattr(one, field.name) == getattr(two, field.name) for field in fields(Facts))


def _digest(text: str) -> str:
    return hashlib.sha256(text.encode("utf-8", "surrogatepass")).hexdigest()[:16]
