"""What `plan` and `draft` write beside each other, so that the pages always tell of the draft next to them."""

from __future__ import annotations

from dataclasses import dataclass
from pathlib import Path

from episodekit.base.findings import Finding
from episodekit.base.timecode import has_labels
from episodekit.formats.ad_breaks_text import write_ad_breaks_text
from episodekit.formats.calendar import write_calendar
from episodekit.formats.chapters_text import write_chapters_text
from episodekit.formats.edl import write_edl
from episodekit.formats.ffmetadata import ffmetadata
from episodekit.formats.json_chapters import write_json_chapters
from episodekit.formats.matroska_chapters import write_matroska_chapters
from episodekit.formats.otio_timeline import write_otio
from episodekit.formats.plan_document import PlanDocument
from episodekit.formats.plan_json import document, write_plan_json
from episodekit.formats.shot_list_csv import write_shot_list_csv
from episodekit.formats.webvtt_chapters import write_webvtt_chapters
from episodekit.outside.files import remove, write_whole
from episodekit.outside.pages import page
from episodekit.pack.dates import deadlines
from episodekit.pack.description import describe
from episodekit.timeline.episode import Episode
from episodekit.timeline.markers import markers_of
from episodekit.timeline.model import Picture

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
TIMELINE = "pack/timeline.otio"  # only where there is footage
LIST = "pack/draft.edl"  # the same, at rates that have timecode; a long one goes on in draft-2.edl


@dataclass(frozen=True)
class PlanFiles:
    """What was written: the document, and the names of all files inside the folder of results."""

    doc: PlanDocument
    names: tuple[str, ...]


def write_plan_files(out: Path, episode: Episode, findings: tuple[Finding, ...]) -> PlanFiles:
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
    some = {
        CALENDAR: write_calendar(plan, dated) if dated else None,
        AD_BREAKS: write_ad_breaks_text(doc.ad_breaks, doc.steps) if doc.ad_breaks else None,
        **_for_editors(out, episode),
    }
    for name, content in some.items():
        _write_or_remove(out / name, content)
    return PlanFiles(doc, (*NAMES, *(name for name, content in some.items() if content is not None)))


def _for_editors(out: Path, episode: Episode) -> dict[str, str | None]:
    """The timeline and the lists of edits, and None for those of an earlier plan."""
    texts: dict[str, str | None] = {TIMELINE: None, LIST: None}
    old = sorted((out / LIST).parent.glob("draft-*.edl"))
    texts |= {path.relative_to(out).as_posix(): None for path in old}
    timeline, clips = episode.timeline, episode.clips_by_path
    if any(isinstance(segment.source, Picture) for segment in timeline.segments):
        markers = markers_of(episode)
        texts[TIMELINE] = write_otio(timeline, clips, episode.narration, markers)
        if has_labels(timeline.rate):
            lists = write_edl(timeline, clips, markers)
            texts |= {_numbered(LIST, number): text for number, text in enumerate(lists, 1)}
    return texts


def _numbered(name: str, number: int) -> str:
    return name if number == 1 else name.replace(".edl", f"-{number}.edl")


def _write_or_remove(path: Path, content: str | None) -> None:
    """Write what there is; a file of an earlier plan would tell of what is no longer agreed, so it goes."""
    if content is None:
        remove(path)
    else:
        write_whole(path, content)
