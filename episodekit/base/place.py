"""Where something was said: the author's file, line and column, or a clip and a place in it."""

from __future__ import annotations

from dataclasses import dataclass


@dataclass(frozen=True, order=True)
class Place:
    """A position in a file of the job folder. Line and column count from 1; 0 means the whole file.

    >>> str(Place("job.md", 12, 3)), str(Place("footage/top.mp4"))
    ('job.md:12:3', 'footage/top.mp4')
    """

    file: str
    line: int = 0
    column: int = 0

    def __str__(self) -> str:
        return f"{self.file}:{self.line}:{self.column}" if self.line else self.file
