"""Terms about words: they stand in the script, and are heard where the finished video plays them.

A machine does not understand what is said, so words count as heard only where the recorded take of their beat is
found in the video.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass

from episodekit.base.time import Ms
from episodekit.job.model import Beat
from episodekit.pack.term import Case, Met, Term, stamp
from episodekit.slots.phrases import alternatives, place_of, plain, says_code, says_free

SILENT = -50.0
"""dB below full scale: quieter than any narration that was meant to be heard. Common practice, no source."""

NEAR = Ms(500)
"""How far outside its read a take may begin. Common practice, no source."""


@dataclass(frozen=True)
class _Voice:
    """What was heard of some words."""

    met: Met
    measured: str
    at: Ms | None = None
    todo: str = ""


def word_terms(case: Case) -> Iterator[Term]:
    """Talking points, refused phrases, the code spoken, goods told."""
    for phrase in case.read.must_say:
        beat = _beat_saying(case.step.beats, phrase)
        asks = " or ".join(way.strip() for way in phrase.split("|") if way.strip())
        yield spoken(case, "Says", asks, beat or _first(case), beat is not None)
    if case.read.code is not None:
        code = case.read.code
        saying = next((beat for beat in case.step.beats if says_code(code, beat.text)), None)
        yield spoken(case, "Says the code", code, saying or _first(case), saying is not None)
    if case.read.goods is not None and case.step.beats:
        first = case.step.beats[0]
        yield spoken(
            case,
            "Says what was free",
            f"{case.read.goods}, in the first beat",
            first,
            says_free(first.text),
        )
    for phrase in case.read.never_say:
        yield _refused(case, phrase)


def spoken(case: Case, name: str, asks: str, beat: Beat | None, written_so: bool) -> Term:
    """A term about words: they must stand in the script, and be heard where the video plays them."""
    if beat is None or not written_so:
        todo = "Put the words into job.md, and record them."
        words = "" if beat is None else beat.text
        return case.term(name, asks, Met.FAIL, "not in the script", words=words, todo=todo)
    voice = _heard(case, beat.id)
    frame = None if voice.at is None else Ms(min(voice.at + 200, case.measured.runtime - 1))
    return case.term(
        name, asks, voice.met, voice.measured, at=voice.at, words=beat.text, todo=voice.todo, frame=frame
    )


def _heard(case: Case, beat: str) -> _Voice:
    """Whether a beat of the read is heard in it."""
    measured, span, level = case.measured, case.span, case.seen.level
    if measured.draft and beat not in measured.takes:  # a draft speaks with the takes that there are
        at = None if span is None else Ms(span.start + _into(case, beat))
        todo = "Record it, or measure it again on the final export."
        return _Voice(Met.OPEN, "in the script, and not recorded yet", at, todo)
    if not measured.sound:
        return _Voice(Met.FAIL, "the video has no sound", None, "Export it again with its sound.")
    if span is None:
        return _Voice(Met.OPEN, "the read was not found", None, "Mend the disclosure, then measure again.")
    if level is not None and level < SILENT:
        told = (
            f"silent: the read's sound reaches {level:.0f} dB, and {SILENT:.0f} dB are the least for a voice"
        )
        return _Voice(Met.FAIL, told, span.start, "Put the narration back.")
    at = Ms(span.start + _into(case, beat))
    if beat not in measured.takes:
        told = f"in the script; sound at {level or 0:.0f} dB, but there is no take of it to compare with"
        return _Voice(Met.OPEN, told, at, f"Listen from {stamp(at)} on, or keep its recording in takes/.")
    take = measured.takes[beat]
    if take is None:
        return _Voice(Met.FAIL, "its recorded take is not heard in the video", at, "Lay the take in again.")
    told = f"the take {take.file} is heard at {stamp(take.start)}"
    if span.start - NEAR <= take.start < span.end:
        return _Voice(Met.PASS, f"{told}, {level or 0:.0f} dB", take.start)
    return _Voice(Met.FAIL, f"{told}, outside the read", take.start, "Bring words and disclosure together.")


def _into(case: Case, beat: str) -> Ms:
    """How far into the read a beat begins, as planned."""
    return next((time.start for time in case.time.beats if time.id == beat), Ms(0))


def _refused(case: Case, phrase: str) -> Term:
    """A phrase that nobody may say: in the script of the whole episode, and in its takes."""
    beats = [beat for laid in case.episode.steps for beat in laid.step.beats]
    saying = next(
        (beat for laid in case.episode.steps if (beat := _beat_saying(laid.step.beats, phrase))), None
    )
    if saying is not None:
        todo = "Say it in other words, and record it anew."
        return case.term("Never says", phrase, Met.FAIL, "in the script", words=saying.text, todo=todo)
    takes = case.measured.takes
    heard = sum(takes.get(beat.id) is not None for beat in beats)
    if beats and heard == len(beats):
        return case.term(
            "Never says", phrase, Met.PASS, f"not in the script, and all {heard} takes are heard as recorded"
        )
    told = f"not in the script; {heard} of {len(beats)} beats are heard as recorded"
    return case.term("Never says", phrase, Met.OPEN, told, todo="Listen to what was said beside the script.")


def _first(case: Case) -> Beat | None:
    return case.step.beats[0] if case.step.beats else None


def _beat_saying(beats: Sequence[Beat], phrase: str) -> Beat | None:
    """The beat in which a talking point begins; it may run over into the next."""
    for index, beat in enumerate(beats):
        said = plain(beat.text)
        both = f"{said} {plain(beats[index + 1].text)}" if index + 1 < len(beats) else said
        places = (place_of(way, both) for way in alternatives(phrase))
        if any(place is not None and place < len(said) for place in places):
            return beat
    return None
