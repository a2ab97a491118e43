"""job.md while the bench log runs: read again when it changed; the last good plan stays while it cannot be read."""

from __future__ import annotations

import threading
from dataclasses import dataclass
from datetime import timedelta
from pathlib import Path

from episodekit.base.findings import Finding
from episodekit.bench.job_sheet import JobSheet, job_sheet
from episodekit.job.model import Plan
from episodekit.job.reader import read_plan
from episodekit.outside.job_folder import PLAN, read_plan_file


@dataclass(frozen=True)
class Shown:
    """The job sheet as it is shown. `edition` changes with job.md; `problem` says why an older plan is shown, or ""."""

    sheet: JobSheet
    offset: timedelta | None
    edition: str
    problem: str


class NoPlan(Exception):
    """The job has no plan to show; `findings` say why."""

    def __init__(self, findings: tuple[Finding, ...]) -> None:
        super().__init__("no plan")
        self.findings = findings


class PlanWatch:
    """The plan of a job. Raises NoPlan if there is none at the start."""

    def __init__(self, root: Path) -> None:
        self._root = root
        self._lock = threading.Lock()
        self._stamp = self._look()
        plan, findings = _read(root)
        if plan is None:
            raise NoPlan(findings)
        self.errors = sum(found.severity == "error" for found in findings)
        self._shown = Shown(job_sheet(plan), plan.front.utc_offset, self._edition(), "")

    @property
    def last(self) -> Shown:
        """What was shown last, without a look at the disk."""
        return self._shown

    def now(self) -> Shown:
        """The plan as job.md says now."""
        with self._lock:
            stamp = self._look()
            if stamp != self._stamp:
                self._stamp = stamp
                plan, findings = _read(self._root)
                if plan is None:
                    why = " ".join(str(found) for found in findings[:1])
                    old = self._shown
                    self._shown = Shown(old.sheet, old.offset, self._edition(), why)
                else:
                    self._shown = Shown(job_sheet(plan), plan.front.utc_offset, self._edition(), "")
            return self._shown

    def _look(self) -> tuple[int, int, int] | None:
        try:
            found = (self._root / PLAN).stat()
        except OSError:
            return None
        return found.st_ino, found.st_size, found.st_mtime_ns

    def _edition(self) -> str:
        return "-".join(f"{part:x}" for part in self._stamp or (0,))


def _read(root: Path) -> tuple[Plan | None, tuple[Finding, ...]]:
    raw, findings = read_plan_file(root)
    return (None, findings) if raw is None else read_plan(raw, PLAN)
