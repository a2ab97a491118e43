"""Whether the words keep the deal: the read's length, what it must say, how it begins, and what is never said."""

from __future__ import annotations

import re
from collections.abc import Iterator
from math import ceil

from episodekit.base.findings import Finding, finding
from episodekit.base.place import Place
from episodekit.base.text import counted
from episodekit.base.time import Ms
from episodekit.job.contract import FreeGoods, Read
from episodekit.job.model import Beat, Plan, Step
from episodekit.slots import rules
from episodekit.slots.phrases import alternatives, opening, place_of, plain, says_code, says_free, says_paid
from episodekit.slots.terms import Text

_EARNS = re.compile(r"\b(affiliate|commission|i earn|i get a (share|cut|little)|earns? me|pays? me)\b")


def check_read(plan: Plan, text: Text, spoken: Ms, words: int) -> tuple[Finding, ...]:
    """Whether the read's words keep the contract. `spoken` and `words` count its beats."""
    name = text.step.read or ""
    read = plan.front.reads[name]
    found: list[Finding] = []
    if read.length is not None and text.length not in read.length:
        found.append(_length(plan, name, read, text.length, spoken, words))
    found += _must_say(plan, name, read, text.step)
    if text.step.beats:
        found += _beginning(name, read, text.step.beats[0])
    if "seen" not in read.disclosure:
        message = f"The read '{name}' asks for no disclosure on screen."
        remedy = "Write `disclosure: heard and seen`."
        found.append(finding(rules.NOT_SEEN, plan.where("reads", name, "disclosure"), message, remedy))
    return tuple(found)


def check_words(plan: Plan) -> tuple[Finding, ...]:
    """Whether the whole episode keeps what was agreed: refused phrases, goods received free, paying links."""
    return (*_never_said(plan), *_free_goods(plan), *_paying_links(plan))


def _must_say(plan: Plan, name: str, read: Read, step: Step) -> Iterator[Finding]:
    spoken = " ".join(beat.text for beat in step.beats)
    said = plain(spoken)
    for phrase in read.must_say:
        ways = alternatives(phrase)
        if not any(place_of(way, said) is not None for way in ways):
            wanted = (
                " or ".join(f"'{way.strip()}'" for way in phrase.split("|") if way.strip()) or f"'{phrase}'"
            )
            remedy = "Put these words into the read." if len(ways) < 2 else "Put one of them into the read."
            message = f"The read '{name}' never says {wanted}."
            yield finding(rules.MUST_SAY, plan.where("reads", name, "must say"), message, remedy)
    if read.code is not None and not says_code(read.code, spoken):
        message = f"The read '{name}' never says its code {read.code}."
        remedy = f"Write {read.code} into the read, in these letters, or spelled out."
        yield finding(rules.CODE, plan.where("reads", name, "code"), message, remedy)


def _beginning(name: str, read: Read, first: Beat) -> Iterator[Finding]:
    if "heard" in read.disclosure and not says_paid(opening(first.text)):
        message = f"The first sentence of the read '{name}' does not say that it is paid for."
        remedy = f"Begin with it, such as: This part is paid for by {read.sponsor}."
        yield finding(rules.NOT_HEARD, first.at, message, remedy)
    if read.goods is not None and not says_free(first.text):
        message = f"The read '{name}' does not say at its start that you received {read.goods} free."
        remedy = "Say it in the first beat, such as: they also sent it to me free of charge."
        yield finding(rules.GOODS, first.at, message, remedy)


def _never_said(plan: Plan) -> Iterator[Finding]:
    """Refused phrases in what is spoken and in titles, which are read on screen and in the chapters."""
    texts = [("The title", plan.front.title, plan.where("title"))]
    texts += [("A heading", section.title, section.at) for section in plan.sections]
    texts += [("A heading", step.title, step.at) for step in plan.all_steps() if not step.implicit]
    shown = [(what, plain(text), at) for what, text, at in texts]
    spoken = [_joined(step) for step in plan.all_steps() if step.beats]
    for name, read in plan.front.reads.items():
        for phrase in (way for entry in read.never_say for way in alternatives(entry)):
            places = [(what, at) for what, text, at in shown if place_of(phrase, text) is not None]
            for said, beats in spoken:
                places += [("A beat", at) for at in _beats_with(phrase, said, beats)]
            for what, at in places:
                message = f"{what} says '{phrase}', which the deal with {read.sponsor} refuses."
                remedy = f"Say it in other words, or take it off `never say` of '{name}'."
                yield finding(rules.NEVER_SAY, at, message, remedy)


def _joined(step: Step) -> tuple[str, tuple[tuple[int, Place], ...]]:
    """A step's words in one line, and where in it each beat begins: a phrase may run over two beats."""
    said, starts = "", []
    for beat in step.beats:
        said += " " if said else ""
        starts.append((len(said), beat.at))
        said += plain(beat.text)
    return said, tuple(starts)


def _beats_with(phrase: str, said: str, starts: tuple[tuple[int, Place], ...]) -> Iterator[Place]:
    found = place_of(phrase, said)
    at = 0
    while found is not None:
        start = at + found
        yield next(place for begins, place in reversed(starts) if begins <= start)
        at = next((begins for begins, _ in starts if begins > start), len(said))
        found = place_of(phrase, said[at:])


def _free_goods(plan: Plan) -> Iterator[Finding]:
    for name, goods in plan.front.free_goods.items():
        steps = plan.steps
        first = next((n for n, step in enumerate(steps) if name in step.uses), None)
        if first is None:
            message = f"No step uses the free goods '{name}'."
            remedy = f"Write `- uses: {name}` under the step that shows them, or take them off `free goods`."
            yield finding(rules.UNUSED_GOODS, plan.where("free goods", name), message, remedy)
        elif not any(_tells(goods, beat) for step in steps[: first + 1] for beat in step.beats):
            title = steps[first].title
            message = f"'{title}' uses {goods.what} from {goods.giver}, and nobody has said that it was free."
            remedy = f"Say in this step or before it that {goods.giver} gave it to you free, and name it."
            yield finding(rules.GOODS, steps[first].where("uses"), message, remedy)


def _tells(goods: FreeGoods, beat: Beat) -> bool:
    """Whether a beat says that these goods were free: it names the giver or the thing, and says so."""
    names = {
        word for word in re.findall(r"\w{3,}", plain(f"{goods.giver} {goods.what}")) if word not in _SMALL
    }
    return bool(names & set(re.findall(r"\w+", plain(beat.text)))) and says_free(beat.text)


_SMALL = {
    "the",
    "and",
    "for",
    "from",
    "with",
    "set",
    "two",
    "three",
    "ltd",
    "inc",
    "gmbh",
    "year",
    "all",
    "its",
    "free",
}


def _paying_links(plan: Plan) -> Iterator[Finding]:
    told = any(_EARNS.search(plain(beat.text)) for step in plan.all_steps() for beat in step.beats)
    for name, read in plan.front.reads.items():
        if read.link_pays and not told:
            message = f"You earn by the link of '{name}'; the description says so, and no beat does."
            remedy = "Say it where you name the link, such as: I earn a little if you buy there."
            yield finding(rules.LINK_PAYS, plan.where("reads", name, "link pays"), message, remedy)


def _length(plan: Plan, name: str, read: Read, length: Ms, spoken: Ms, words: int) -> Finding:
    assert read.length is not None
    each = spoken / words if words else 400
    low, high = read.length.low, read.length.high
    message = f"The read '{name}' runs {length / 1000:.1f} s; its contract asks {low / 1000:g} to {high / 1000:g} s."
    if length > high:
        remedy = f"Trim about {counted(max(1, ceil((length - high) / each)), 'word')}, or widen `length`."
    else:
        remedy = f"Add about {counted(max(1, ceil((low - length) / each)), 'word')}, or widen `length`."
    return finding(rules.LENGTH, plan.where("reads", name, "length"), message, remedy)
