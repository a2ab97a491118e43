"""What stops the work: an outside tool that failed, or a person who pressed Ctrl-C."""

from __future__ import annotations


class MediaError(Exception):
    """An outside tool or a media file failed, and no slate can stand in for it. The CLI exits with 3.

    `command` is what was run (empty if nothing was), `file` what it was reading or writing, `log` the
    tool's last lines.
    """

    def __init__(self, message: str, command: tuple[str, ...] = (), file: str = "", log: str = "") -> None:
        super().__init__(message)
        self.message = message
        self.command = command
        self.file = file
        self.log = log

    def __str__(self) -> str:
        parts = [self.message]
        if self.file:
            parts.append(f"File: {self.file}")
        if self.log:
            parts.append(self.log)
        return "\n".join(parts)


class Cancelled(Exception):
    """Somebody asked for the work to stop. Nothing half-written is left behind."""
