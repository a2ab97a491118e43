"""What `plan` and `draft` write beside each other, so that the pages always tell of the draft next to them."""

from __future__ import annotations

from pathlib import Path

from episodekit.base.findings import Finding
from episodekit.formats.ad_breaks_text import write_ad_breaks_text
from episodekit.formats.calendar import write_calendar
from episodekit.formats.chapters_text import write_chapters_text
from episodekit.formats.ffmetadata import ffmetadata
from episodekit.formats.json_chapters import write_json_chapters
from episodekit.formats.matroska_chapters import write_matroska_chapters
from episodekit.formats.plan_document import PlanDocument
from episodekit.formats.plan_json import document, write_plan_json
from episodekit.formats.shot_list_csv import write_shot_list_csv
from episodekit.formats.webvtt_chapters import write_webvtt_chapters
from episodekit.outside.files import remove, write_whole
from episodekit.outside.pages import page
from episodekit.pack.dates import deadlines
from episodekit.pack.description import describe
from episodekit.timeline.episode import Episode

NAMES = (
    "shot-list.html",
    "shot-list.csv",
    "narration.html",
    "chapters.txt",
    "plan.json",
    "pack/chapters.xml",
    "pack/chapters.vtt",
    "pack/chapters.json",
    "pack/chapters.ffmeta",
    "pack/description.txt",
)
CALENDAR = "pack/deadlines.ics"  # only where there are deadlines
AD_BREAKS = "pack/ad-breaks.txt"  # only where there are ad breaks


def write_plan_files(out: Path, episode: Episode, findings: tuple[Finding, ...]) -> PlanDocument:
    """Write all of `NAMES` into `out`, each whole or not at all, and those that only some jobs
    need. Raises MediaError from the disk."""
    plan = episode.plan
    doc = document(episode, findings)
    title, chapters, length = doc.title, episode.timeline.chapters, episode.runtime
    texts = (
        page("shot-list.html", doc),
        write_shot_list_csv(doc),
        page("narration.html", doc),
        write_chapters_text(chapters, length),
        write_plan_json(doc),
        write_matroska_chapters(chapters, length),
        write_webvtt_chapters(chapters, length),
        write_json_chapters(title, chapters, length),
        ffmetadata(title, chapters, length),
        describe(plan, episode.chapters, [read.name for read in episode.reads]).text,
    )
    for name, text in zip(NAMES, texts, strict=True):
        write_whole(out / name, text)
    dated = deadlines(plan)
    _write_or_remove(out / CALENDAR, write_calendar(plan, dated) if dated else None)
    _write_or_remove(
        out / AD_BREAKS, write_ad_breaks_text(doc.ad_breaks, doc.steps) if doc.ad_breaks else None
    )
    return doc


def written(doc: PlanDocument) -> tuple[str, ...]:
    """The names of all files that `write_plan_files` writes for this document."""
    some = ((CALENDAR, doc.deadlines), (AD_BREAKS, doc.ad_breaks))
    return (*NAMES, *(name for name, needed in some if needed))


def _write_or_remove(path: Path, content: str | None) -> None:
    """Write what there is; a file of an earlier plan would tell of what is no longer agreed, so it goes."""
    if content is None:
        remove(path)
    else:
        write_whole(path, content)
