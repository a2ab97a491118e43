"""A mark from its four fields. Both log formats share it, so they cannot differ in what they accept."""

from __future__ import annotations

from datetime import datetime

from episodekit.base.findings import Finding, did_you_mean, finding
from episodekit.base.place import Place
from episodekit.bench import rules
from episodekit.bench.model import InClip, Kind, Mark

FIELDS = ("time", "kind", "step", "text")


def read_mark(time: str, kind: str, step: str, text: str, at: Place) -> Mark | Finding:
    """The mark, or what is wrong with it."""
    if any(_broken(field) for field in (time, kind, step, text)):
        return finding(rules.LINE, at, "The mark holds half of a character.", "Type its text again.")
    known = [k.value for k in Kind]
    if kind.strip().lower() not in known:
        said = f"'{kind}' is no kind of mark." if kind.strip() else "The mark has no kind."
        return finding(rules.KIND, at, said, did_you_mean(kind.strip(), known))
    when = _when(time.strip())
    if isinstance(when, str):
        return finding(rules.TIME, at, when, "Write 2026-11-07 10:04:03-05:00, or `top-1.mp4 @ 00:01:12:04`.")
    named = Kind(kind.strip().lower())
    step = step.strip().lstrip("#")
    if named is Kind.START and not step:
        return finding(rules.FIELD, at, "A start names no step.", "Add the step's id.")
    return Mark(when, named, step, " ".join(text.split()), at)


def _broken(text: str) -> bool:
    """Whether the text holds a surrogate, which JSON can write and no file can."""
    return any("\ud800" <= character <= "\udfff" for character in text)


def _when(time: str) -> datetime | InClip | str:
    """The time, or a sentence that says what is wrong."""
    if not time:
        return "The mark has no time."
    clip, sign, label = time.rpartition("@")
    if sign:
        if not clip.strip() or not label.strip():
            return f"'{time}' names no place in a clip."
        return InClip(clip.strip(), label.strip())
    try:
        instant = datetime.fromisoformat(time)
    except ValueError:
        return f"'{time}' is not a time."
    return instant
