"""Whether a read's words keep its contract: length, phrases, disclosure."""

from __future__ import annotations

import re
from math import ceil

from episodekit.base.findings import Finding, finding
from episodekit.base.text import counted
from episodekit.base.time import Ms
from episodekit.job.contract import Read
from episodekit.job.model import Plan
from episodekit.slots import rules
from episodekit.slots.terms import Text

_PAID = re.compile(r"\b(sponsor\w*|paid|advert\w*|ad|promotion)\b", re.IGNORECASE)


def check_read(plan: Plan, text: Text, spoken: Ms, words: int) -> tuple[Finding, ...]:
    """Whether the read's words keep the contract. `spoken` and `words` count its beats."""
    name = text.step.read or ""
    read = plan.front.reads[name]
    found: list[Finding] = []
    if read.length is not None and text.length not in read.length:
        found.append(_length(plan, name, read, text.length, spoken, words))
    said = " ".join(" ".join(beat.text for beat in text.step.beats).lower().split())
    for phrase in read.must_say:
        if " ".join(phrase.lower().split()) not in said:
            remedy = "Put these words into the read."
            message = f"The read '{name}' never says '{phrase}'."
            found.append(finding(rules.MUST_SAY, plan.where("reads", name, "must say"), message, remedy))
    if "heard" in read.disclosure and text.step.beats and not _PAID.search(text.step.beats[0].text):
        message = f"The first lines of the read '{name}' do not say that it is paid for."
        found.append(
            finding(rules.NOT_HEARD, text.step.beats[0].at, message, "Say who sponsors it in the first line.")
        )
    if "seen" not in read.disclosure:
        message = f"The read '{name}' asks for no disclosure on screen."
        remedy = "Write `disclosure: heard and seen`."
        found.append(finding(rules.NOT_SEEN, plan.where("reads", name, "disclosure"), message, remedy))
    return tuple(found)


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
