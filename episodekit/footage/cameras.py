"""Which camera filmed a clip: its folder, its name, or the pattern that the plan gives."""

from __future__ import annotations

from collections.abc import Mapping
from fnmatch import fnmatchcase

from episodekit.job.model import Camera


def camera_of(path: str, cameras: Mapping[str, Camera]) -> str | None:
    """The camera of `footage/top/0001.mp4`, `footage/top-1.mp4`, or of a name that matches `files:`.

    Capitals do not matter. Of several cameras whose names fit, the longest name wins. None if none fits.

    >>> camera_of("footage/top-1.mp4", {"top": Camera(view="overhead")})
    'top'
    """
    parts = path.lower().split("/")[1:]
    name = parts[-1]
    for camera in sorted(cameras):
        pattern = cameras[camera].files
        if pattern is not None and fnmatchcase(name, pattern.lower()):
            return camera
    for camera in sorted(cameras, key=lambda c: (-len(c), c)):
        word = camera.lower()
        if word in parts[:-1]:
            return camera
        rest = name.removeprefix(word)
        if rest != name and not rest[:1].isalpha():
            return camera
    return None
