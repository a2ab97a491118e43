"""Ad breaks for the host's form: a time, then where it stands, one a line.

Times are hours, minutes, seconds and ms of the final run time, to the nearest ms; carries nothing else.
"""

from __future__ import annotations

from collections.abc import Sequence

from episodekit.formats.plan_document import AdBreakDoc, StepDoc


def write_ad_breaks_text(breaks: Sequence[AdBreakDoc], steps: Sequence[StepDoc]) -> str:
    """The lines, in order of time; a tab parts the two.

    >>> one = AdBreakDoc(start_ms=327_640, stamp="5:27", before_step="guard", inside_step=True, why="")
    >>> write_ad_breaks_text([one], [])
    '0:05:27.640\\tinside guard\\n'
    """
    titles = {step.id: step.title for step in steps}
    lines = []
    for one in breaks:
        where = titles.get(one.before_step, one.before_step) or "the end"
        lines.append(f"{_time(one.start_ms)}\t{'inside' if one.inside_step else 'before'} {where}\n")
    return "".join(lines)


def _time(ms: int) -> str:
    seconds, rest = divmod(ms, 1000)
    return f"{seconds // 3600}:{seconds // 60 % 60:02d}:{seconds % 60:02d}.{rest:03d}"
