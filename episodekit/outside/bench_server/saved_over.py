"""Marks that were written, and that an editor then saved over with what it had read before."""

from __future__ import annotations

import time
from collections.abc import Callable, Container, Mapping
from pathlib import Path

from episodekit.base.text import counted

_SETTLED = 3.0
"""Seconds after which an editor that saves in two goes has surely done so."""


class SavedOver:
    """Tells once of lines that are gone, and keeps a copy of them in `spare`.

    They may have been deleted on purpose, so they are not put back. `tell` is called with what the creator should know.
    """

    def __init__(self, spare: Path, tell: Callable[[str], None]) -> None:
        self._spare = spare
        self._tell = tell
        self._told: set[str] = set()
        self._since: float | None = None

    def look(self, written: Mapping[str, str], there: Container[str]) -> None:
        """Compare the lines that were written, by id, with the ids that the log has now."""
        missing = [name for name in written if name not in there and name not in self._told]
        if not missing:
            self._since = None
        elif self._since is None:
            self._since = time.monotonic()
        elif time.monotonic() - self._since > _SETTLED:
            lines = [f"{written[name]}\n" for name in missing]
            self._tell(
                f"bench.jsonl was saved without {counted(len(missing), 'mark')} that came while it was edited. "
                f"If that was not meant, {self._kept(lines)}"
            )
            self._told |= set(missing)
            self._since = None

    def _kept(self, lines: list[str]) -> str:
        """Where the lines are now. The log goes on even if the copy cannot be written: then they are told."""
        try:
            self._spare.parent.mkdir(parents=True, exist_ok=True)
            with self._spare.open("a", encoding="utf-8", newline="") as file:
                file.writelines(lines)
        except OSError:
            return f"write these lines into it:\n{''.join(lines).rstrip()}"
        return f"copy the lines from {self._spare} into it."
