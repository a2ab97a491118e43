"""Can the draft go out as an edit decision list?"""

from __future__ import annotations

from episodekit.base.findings import Finding, finding
from episodekit.base.timecode import has_labels
from episodekit.job.model import Plan
from episodekit.pack.rules import NO_EDIT_LIST
from episodekit.timeline.model import Picture, Timeline


def check_edit_list(plan: Plan, timeline: Timeline) -> tuple[Finding, ...]:
    """Whether footage is cut at a rate that has no timecode."""
    if has_labels(timeline.rate) or not any(isinstance(s.source, Picture) for s in timeline.segments):
        return ()
    said = f"There is no timecode at {timeline.rate} frames a second, so there is no edit decision list."
    remedy = "Open timeline.otio in the editor, or set `frame rate:` to 24, 25, 29.97, 30, 50 or 59.94."
    return (finding(NO_EDIT_LIST, plan.where("frame rate"), said, remedy),)
