"""Recorded takes: which beat a file is of, and whether its length can be that of its words."""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from fractions import Fraction
from statistics import median

from episodekit.base.findings import Finding, did_you_mean, finding
from episodekit.base.place import Place
from episodekit.base.time import Ms, nearest
from episodekit.job.model import Beat, Plan, Voice
from episodekit.timing import rules
from episodekit.timing.speech import spoken_length
from episodekit.timing.words import Content, Dictionary, content

SLOWEST, FASTEST = 40, 400
"""Words a minute: what a voice profile can hold."""


@dataclass(frozen=True)
class Take:
    """A recording of a beat: `file` inside the job folder; `length` from its first to its last sound.

    `start` is where in the file the first sound is.
    """

    file: str
    beat: str
    length: Ms
    start: Ms = Ms(0)


@dataclass(frozen=True)
class Told:
    """A beat as it was recorded: what is said, how long it took (the median of its takes), and the files."""

    beat: str
    said: Content
    length: Ms
    files: tuple[str, ...]


def beats_of(plan: Plan) -> Mapping[str, Beat]:
    """All beats of a plan by their ids, reads included, in the order of the file."""
    return {beat.id: beat for step in plan.all_steps() for beat in step.beats}


def beat_of(stem: str, beats: Iterable[str]) -> str | None:
    """The beat that a file's name starts with; of a step with one beat, the step's id is enough.

    >>> beat_of("screen.2-take3", ["screen.1", "screen.2", "screen.20"]), beat_of("Open", ["open.1"])
    ('screen.2', 'open.1')
    """
    known = list(beats)
    steps: dict[str, list[str]] = {}
    for beat in known:
        steps.setdefault(beat.rpartition(".")[0], []).append(beat)
    names = {beat: beat for beat in known}
    names |= {step: ids[0] for step, ids in steps.items() if len(ids) == 1}
    low = stem.lower()
    fits = [name for name in names if low.startswith(name.lower()) and not _goes_on(low[len(name) :])]
    return names[max(fits, key=len)] if fits else None


def _goes_on(rest: str) -> bool:
    """Whether a name only starts like a beat: "screen.12" is not "screen.1", "screens" is not "screen"."""
    return rest[:1].isalnum() or (rest[:1] == "." and rest[1:2].isdigit())


def unknown_beat(file: str, stem: str, beats: Iterable[str]) -> Finding:
    """The finding for a file that no beat is known for."""
    known = list(beats)
    hint = did_you_mean(stem, known)
    if not hint.startswith("Did you mean"):
        first = known[0] if known else "open.1"
        hint = f"Start its name with a beat's id, such as {first}.wav or {first}-take2.wav."
    return finding(rules.TAKE_BEAT, Place(file), f"No beat is called '{stem}'.", hint)


def tell(
    takes: Sequence[Take], plan: Plan, dictionary: Dictionary
) -> tuple[tuple[Told, ...], tuple[Finding, ...]]:
    """Takes by their beats, in the order of the plan. A take that nobody could have said is left out and found."""
    told: list[Told] = []
    found: list[Finding] = []
    average = Voice()
    for name, beat in beats_of(plan).items():
        expected = spoken_length(beat.paragraphs, average, dictionary).length
        good = []
        for take in takes:
            if take.beat != name:
                continue
            if expected and _sayable(take.length, expected, average):
                good.append(take)
            else:
                found.append(implausible(take.file, take.length, expected))
        if good:
            middle = Ms(nearest(Fraction(median(take.length for take in good))))
            files = tuple(take.file for take in good)
            told.append(Told(name, content(beat.paragraphs, dictionary), middle, files))
    return tuple(told), tuple(found)


def last_takes(takes: Iterable[Take], told: Iterable[Told]) -> Mapping[str, Take]:
    """The take of each beat that is heard: the last one by name that can be right, since one stops when it is good.

    Common practice, no source.
    """
    by_file = {take.file: take for take in takes}
    return {one.beat: by_file[one.files[-1]] for one in told}


def _sayable(length: Ms, expected: Ms, average: Voice) -> bool:
    pace = average.pace * expected / length if length else Fraction(0)
    return SLOWEST <= pace <= FASTEST


def implausible(file: str, length: Ms, expected: Ms) -> Finding:
    """The finding for a take whose length does not fit its words."""
    said = f"The take runs {length / 1000:.1f} s; its words should take about {expected / 1000:.1f} s."
    return finding(
        rules.TAKE_LENGTH,
        Place(file),
        said,
        "Check that it is of this beat, whole, and without a false start.",
    )
