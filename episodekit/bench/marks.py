"""A mark from its fields. Both log formats share it, so they cannot differ in what they accept."""

from __future__ import annotations

import re
from dataclasses import replace
from datetime import datetime

from episodekit.base.findings import Finding, did_you_mean, finding
from episodekit.base.place import Place
from episodekit.bench import rules
from episodekit.bench.model import InClip, Kind, Mark
from episodekit.job.units import box as rectangle_of

FIELDS = ("time", "kind", "step", "text", "camera", "box", "id", "of")
_ID = re.compile(r"[A-Za-z0-9._-]{1,64}")
_PRIVACY = (Kind.PRIVATE, Kind.PUBLIC)


def read_mark(
    time: str,
    kind: str,
    step: str,
    text: str,
    at: Place,
    camera: str = "",
    box: str = "",
    id: str = "",
    of: str = "",
) -> Mark | Finding:
    """The mark, or what is wrong with it."""
    found = _read_mark(time, kind, step, text, at, camera, box)
    if isinstance(found, Mark):
        found = _named(found, id.strip(), of.strip())
    hides = may_hide(kind) or bool(box.strip())
    return hidden_from(found) if isinstance(found, Finding) and hides else found


def is_id(text: str) -> bool:
    """Whether a text may be a mark's id: up to 64 letters, digits, dots, underscores and hyphens.

    >>> is_id("phone1-17"), is_id("phone 1")
    (True, False)
    """
    return _ID.fullmatch(text) is not None


def _named(mark: Mark, id: str, of: str) -> Mark | Finding:
    """The mark with its id and that of the mark it withdraws."""
    for name, value in (("id", id), ("of", of)):
        if value and not is_id(value):
            remedy = "An id such as phone1-17 has at most 64 letters, digits, dots, underscores and hyphens."
            return finding(rules.FIELD, mark.at, f"'{value[:80]}' is no {name} of a mark.", remedy)
    if of and mark.kind is not Kind.UNDO:
        return finding(rules.FIELD, mark.at, f"'{mark.kind}' withdraws nothing.", "Only an `undo` has `of`.")
    return replace(mark, id=id, of=of)


def may_hide(text: str) -> bool:
    """Whether a mark or line that cannot be read may have been meant to hide something."""
    return re.search("priv|rpiv|pirv|prvi|prva", text, re.IGNORECASE) is not None


def hidden_from(found: Finding) -> Finding:
    """What is wrong with a mark, as a finding that stops the draft: what it hides would be seen."""
    return replace(found, rule=rules.PRIVATE)


def _read_mark(
    time: str, kind: str, step: str, text: str, at: Place, camera: str, box: str
) -> Mark | Finding:
    if any(half_a_character(field) for field in (time, kind, step, text, camera, box)):
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
    rectangle = None
    if named is Kind.PRIVATE:
        try:
            rectangle = rectangle_of(box)
        except ValueError as error:
            said, _, remedy = str(error).partition("; ")
            return finding(rules.PRIVATE, at, f"box: {said}.", f"{remedy[:1].upper()}{remedy[1:]}.")
    elif box.strip():
        return finding(rules.FIELD, at, f"'{named}' has no box.", "Only a `private` mark has one.")
    if camera.strip() and named not in _PRIVACY:
        remedy = "Only `private` and `public` name a camera; steps name theirs in job.md."
        return finding(rules.FIELD, at, f"'{named}' names no camera.", remedy)
    return Mark(when, named, step, " ".join(text.split()), at, camera.strip(), rectangle)


def half_a_character(text: str) -> bool:
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
