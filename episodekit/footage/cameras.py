"""Which camera filmed a clip (its folder, its name, or the pattern that the plan gives), and how sure its clock is."""

from __future__ import annotations

from collections.abc import Mapping
from fnmatch import fnmatchcase

from episodekit.base.time import Seconds
from episodekit.job.model import Camera, Plan

BY_HAND_WITHIN = Seconds(2)
"""How sure `clock:` is: the creator's word, read off a filmed clock to a second, on a creation time of whole seconds.
Common practice, no source."""

UNCHECKED_WITHIN = Seconds(70)
"""How far off a creation time that nothing checks may be at least. Action cameras wrote ones 57 and 69 s off the
timecode of the same file, a phone one 17 s after its creation date; a clock of another zone is hours off."""


def clock_by_hand(camera: str | None, plan: Plan) -> Seconds | None:
    """The `clock:` of a camera, if job.md gives one, be it 0: what is to be added to its creation times."""
    known = plan.front.cameras.get(camera or "")
    return known.clock if known is not None and "clock" in known.model_fields_set else None


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
