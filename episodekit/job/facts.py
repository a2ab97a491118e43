"""List items with a key become facts of their step: `- bench: 10 min`, `- must show: ... | macro | 5 s`.

To add a fact: a field in `model.Step`, a reader function here, and a row in `READERS`.
"""

from __future__ import annotations

import re
from collections.abc import Callable
from dataclasses import dataclass, field
from typing import Any

from episodekit.base.findings import Finding, did_you_mean, finding
from episodekit.base.place import Place
from episodekit.base.time import Ms
from episodekit.job import rules, units
from episodekit.job.hazards import HAZARDS
from episodekit.job.model import Beat, BRoll, Heat, MustShow, Note, Off, PrivateView, Question, WorkKind


@dataclass
class Draft:
    """A step while it is being read; becomes a frozen `Step` at the next heading."""

    id: str
    title: str
    at: Place
    implicit: bool
    values: dict[str, Any] = field(default_factory=dict)
    places: dict[str, Place] = field(default_factory=dict)
    lists: dict[str, list[Any]] = field(default_factory=dict)
    beats: list[Beat] = field(default_factory=list)
    notes: list[Note] = field(default_factory=list)

    def add(self, name: str, value: Any) -> None:
        self.lists.setdefault(name, []).append(value)


def read_item(step: Draft, text: str, at: Place, findings: list[Finding], source: str | None = None) -> None:
    """Read one list item into the step, or keep it as a note.

    `at` is where its text starts; `source` is its line from there on as it was written, for columns.
    """
    head, colon, value = text.partition(":")
    key = " ".join(head.lower().replace("_", " ").split())
    if not colon:
        _without_colon(step, text, at, findings)
        return
    name, _, rest = key.partition(" ")
    if key not in READERS and name in NAMED and rest:
        key, argument = name, rest
    else:
        argument = ""
    _, _, written = (source or text).partition(":")
    before = len(source or text) - len(written) + len(written) - len(written.lstrip())
    value_at = Place(at.file, at.line, at.column + before)
    if key in READERS:
        _read_fact(step, key, argument, value.strip(), value_at, findings)
        return
    if key in FLAGS:
        remedy = f"Write `- {key}` alone, or put the remark on a line of its own."
        findings.append(finding(rules.VALUE, value_at, f"'{key}' takes no value.", remedy))
        return
    known = sorted([*READERS, *FLAGS])
    hint = did_you_mean(name if name in NAMED else key, known)
    if hint.startswith("Did you mean"):
        rule = rules.PRIVATE if "'private'" in hint else rules.KEY
        findings.append(finding(rule, at, f"'{head.strip()}' is not a known fact.", hint))
    else:
        step.notes.append(Note(text=text, at=at))
        if len(head.split()) <= 3 and not value.startswith("//"):
            findings.append(
                finding(
                    rules.KEPT_AS_NOTE,
                    at,
                    f"'{head.strip()}: ...' is kept as a note.",
                    f"Facts are: {', '.join(known)}.",
                )
            )


def _without_colon(step: Draft, text: str, at: Place, findings: list[Finding]) -> None:
    """A flag, a note, or a fact that lost its colon; the last must not pass for a note if it warns of something."""
    key = " ".join(text.lower().replace("_", " ").rstrip(" .!").split())
    if key in FLAGS:
        step.values[FLAGS[key]] = True
        step.places[FLAGS[key]] = at
        return
    lost = next((name for name in MUST_NOT_BE_LOST if re.match(rf"{name}\b", key)), None)
    if lost is not None:
        remedy = f"Write `- {lost}{'' if lost in FLAGS else ': ...'}`, or begin the note with another word."
        rule = rules.PRIVATE if lost == "private" else rules.KEY
        findings.append(finding(rule, at, f"This reads like the fact '{lost}', but is none.", remedy))
    step.notes.append(Note(text=text, at=at))


def _read_fact(step: Draft, key: str, argument: str, value: str, at: Place, findings: list[Finding]) -> None:
    if key in NAMED and not re.fullmatch(r"[a-z0-9][a-z0-9-]*", argument):
        findings.append(
            finding(
                rules.VALUE,
                at,
                f"'{key}' needs the question's name.",
                f"Write `- {key} NAME: ...` with a short name.",
            )
        )
        return
    single = SINGLE.get(key)
    if single in step.places:
        before = step.places[single].line
        findings.append(
            finding(rules.TWICE, at, f"'{key}' was already given in line {before}.", "Keep one of the two.")
        )
        return
    if not value:
        rule = rules.PRIVATE if key == "private" else rules.VALUE
        findings.append(finding(rule, at, f"'{key}' has no value.", f"Write `- {key}: ...`."))
        return
    try:
        READERS[key](step, argument, value, at)
    except ValueError as error:
        said, _, remedy = str(error).partition("; ")
        rule = {"hazard": rules.HAZARD, "private": rules.PRIVATE}.get(key, rules.VALUE)
        findings.append(
            finding(rule, at, f"{key}: {said}.", f"{remedy[:1].upper()}{remedy[1:]}.".lstrip("."))
        )
    step.places.setdefault(single or key, at)


def _bench(step: Draft, _: str, value: str, at: Place) -> None:
    step.values["bench"] = units.duration(value)


def _camera(step: Draft, _: str, value: str, at: Place) -> None:
    names = [name for name in re.split(r"\s*[,;]\s*", value) if name]
    step.values["camera"] = names[0] if names else value
    for name in names if len(names) > 1 else ():
        step.add("angles", name)


def _read(step: Draft, _: str, value: str, at: Place) -> None:
    step.values["read"] = value


def _needs(step: Draft, _: str, value: str, at: Place) -> None:
    for name in re.split(r"\s*[,;]\s*", value):
        step.add("needs", name.lstrip("#"))


def _hazard(step: Draft, _: str, value: str, at: Place) -> None:
    for kind in re.split(r"\s*[,;]\s*", value.lower()):
        if kind not in HAZARDS:
            hint = did_you_mean(kind, HAZARDS).rstrip(".")
            raise ValueError(f"'{kind}' is no known hazard; {hint}")
        step.add("hazards", kind)


def _caution(step: Draft, _: str, value: str, at: Place) -> None:
    step.add("cautions", value)


def _heat(step: Draft, _: str, value: str, at: Place) -> None:
    parts = [part.strip() for part in value.split(",")]
    if len(parts) != 2:
        raise ValueError(
            f"'{value}' is not a temperature and a time; write 65 C, 8 min (from the adhesive's own sheet)"
        )
    step.values["heat"] = Heat(celsius=units.temperature(parts[0]), length=units.duration(parts[1]), at=at)


def _off(step: Draft, _: str, value: str, at: Place) -> None:
    for part in filter(None, (part.strip() for part in value.split(";"))):
        counted = re.fullmatch(r"(\d{1,4})\s*[x×]\s+(.+)", part)
        count, name = (int(counted[1]), counted[2]) if counted else (1, part)
        if count == 0:
            raise ValueError(f"'{part}' takes nothing off; write how many come off, such as 4 x M2x4")
        step.add("off", Off(count=count, name=name, at=at))


def _view(value: str) -> tuple[str, str | None, Ms]:
    """A view to film, written as what | camera | how long; the camera may be left out."""
    parts = [part.strip() for part in value.split("|")]
    if len(parts) == 2:
        parts.insert(1, "")
    if len(parts) != 3 or not parts[0]:
        raise ValueError(f"'{value}' is not a shot; write what | camera | 5 s")
    try:
        length = units.duration(parts[2])
    except ValueError:
        if re.match(r"\d", parts[2]):
            raise
        raise ValueError(f"'{value}' does not say for how long; write what | camera | 4 s") from None
    if length < 500:
        raise ValueError(f"'{parts[2]}' is too short to see; write 0.5 s or more")
    return parts[0], parts[1] or None, Ms(length)


def _must_show(step: Draft, _: str, value: str, at: Place) -> None:
    what, camera, length = _view(value)
    step.add("must_show", MustShow(what=what, camera=camera, length=length, beat=len(step.beats), at=at))


def _b_roll(step: Draft, _: str, value: str, at: Place) -> None:
    what, camera, length = _view(value)
    step.add("b_roll", BRoll(what=what, camera=camera, length=length, at=at))


def _ask(step: Draft, name: str, value: str, at: Place) -> None:
    step.add("asks", Question(id=name, text=value, at=at))


def _answer(step: Draft, name: str, value: str, at: Place) -> None:
    step.add("answers", Question(id=name, text=value, at=at))


def _private(step: Draft, _: str, value: str, at: Place) -> None:
    parts = [part.strip() for part in value.split("|")]
    if len(parts) == 2:
        parts.insert(1, "")
    if len(parts) != 3:
        raise ValueError(f"'{value}' does not say where; write what | camera | 60% 5% to 95% 15%")
    step.add("private", PrivateView(what=parts[0], camera=parts[1] or None, box=units.box(parts[2]), at=at))


def _uses(step: Draft, _: str, value: str, at: Place) -> None:
    for name in re.split(r"\s*[,;]\s*", value):
        step.add("uses", name)


def _failure(step: Draft, _: str, value: str, at: Place) -> None:
    step.values["failure"] = value


def _work(step: Draft, _: str, value: str, at: Place) -> None:
    kinds = [kind.value for kind in WorkKind]
    if value.lower() not in kinds:
        raise ValueError(f"'{value}' is no kind of work; write {', '.join(kinds)}")
    step.values["work"] = WorkKind(value.lower())


READERS: dict[str, Callable[[Draft, str, str, Place], None]] = {
    "answer": _answer,
    "ask": _ask,
    "b-roll": _b_roll,
    "bench": _bench,
    "camera": _camera,
    "caution": _caution,
    "failure": _failure,
    "hazard": _hazard,
    "heat": _heat,
    "must show": _must_show,
    "needs": _needs,
    "off": _off,
    "private": _private,
    "read": _read,
    "uses": _uses,
    "work": _work,
}
FLAGS = {"any time": "any_time", "no return": "no_return"}
MUST_NOT_BE_LOST = ("hazard", "caution", "heat", "no return", "must show", "b-roll", "private")
NAMED = {"ask", "answer"}
SINGLE = {
    "bench": "bench",
    "camera": "camera",
    "failure": "failure",
    "heat": "heat",
    "read": "read",
    "work": "work",
}
