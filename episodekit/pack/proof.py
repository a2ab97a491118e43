"""Each term of a read's deal: what it asks, what was measured in the finished video, and whether that meets it.

A term passes only by a measurement. What no machine measured, words that were not recorded as takes among it, stays
open, with what to do. Local law and the signed contract decide.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass, replace
from enum import StrEnum

from episodekit.base.text import counted
from episodekit.base.time import Frames, Ms, frames_to_ms
from episodekit.job.contract import Read
from episodekit.job.model import Beat, Step
from episodekit.pack.dates import Deadline, deadlines, written
from episodekit.pack.description import FIRST_LINES
from episodekit.pack.measured import Measured, ReadSeen, Span
from episodekit.pack.terms import terms_of
from episodekit.slots.phrases import alternatives, opening, place_of, plain, says_code, says_free, says_paid
from episodekit.slots.place import PlacedRead
from episodekit.timeline.episode import Episode
from episodekit.timing.steps import StepTime

# What a disclosure has to reach: ISO 9241-3 (16 arc-minutes at least, 20 to 22 preferred by NUREG-0700, 1.3.1-4)
# and WCAG 2.2, 1.4.3 (4.5 to 1).
LEAST_ARC_MINUTES = 16.0
LEAST_CONTRAST = 4.5

SILENT = -50.0
"""dB below full scale: quieter than any narration that was meant to be heard. Common practice, no source."""

NEAR = Ms(500)
"""How far outside its read a take may begin. Common practice, no source."""

MARKED = Ms(1000)
"""How far a chapter may lie from where its read begins: its stamp is in whole seconds."""


class Met(StrEnum):
    """Whether a term is met. Open: nobody measured it."""

    PASS = "pass"
    FAIL = "fail"
    OPEN = "open"


@dataclass(frozen=True)
class Term:
    """One term. `at` is where in the video it was measured, `frame` the frame that shows it, both in ms.

    `asks` is the term as agreed, `measured` what was found, `words` what is spoken there, `todo` what is left to do.
    """

    read: str
    name: str
    asks: str
    met: Met
    measured: str
    at: Ms | None = None
    words: str = ""
    todo: str = ""
    frame: Ms | None = None

    @property
    def where(self) -> str:
        """The place in the video, to the tenth of a second; "" if it has none."""
        return "" if self.at is None else stamp(self.at)


@dataclass(frozen=True)
class _Case:
    """One read with everything its terms look at."""

    name: str
    read: Read
    step: Step
    time: StepTime
    placed: PlacedRead
    seen: ReadSeen
    measured: Measured
    episode: Episode

    @property
    def span(self) -> Span | None:
        """Where the read is in the video, by its disclosure."""
        return self.seen.ad.span

    @property
    def slack(self) -> int:
        """What another frame rate may take from a stretch: a frame of the draft and one of the video, in ms."""
        return frames_to_ms(Frames(1), self.episode.timeline.rate) + 1 + self.measured.frame

    def term(self, name: str, asks: str, met: Met, measured: str, **more: object) -> Term:
        """A term of this read."""
        return replace(Term(self.name, name, asks, met, measured), **more)  # type: ignore[arg-type]  # Term's fields

    def unseen(self, name: str, asks: str) -> Term:
        """A term that cannot be measured, since the read was not found."""
        return self.term(
            name, asks, Met.OPEN, "the read was not found", todo="Mend the disclosure, then measure again."
        )


@dataclass(frozen=True)
class _Voice:
    """What was heard of some words."""

    met: Met
    measured: str
    at: Ms | None = None
    todo: str = ""


def stamp(ms: Ms) -> str:
    """A place in a video, to the nearest tenth of a second.

    >>> stamp(Ms(64_960)), stamp(Ms(3_600_000))
    ('1:05.0', '1:00:00.0')
    """
    tenths = (ms + 50) // 100
    minutes, rest = divmod(tenths, 600)
    seconds = f"{rest // 10:02d}.{rest % 10}"
    return f"{minutes // 60}:{minutes % 60:02d}:{seconds}" if minutes >= 60 else f"{minutes}:{seconds}"


def prove(episode: Episode, measured: Measured, description: str | None) -> dict[str, tuple[Term, ...]]:
    """The terms of each read, by its name, in the order in which they play.

    `description` is the text that goes under the video, None if it is not written yet.
    """
    found: dict[str, tuple[Term, ...]] = {}
    for placed in sorted(episode.reads, key=lambda one: one.start):
        laid = next(one for one in episode.steps if one.step.read == placed.name)
        read = episode.plan.front.reads[placed.name]
        seen = measured.reads[placed.name]
        case = _Case(placed.name, read, laid.step, laid.time, placed, seen, measured, episode)
        found[placed.name] = (
            *_place(case),
            *_disclosure(case),
            *_words(case),
            *_code(case),
            *_clear(case),
            *_after(case, description),
        )
    return found


def _place(case: _Case) -> Iterator[Term]:
    """Length and window."""
    asked, span = dict(terms_of(case.read)), case.span
    frame = None if span is None else _inside(span, 0.5)
    if case.read.length is not None:
        if span is None:
            yield case.unseen("Length", asked["length"])
        else:
            low, high = case.read.length.low, case.read.length.high
            good = low - case.slack <= span.length <= high + case.slack
            told = f"{_seconds(span.length)}, from {stamp(span.start)} to {stamp(span.end)}"
            todo = "" if good else f"It is {_seconds(_off(span.length, low, high))} off. Cut the read anew."
            yield case.term(
                "Length", asked["length"], _met(good), told, at=span.start, todo=todo, frame=frame
            )
    if case.read.starts is not None:
        if span is None:
            yield case.unseen("Start", asked["starts"])
            return
        runtime = case.measured.runtime
        low, high = case.read.starts.low.at(runtime), case.read.starts.high.at(runtime)
        good = low - case.slack <= span.start <= high + case.slack
        share = f"{span.start * 100 / runtime:.1f}%" if runtime else "0%"
        told = f"starts at {stamp(span.start)}, {share} of the run time of {stamp(runtime)}"
        todo = "" if good else f"Move it to {stamp(low)} to {stamp(high)}."
        yield case.term(
            "Start", asked["starts"], _met(good), told, at=span.start, todo=todo, frame=span.start
        )


def _disclosure(case: _Case) -> Iterator[Term]:
    """Seen: for the whole read, large and strong enough. Heard: in the first sentence."""
    asks = "on screen for the whole read"
    span, planned = case.span, case.placed.length
    if span is None:
        todo = (
            "Lay it over the whole read as in the draft, uncovered; cut the draft again if the plan changed."
        )
        yield case.term("Disclosure seen", asks, Met.FAIL, "not found anywhere in the video", todo=todo)
    else:
        gaps = [Span(a.end, b.start) for a, b in zip(case.seen.ad.runs, case.seen.ad.runs[1:], strict=False)]
        short = planned - span.length
        told = f"{stamp(span.start)} to {stamp(span.end)}: {_seconds(span.length)} of {_seconds(planned)} planned"
        faults = [f"gone for {_seconds(gap.length)} at {stamp(gap.start)}" for gap in gaps]
        if short > case.slack:
            faults.append(f"{_seconds(Ms(short))} are missing")
        todo = ""
        if faults:
            todo = "Bring back what was cut or covered; if the read is shorter on purpose, shorten it in job.md too."
        yield case.term(
            "Disclosure seen",
            asks,
            _met(not faults),
            "; ".join((told, *faults)),
            at=gaps[0].start if gaps else span.start,
            todo=todo,
            frame=_inside(gaps[0] if gaps else span, 0.5),
        )
        yield _legible(case, span)
    if "heard" in case.read.disclosure and case.step.beats:
        first = case.step.beats[0]
        yield _spoken(
            case, "Disclosure heard", "in the read's first sentence", first, says_paid(opening(first.text))
        )


def _legible(case: _Case, span: Span) -> Term:
    asks = f"letters of {LEAST_ARC_MINUTES:g} arc-minutes on a phone at 32 cm, contrast {LEAST_CONTRAST:g}:1"
    size, contrast = case.seen.ad.arc_minutes, case.seen.ad.contrast
    if size is None or contrast is None:
        todo = "Look at it on a phone."
        return case.term(
            "Disclosure readable", asks, Met.OPEN, "its letters could not be measured", todo=todo
        )
    good = size >= LEAST_ARC_MINUTES and contrast >= LEAST_CONTRAST
    told = f"{size:.1f} arc-minutes, contrast {contrast:.1f}:1 at its lowest"
    todo = "" if good else "Show it larger, or on its own dark ground, as in the draft."
    return case.term(
        "Disclosure readable", asks, _met(good), told, at=span.start, todo=todo, frame=_inside(span, 0.25)
    )


def _words(case: _Case) -> Iterator[Term]:
    """Talking points, refused phrases, the code spoken, goods told."""
    for phrase in case.read.must_say:
        beat = _beat_saying(case.step.beats, phrase)
        yield _spoken(case, "Says", phrase, beat or _first(case), beat is not None)
    if case.read.code is not None:
        code = case.read.code
        saying = next((beat for beat in case.step.beats if says_code(code, beat.text)), None)
        yield _spoken(case, "Says the code", code, saying or _first(case), saying is not None)
    if case.read.goods is not None and case.step.beats:
        first = case.step.beats[0]
        yield _spoken(
            case,
            "Says what was free",
            f"{case.read.goods}, in the first beat",
            first,
            says_free(first.text),
        )
    for phrase in case.read.never_say:
        yield _refused(case, phrase)


def _first(case: _Case) -> Beat | None:
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


def _spoken(case: _Case, name: str, asks: str, beat: Beat | None, written_so: bool) -> Term:
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


def _heard(case: _Case, beat: str) -> _Voice:
    """Whether a beat of the read is heard in it."""
    measured, span, level = case.measured, case.span, case.seen.level
    if measured.draft:
        at = None if span is None else Ms(span.start + _into(case, beat))
        todo = "Measure it again on the final export."
        return _Voice(Met.OPEN, "in the script; a draft carries no narration", at, todo)
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


def _into(case: _Case, beat: str) -> Ms:
    """How far into the read a beat begins, as planned."""
    return next((time.start for time in case.time.beats if time.id == beat), Ms(0))


def _refused(case: _Case, phrase: str) -> Term:
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
    if not case.measured.draft and beats and heard == len(beats):
        return case.term(
            "Never says", phrase, Met.PASS, f"not in the script, and all {heard} takes are heard as recorded"
        )
    told = f"not in the script; {heard} of {len(beats)} beats are heard as recorded"
    return case.term("Never says", phrase, Met.OPEN, told, todo="Listen to what was said beside the script.")


def _code(case: _Case) -> Iterator[Term]:
    """How long the code is on screen, inside the read."""
    if case.read.code is None:
        return
    asks = f"{case.read.code} on screen"
    if case.read.code_shown is not None:
        asks += f" for {dict(terms_of(case.read))['code shown']}"
    span = case.span
    if span is None:
        yield case.unseen("Shows the code", asks)
        return
    inside = [
        Span(Ms(max(run.start, span.start)), Ms(min(run.end, span.end)))
        for run in case.seen.code.runs
        if run.start < span.end and run.end > span.start
    ]
    longest = max(inside, key=lambda run: run.length, default=None)
    if longest is None:
        todo = "Lay the code's board over the read as in the draft."
        yield case.term("Shows the code", asks, Met.FAIL, "not found in the read", at=span.start, todo=todo)
        return
    good = case.read.code_shown is None or longest.length >= case.read.code_shown - case.slack
    size, contrast = case.seen.code.arc_minutes, case.seen.code.contrast
    told = f"{stamp(longest.start)} to {stamp(longest.end)}: {_seconds(longest.length)}"
    if size is not None and contrast is not None:
        told += f"; {size:.0f} arc-minutes, contrast {contrast:.1f}:1"
        good = good and size >= LEAST_ARC_MINUTES and contrast >= LEAST_CONTRAST
    todo = "" if good else "Leave it on screen longer, at its full size."
    yield case.term(
        "Shows the code", asks, _met(good), told, at=longest.start, todo=todo, frame=_inside(longest, 0.5)
    )


def _clear(case: _Case) -> Iterator[Term]:
    """Each distance that was asked; those that stand by themselves only where there is something to keep clear of."""
    keys = {info.alias or name: name for name, info in type(case.read.keep_clear_of).model_fields.items()}
    for kind, asked in case.read.keep_clear_of.distances().items():
        steps = [laid.step for laid in case.episode.steps if _is_near(kind, laid.step)]
        explicit = keys[kind] in case.read.keep_clear_of.model_fields_set
        asks = f"{asked / 1000:g} s from {_called(kind)}"
        if kind == "ad break":
            todo = "Set the breaks in the host's editor, then compare."
            told = "breaks are not in the video file"
            yield case.term("Keeps clear", asks, Met.OPEN, told, todo=todo)
        elif kind == "read":
            yield from _from_reads(case, asks, asked)
        elif steps:
            yield _from_steps(case, asks, asked, steps)
        elif explicit:
            yield case.term("Keeps clear", asks, Met.PASS, "the episode has none")


def _is_near(kind: str, step: Step) -> bool:
    """Whether a step is what a read keeps clear of, by the key of the distance."""
    if step.read is not None:
        return False
    hazards = {*step.hazards, *(["heat"] if step.heat is not None else [])}
    match kind:
        case "hazard":
            return bool(hazards)
        case "caution":
            return bool(step.cautions)
        case "failure":
            return bool(step.failure)
    return kind in hazards


def _called(kind: str) -> str:
    names = {"hazard": "hazards", "caution": "cautions", "failure": "failures", "read": "other reads"}
    return names.get(kind, "ad breaks" if kind == "ad break" else f"the hazard '{kind}'")


def _from_steps(case: _Case, asks: str, asked: Ms, steps: Sequence[Step]) -> Term:
    span = case.span
    if span is None:
        return case.unseen("Keeps clear", asks)
    far = [(_apart(span, run), step, run) for step in steps for run in case.measured.steps.get(step.id, ())]
    unseen = [step for step in steps if step.id not in case.measured.steps]
    nearest = min(far, key=lambda one: one[0], default=None)
    told = "no board of such a step was found"
    at = None
    if nearest is not None:
        apart, step, run = nearest
        at = run.start if run.start >= span.end else Ms(max(run.start, run.end - 100))
        told = f"'{step.title}' is {_seconds(apart)} away, its caution on screen {stamp(run.start)} to {stamp(run.end)}"
        if apart < asked - case.slack:
            return case.term(
                "Keeps clear", asks, Met.FAIL, told, at=at, frame=at, todo="Move the read or the step."
            )
    if unseen:
        told += f"; no caution of '{unseen[0].title}' was found"
        told += f" and {len(unseen) - 1} more" if len(unseen) > 1 else ""
        todo = f"Look how far '{unseen[0].title}' is from the read."
        return case.term("Keeps clear", asks, Met.OPEN, told, at=at, todo=todo, frame=at)
    return case.term("Keeps clear", asks, Met.PASS, told, at=at, frame=at)


def _from_reads(case: _Case, asks: str, asked: Ms) -> Iterator[Term]:
    span = case.span
    others = {name: seen.ad.span for name, seen in case.measured.reads.items() if name != case.name}
    if span is None:
        yield case.unseen("Keeps clear", asks)
        return
    found = [(_apart(span, other), name, other) for name, other in others.items() if other is not None]
    if found and (nearest := min(found))[0] < asked - case.slack:
        told = f"'{nearest[1]}' is {_seconds(nearest[0])} away"
        yield case.term("Keeps clear", asks, Met.FAIL, told, at=nearest[2].start, todo="Move one of the two.")
    elif lost := [name for name, other in others.items() if other is None]:
        told = f"the read '{lost[0]}' was not found"
        yield case.term("Keeps clear", asks, Met.OPEN, told, todo="Mend its disclosure, then measure again.")
    elif found:
        told = f"'{min(found)[1]}' is {_seconds(min(found)[0])} away"
        yield case.term("Keeps clear", asks, Met.PASS, told, at=min(found)[2].start)
    else:
        yield case.term("Keeps clear", asks, Met.PASS, "the episode has no other")


def _after(case: _Case, description: str | None) -> Iterator[Term]:
    """Goods on screen, the marker, the description, and what happens after the draft."""
    if case.seen.goods:
        yield _goods(case)
    if case.read.marker:
        yield _marker(case)
    if case.read.link is not None:
        yield _link(case.read.link, case, description)
    due = [one for one in deadlines(case.episode.plan) if one.read == case.name]
    if case.read.approval is not None:
        yield _approval(case, due)
    if case.read.link_stays is not None:
        asks = dict(terms_of(case.read))["link stays"]
        stays = next((one for one in due if one.what.startswith("last day")), None)
        until = "set `publish` for the last day" if stays is None else f"until {written(stays.day)}"
        yield case.term("Link stays", asks, Met.OPEN, until, todo="Leave the link where it is until then.")


def _goods(case: _Case) -> Term:
    asks = f"'Free from {case.read.sponsor}' on screen where they are used"
    lost = [length for length, seen in case.seen.goods if not _lasts(seen.runs, length, case.slack)]
    count = len(case.seen.goods)
    runs = [run for _, seen in case.seen.goods for run in seen.runs]
    first = min(runs, key=lambda run: run.start, default=None)
    told = f"{count - len(lost)} of {counted(count, 'board')} on screen for as long as drafted"
    at = None if first is None else first.start
    todo = f"One of {_seconds(lost[0])} is missing or cut." if lost else ""
    frame = None if first is None else _inside(first, 0.5)
    return case.term("Goods disclosed", asks, _met(not lost), told, at=at, todo=todo, frame=frame)


def _lasts(runs: Sequence[Span], length: Ms, slack: int) -> bool:
    return any(run.length >= length - slack for run in runs)


def _marker(case: _Case) -> Term:
    asks, span = "a chapter of its own", case.span
    if span is None:
        return case.unseen("Chapter", asks)
    near = [(abs(at - span.start), title, at) for at, title in case.measured.chapters]
    if near and min(near)[0] <= MARKED:
        return case.term(
            "Chapter", asks, Met.PASS, f"'{min(near)[1]}' at {stamp(min(near)[2])}", at=min(near)[2]
        )
    told = (
        "the file has no chapters"
        if not near
        else f"the nearest, '{min(near)[1]}', is at {stamp(min(near)[2])}"
    )
    if (
        not near and not case.measured.draft
    ):  # many exports drop them, and the description's stamps count then
        todo = f"Check that the description has a stamp at {stamp(span.start)}."
        return case.term("Chapter", asks, Met.OPEN, told, at=span.start, todo=todo)
    return case.term("Chapter", asks, Met.FAIL, told, at=span.start, todo="Cut the draft again.")


def _link(link: str, case: _Case, description: str | None) -> Term:
    if description is None:
        todo = "Run `episodekit plan JOB`, which writes it."
        return case.term("Link", link, Met.OPEN, "the description is not written yet", todo=todo)
    lines = description.splitlines()
    number = next((n for n, line in enumerate(lines, start=1) if link in line), None)
    if number is None:
        todo = "Put it into the description's first lines."
        return case.term("Link", link, Met.FAIL, "not in out/pack/description.txt", todo=todo)
    good = number <= FIRST_LINES
    told = f"line {number} of out/pack/description.txt"
    todo = "" if good else f"Bring it into the first {FIRST_LINES} lines."
    return case.term("Link", link, _met(good), told, words=lines[number - 1], todo=todo)


def _approval(case: _Case, due: Sequence[Deadline]) -> Term:
    asked = dict(terms_of(case.read))
    asks = asked["approval"]
    if "revisions" in asked:
        asks += f", revisions: {asked['revisions']}"
    days = [one for one in due if not one.what.startswith("last day")]
    if not days:
        return case.term(
            "Approval", asks, Met.OPEN, "no day of publishing is set", todo="Set `publish` in job.md."
        )
    told = "; ".join(f"{one.what} by {written(one.day)}" for one in days)
    return case.term("Approval", asks, Met.OPEN, told, todo="Send the draft, and keep the answer.")


def _met(good: bool) -> Met:
    return Met.PASS if good else Met.FAIL


def _apart(one: Span, other: Span) -> Ms:
    """Time between two stretches; none if they touch or overlap."""
    return Ms(max(0, other.start - one.end, one.start - other.end))


def _off(value: int, low: int, high: int) -> Ms:
    return Ms(max(low - value, value - high))


def _inside(span: Span, share: float) -> Ms:
    """A place within a stretch."""
    return Ms(span.start + int(span.length * share))


def _seconds(ms: Ms) -> str:
    """A length to the hundredth of a second.

    >>> _seconds(Ms(21_504))
    '21.50 s'
    """
    return f"{ms / 1000:.2f} s"
