"""A job's takes become a voice: read them, leave out what cannot be right, learn, and say how well it went."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from pathlib import Path

from episodekit.base.findings import Finding, finding
from episodekit.base.place import Place
from episodekit.base.text import counted
from episodekit.formats.voice_profile import voice_lines
from episodekit.job.model import Plan
from episodekit.outside.dictionary import load_dictionary
from episodekit.outside.takes import FOLDER, read_takes, take_files
from episodekit.timing.learn import FEWEST, TRUSTED, WITH_PAUSES, Learned, far_off, learn
from episodekit.timing.rules import FEW_TAKES, NO_VOICE
from episodekit.timing.takes import Told, beats_of, implausible, tell


def fit_job(root: Path, plan: Plan) -> tuple[Learned | None, tuple[Told, ...], tuple[Finding, ...]]:
    """The voice of a job's takes (None if there are too few), the beats it was learned from, and the findings."""
    takes, found = read_takes(root, plan)
    told, odd = tell(takes, plan, load_dictionary())
    findings = [*found, *odd]
    far = far_off(told)
    for one, length in far:
        findings += [implausible(file, one.length, length) for file in one.files]
    told = tuple(one for one in told if one not in {beat for beat, _ in far})
    if len(told) < TRUSTED:
        findings.append(_too_few(root, told, plan))
    return (learn(told) if len(told) >= FEWEST else None), told, tuple(findings)


def _too_few(root: Path, told: Sequence[Told], plan: Plan) -> Finding:
    """What is missing: the folder, the recordings, or some more of them."""
    heard = {one.beat for one in told}
    missing = [beat for beat in beats_of(plan) if beat not in heard]
    names = ", ".join(f"{beat}.wav" for beat in missing[: TRUSTED - len(told)])
    record = f"read beats aloud and record {names}" if names else "write more beats and record them"
    folder = root / FOLDER
    if told:
        rule = FEW_TAKES if len(told) >= FEWEST else NO_VOICE
        said = f"{counted(len(told), 'beat')} can be measured; it takes {FEWEST} to learn, {TRUSTED} to trust it."
    elif not folder.exists():
        rule, said = NO_VOICE, "The job has no takes/ folder."
        record = f"make it, {record}, one file a beat"
    elif not folder.is_dir():
        rule, said = NO_VOICE, "takes is a file."
        record = f"make it a folder, {record}, one file a beat"
    elif not take_files(root):
        rule, said = NO_VOICE, "takes/ holds no recordings."
        record = f"{record}, one file a beat"
    else:
        files = counted(len(take_files(root)), "file")
        rule, said = NO_VOICE, f"Of {files} in takes/ none can be used."
    remedy = f"{record[:1].upper()}{record[1:]}."
    return finding(rule, Place(FOLDER), said, remedy)


def report(learned: Learned | None, told: Sequence[Told], plan: Plan) -> Iterator[str]:
    """What the creator reads after a fit: the lines for job.md, the error on beats held out, the odd ones."""
    if learned is None:
        yield "Nothing was learned."
        return
    takes = sum(len(one.files) for one in told)
    yield f"Learned from {counted(len(told), 'beat')} in {counted(takes, 'take')}."
    yield f"Held out one after the other, a beat was off by {learned.error:.1%} on average."
    for held in learned.outliers:
        way = "longer" if held.error < 0 else "shorter"
        says = f"{held.told.length / 1000:.1f} s instead of {held.predicted / 1000:.1f} s"
        yield f"  {held.told.beat} is {way} than the others suggest: {says} ({', '.join(held.told.files)})"
    if len(told) < WITH_PAUSES:
        yield f"From {WITH_PAUSES} beats on, your pauses are learned too."
    yield ""
    yield "Paste into the front matter of job.md:"
    yield ""
    yield "voice:"
    for line in voice_lines(learned.voice):
        yield f"  {line}"
