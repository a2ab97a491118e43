"""The job folder's door: read what is there, write what was made. footage/ and takes/ are only ever read."""

from __future__ import annotations

import os
import re
from collections.abc import Iterator, Mapping
from concurrent.futures import ThreadPoolExecutor
from dataclasses import dataclass, field, replace
from pathlib import Path

from episodekit.base.findings import Finding, finding, in_order
from episodekit.base.place import Place
from episodekit.bench import rules as log_rules
from episodekit.bench.model import Mark
from episodekit.bench.undo import standing
from episodekit.footage.model import Clip, Known
from episodekit.footage.rules import FOLDER, NAME
from episodekit.formats.bench_csv import read_bench_csv
from episodekit.formats.bench_jsonl import read_bench_jsonl
from episodekit.job import rules as job_rules
from episodekit.job.model import Plan
from episodekit.job.reader import LARGEST, read_plan, too_big
from episodekit.outside.clocks.sync_file import read_sync
from episodekit.outside.dictionary import load_dictionary
from episodekit.outside.errors import MediaError
from episodekit.outside.files import media_files, unopened
from episodekit.outside.media.drawing.fonts import Fonts, can_shape, load_fonts, needs_shaping, undrawable
from episodekit.outside.media.probing.probe import probe
from episodekit.outside.takes import read_takes
from episodekit.outside.voices import with_profile
from episodekit.pipeline import compile_episode
from episodekit.timeline.episode import Episode
from episodekit.timeline.narration import narration
from episodekit.timeline.rules import GLYPH, SHAPING
from episodekit.timing.takes import Take, last_takes, tell

PLAN = "job.md"
OUT = "out"

# What cameras and systems leave beside the clips; none of it is footage.
_SIDECARS = re.compile(
    r"\.(bim|bin|csv|ctg|dat|db|ini|json|lrv|md|moi|pdf|srt|thm|txt|url|vtt|xml|xmp)", re.I
)


@dataclass(frozen=True)
class OpenJob:
    """What a job folder holds. `plan` is None when job.md could not be read at all. `marks` are those that stand.

    `takes` are the recorded beats by their ids, `known` the places of clips that sync found, by path.
    """

    root: Path
    plan: Plan | None
    marks: tuple[Mark, ...]
    clips: tuple[Clip, ...]
    findings: tuple[Finding, ...]
    takes: Mapping[str, Take]
    known: Mapping[str, Known] = field(default_factory=dict)


def open_job(root: Path) -> OpenJob:
    """Read the plan, the log and the footage of a job folder. Whatever is wrong is a finding."""
    raw, findings = read_plan_file(root)
    if raw is None:
        return OpenJob(root, None, (), (), findings, {})
    plan, plan_findings = read_plan(raw, PLAN)
    if plan is not None:
        plan, voice_findings = with_profile(plan)
        plan_findings = (*plan_findings, *voice_findings)
    marks, log_findings = _read_logs(root)
    clips, clip_findings = _read_footage(root)
    takes, take_findings = _read_takes(root, plan)
    known, sync_findings = read_sync(root, clips)
    found = in_order(
        (*findings, *plan_findings, *log_findings, *clip_findings, *sync_findings, *take_findings)
    )
    return OpenJob(root, plan, marks, clips, found, takes, known)


def _read_takes(root: Path, plan: Plan | None) -> tuple[Mapping[str, Take], tuple[Finding, ...]]:
    """The take that is heard of each recorded beat, and what is wrong with the takes."""
    if plan is None:
        return {}, ()
    takes, found = read_takes(root, plan)
    told, odd = tell(takes, plan, load_dictionary())
    return last_takes(takes, told), (*found, *odd)


def compile_job(job: OpenJob) -> tuple[Episode | None, tuple[Finding, ...]]:
    """Compile an opened job; returns the episode, or None without a plan, and all findings of the run."""
    if job.plan is None:
        return None, job.findings
    font = job.plan.front.font
    path = None if font is None else job.root / font
    fonts, font_findings = load_fonts(path, job.plan.where("font"))
    usable = None if font_findings else font
    lengths = {beat: take.length for beat, take in job.takes.items()}
    episode = compile_episode(
        job.plan,
        job.marks,
        job.clips,
        lengths,
        font=usable,
        dictionary=load_dictionary(),
        known=job.known,
    )
    lines = narration(episode.steps, episode.timeline.rate, job.takes)
    episode = replace(episode, narration=lines)
    return episode, in_order((*job.findings, *episode.findings, *font_findings, *_lettering(job.plan, fonts)))


def _lettering(plan: Plan, fonts: Fonts) -> Iterator[Finding]:
    """What of the words in the draft cannot be drawn here as it should."""
    unshaped = False
    for at, text in _drawn_texts(plan):
        missing = undrawable(text, fonts)
        if missing:
            said = f"The draft's font cannot draw {' '.join(missing[:8])}."
            yield finding(GLYPH, at, said, "Name a font that can with `font:`.")
        if not unshaped and not can_shape() and needs_shaping(text):
            unshaped = True
            said = "The letters of these words, and of others like them, cannot be joined and ordered on this machine."
            remedy = "Install the library FriBiDi: the package `libfribidi0` on Debian and Ubuntu, `fribidi` elsewhere."
            yield finding(SHAPING, at, said, remedy)


def words_by_step(job: OpenJob) -> dict[str, str]:
    """What is said in each step, and how long each take of it is: what tells a step whose words changed."""
    steps = [] if job.plan is None else job.plan.all_steps()
    return {
        step.id: "\n".join(
            f"{beat.text} {job.takes[beat.id].length if beat.id in job.takes else ''}" for beat in step.beats
        )
        for step in steps
    }


def _drawn_texts(plan: Plan) -> list[tuple[Place, str]]:
    """What the draft may draw, with the place of each."""
    texts = [(plan.where("title"), plan.front.title), (plan.where("device"), plan.front.device)]
    for name, read in plan.front.reads.items():
        told = {"sponsor": read.sponsor, "code": read.code, "goods": read.goods}
        texts += [(plan.where("reads", name, key), text) for key, text in told.items() if text]
    for name, given in plan.front.free_goods.items():
        texts += [(plan.where("free goods", name), text) for text in (given.giver, given.what)]
    for step in plan.all_steps():
        texts.append((step.at, step.title))
        texts += [(view.at, view.what) for view in step.must_show]
        texts += [(view.at, view.what) for view in step.b_roll]
        texts += [(beat.at, beat.text) for beat in step.beats]
        texts += [(step.where("caution"), text) for text in step.cautions]
    return texts


def out_folder(root: Path) -> Path:
    """Where results go. Raises MediaError if that leads into footage/ or takes/, which are never written to."""
    out = root / OUT
    for target in (out, out / "cache", out / "cache" / "clocks"):
        for raw in (root / "footage", root / "takes"):
            if target.resolve().is_relative_to(raw.resolve()):
                said = f"{OUT}/ leads into {raw.name}/, which is never written to. Make {OUT} a folder of its own."
                raise MediaError(said, (), str(target))
    return out


def read_plan_file(root: Path) -> tuple[bytes | None, tuple[Finding, ...]]:
    """The bytes of job.md, or None and what is wrong with the file."""
    try:
        size = (root / PLAN).stat().st_size
        if size > LARGEST:
            return None, (too_big(size, PLAN),)
        return (root / PLAN).read_bytes(), ()
    except FileNotFoundError:
        remedy = "Make one with `episodekit new DIR`, or name the folder that holds it."
        return None, (finding(job_rules.MISSING, Place(PLAN), "The job folder has no job.md.", remedy),)
    except OSError as error:
        said = f"job.md cannot be opened: {(error.strerror or str(error)).lower()}."
        return None, (finding(job_rules.MISSING, Place(PLAN), said, "Check that it is a file you may read."),)


def _read_logs(root: Path) -> tuple[tuple[Mark, ...], tuple[Finding, ...]]:
    marks: list[Mark] = []
    findings: list[Finding] = []
    found = []
    for name, read in (("bench.jsonl", read_bench_jsonl), ("bench.csv", read_bench_csv)):
        try:
            raw = (root / name).read_bytes()
        except FileNotFoundError:
            continue
        except OSError as error:
            said = f"It cannot be opened ({(error.strerror or str(error)).lower()}), so what it hides cannot be told."
            findings.append(
                finding(log_rules.PRIVATE, Place(name), said, "Check that it is a file you may read.")
            )
            continue
        found.append(name)
        some, wrong = read(raw, name)
        marks += some
        findings += wrong
    if len(found) == 2:
        said = "There is a bench.jsonl and a bench.csv."
        findings.append(finding(log_rules.TWO_LOGS, Place("bench.csv"), said, "Keep one of the two."))
    stand, undone = standing(marks, [told.at for told in findings])
    return stand, (*findings, *undone)


def footage_files(root: Path) -> tuple[Path, ...]:
    """The files in footage/ that may be clips, sorted; hidden files and cameras' sidecars left out."""
    return media_files(root / "footage", _SIDECARS)


def _read_footage(root: Path) -> tuple[tuple[Clip, ...], tuple[Finding, ...]]:
    found = footage_files(root)
    paths = [path for path in found if _is_text(path.relative_to(root).as_posix())]
    bad = [path for path in found if not _is_text(path.relative_to(root).as_posix())]
    with ThreadPoolExecutor(max_workers=min(4, os.cpu_count() or 1)) as pool:
        probed = list(pool.map(lambda path: probe(path, path.relative_to(root).as_posix()), paths))
    clips = tuple(one.clip for one in probed if one.clip is not None)
    named = [
        finding(NAME, Place(_as_text(path)), "Its name is not valid text.", "Rename the file.")
        for path in bad
    ]
    remedy = "Check that its drive is there, and that you may read it."
    shut = [
        finding(FOLDER, Place(path), f"The folder cannot be opened: {why}.", remedy)
        for path, why in unopened(root / "footage")
    ]
    return clips, (*shut, *named, *(told for one in probed for told in one.findings))


def _is_text(name: str) -> bool:
    try:
        name.encode("utf-8")
    except UnicodeEncodeError:
        return False
    return True


def _as_text(path: Path) -> str:
    return f"footage/{path.name}".encode("utf-8", "backslashreplace").decode("utf-8")
