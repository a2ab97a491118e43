"""Findings: what is wrong, where, and what to do. Bad input is normal work, so it is a value.

A room keeps its rules in its own `rules.py`, one constant a rule, and makes findings from them:
`finding(UNKNOWN_KEY, at, "...", "...")`. `catalog.py` gathers the rules for `explain CODE`.
"""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass
from difflib import get_close_matches
from enum import StrEnum

from episodekit.base.place import Place

PRACTICE = "common practice, no source"


class Severity(StrEnum):
    """error: the result would be wrong or missing. warning: look at it. note: told, nothing to do."""

    ERROR = "error"
    WARNING = "warning"
    NOTE = "note"


@dataclass(frozen=True)
class Rule:
    """Why a finding exists. `code` is stable and prefixed by its room.

    `title` is the rule in a few words, `why` what goes wrong without it and what to do, `source` the
    publication it rests on or "common practice, no source", `default` the threshold and the job-file
    key that changes it, if it has one.
    """

    code: str
    severity: Severity
    title: str
    why: str
    source: str = PRACTICE
    default: str = ""


@dataclass(frozen=True)
class Finding:
    """One thing to tell the creator: rule, place, what is wrong, what to do."""

    rule: Rule
    at: Place
    message: str
    remedy: str

    @property
    def code(self) -> str:
        """The stable code, as in `explain CODE`."""
        return self.rule.code

    @property
    def severity(self) -> Severity:
        """How much it matters."""
        return self.rule.severity

    def __str__(self) -> str:
        return f"{self.at}: {self.severity} {self.code}: {self.message} {self.remedy}".rstrip()


def finding(rule: Rule, at: Place, message: str, remedy: str) -> Finding:
    """A finding under a rule."""
    return Finding(rule, at, message, remedy)


def in_order(findings: Iterable[Finding]) -> tuple[Finding, ...]:
    """Each finding once, sorted by file, line, column and code: the same input, the same report."""
    return tuple(sorted(set(findings), key=lambda f: (f.at, f.code, f.message)))


def has_errors(findings: Iterable[Finding]) -> bool:
    """Whether any finding is an error."""
    return any(f.severity is Severity.ERROR for f in findings)


def did_you_mean(word: str, known: Iterable[str]) -> str:
    """A sentence with the nearest known name, or the list of names if none is near.

    >>> did_you_mean("camra", ["camera", "bench"])
    "Did you mean 'camera'?"
    """
    names = sorted(known)
    by_lower = {name.lower(): name for name in names}
    near = get_close_matches(word.lower(), list(by_lower), n=1, cutoff=0.6)
    if near:
        return f"Did you mean '{by_lower[near[0]]}'?"
    if not names:
        return "None is declared."
    return f"Known here: {', '.join(names)}."
