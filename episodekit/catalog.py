"""Every rule of every room by its code, for `explain CODE` and for the test that compares them."""

from __future__ import annotations

from types import ModuleType

from episodekit.base.findings import Rule
from episodekit.bench import rules as bench
from episodekit.chapters import rules as chapters
from episodekit.fit import rules as fit
from episodekit.footage import rules as footage
from episodekit.job import rules as job
from episodekit.pack import rules as pack
from episodekit.slots import rules as slots
from episodekit.sync import rules as sync
from episodekit.timeline import rules as timeline
from episodekit.timing import rules as timing

ROOMS: tuple[ModuleType, ...] = (job, timing, slots, chapters, bench, footage, fit, timeline, pack, sync)


def rules() -> dict[str, Rule]:
    """All rules, sorted by code. Raises ValueError if two rules claim one code."""
    found: dict[str, Rule] = {}
    for room in ROOMS:
        for value in vars(room).values():
            if isinstance(value, Rule):
                if found.get(value.code, value) != value:
                    raise ValueError(f"two rules claim the code {value.code}")
                found[value.code] = value
    return dict(sorted(found.items()))
