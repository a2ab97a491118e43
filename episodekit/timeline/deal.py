"""What a deal puts on the screen: the disclosure over a read, its code, and goods received free.

A read is disclosed from its first frame to its last, on slates as well as on footage. Goods received free are
disclosed for as long as the first step that uses them plays, and at the beginning of each later one.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from math import ceil
from urllib.parse import urlsplit

from episodekit.base.findings import Finding, finding
from episodekit.base.time import Frames, Ms, Rate, frames_to_ms, ms_to_frames
from episodekit.job.contract import Read
from episodekit.job.model import Plan, Step
from episodekit.slots.phrases import says_code
from episodekit.slots.rules import CODE_SHOWN
from episodekit.timeline.model import Overlay, OverlayKind
from episodekit.timeline.turns import breadth, in_turns, shares
from episodekit.timing.steps import StepTime

# The words on screen. "Ad" comes first, since a viewer reads no further (FTC, Disclosures 101: plain words; UK
# CAP Code, section 2: identifiable as advertising).
AD = "Ad · paid for by {sponsor}"
FREE = "Free from {giver}: {what}"
CODE = "Code {code}"

LATER_USE = Ms(5000)
"""How long goods received free are disclosed in a later step that uses them. Common practice, no source."""

ON_BOARD = 80
"""Letters of a disclosure at a time: what its board holds at full size in every accepted picture (a test
draws it)."""


def read_overlays(
    plan: Plan, step: Step, time: StepTime, rate: Rate, start: int, end: int
) -> Iterator[Overlay]:
    """The boards of the read that `step` speaks, played from frame `start` to `end`."""
    read = plan.front.reads[step.read or ""]
    text = AD.format(sponsor=read.sponsor)
    if read.goods is not None:
        both = f"{text}\n{FREE.format(giver=read.sponsor, what=read.goods)}"
        text = both if breadth(both) <= ON_BOARD else text
    yield Overlay(OverlayKind.DISCLOSURE, text, Frames(start), Frames(end))
    span = code_span(read, step, time, rate, start, end)
    if read.code is not None and span is not None:
        host = urlsplit(read.link).hostname or "" if read.link else ""
        yield Overlay(OverlayKind.CODE, CODE.format(code=read.code), *span, host)


def code_span(
    read: Read, step: Step, time: StepTime, rate: Rate, start: int, end: int
) -> tuple[Frames, Frames] | None:
    """The frames in which the code is on screen: from the beat that says it, as long as the deal asks.

    To the read's end where the deal names no length, and never beyond it. None without a code.
    """
    if read.code is None:
        return None
    beat = next((n for n, beat in enumerate(step.beats) if says_code(read.code, beat.text)), 0)
    into = ms_to_frames(time.beats[beat].start, rate) if beat < len(time.beats) else 0
    first = min(start + into, end)
    wanted = end if read.code_shown is None else first + _frames_for(read.code_shown, rate)
    return (Frames(first), Frames(min(wanted, end))) if first < end else None


def _frames_for(length: Ms, rate: Rate) -> int:
    """The fewest frames that last at least so long."""
    return ceil(length * rate.exact / 1000)


def check_code_shown(plan: Plan, step: Step, time: StepTime, frames: Frames) -> tuple[Finding, ...]:
    """Whether the read leaves its code on screen for as long as the deal asks; `frames` is how long it plays."""
    read = plan.front.reads[step.read or ""]
    rate = plan.front.frame_rate
    span = code_span(read, step, time, rate, 0, frames)
    if read.code_shown is None or read.code is None:
        return ()
    shown = 0 if span is None else span[1] - span[0]
    if shown >= _frames_for(read.code_shown, rate):
        return ()
    has, asked = frames_to_ms(Frames(shown), rate) / 1000, read.code_shown / 1000
    message = f"The read '{step.read}' shows its code for {has:.1f} s; its contract asks {asked:g} s."
    remedy = f"Say {read.code} about {asked - has:.1f} s earlier, or let the read go on after it."
    return (finding(CODE_SHOWN, plan.where("reads", step.read or "", "code shown"), message, remedy),)


def goods_overlays(
    plan: Plan, step: Step, rate: Rate, start: int, end: int, first_uses: Mapping[str, str]
) -> Iterator[Overlay]:
    """The boards of the goods received free that `step` uses. `first_uses` names each one's first step.

    None during a read: its own board is there, and says it as well. Texts that one board cannot hold are
    shown in turns.
    """
    if step.read is not None:
        return
    new = [name for name in step.uses if first_uses.get(name) == step.id]
    texts = [text for name in new or step.uses if (text := _free(plan, name))]
    until = end if new else min(end, start + ms_to_frames(LATER_USE, rate))
    turns = in_turns(texts, ON_BOARD)
    length = ceil((until - start) / max(1, len(turns)))
    for (first, last), turn in zip(shares(start, until, len(turns), length), turns, strict=False):
        yield Overlay(OverlayKind.DISCLOSURE, "\n".join(turn), Frames(first), Frames(last))


def _free(plan: Plan, name: str) -> str:
    """What is said of goods on screen; "" if the name is unknown or the sponsor gave none."""
    given = plan.front.free_goods.get(name)
    if given is not None:
        return FREE.format(giver=given.giver, what=given.what)
    read = plan.front.reads.get(name)
    return "" if read is None or read.goods is None else FREE.format(giver=read.sponsor, what=read.goods)
