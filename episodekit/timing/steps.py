"""When each beat of a step is said, and how long the step plays at least. All in ms from the step's start.

A step is a row of blocks, one a beat: the words and the pause after them, or the views that must be shown
with that beat, whichever is longer. A step without words is one block of its must-shows.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass

from episodekit.base.time import Ms
from episodekit.job.model import Limits, Step, Voice
from episodekit.timing.speech import Spoken, spoken_length, together
from episodekit.timing.words import Dictionary, word_count


@dataclass(frozen=True)
class BeatTime:
    """A beat in its step: the words run from `start` for `length`, or nine times in ten for `low` to `high`."""

    id: str
    start: Ms
    length: Ms
    words: int
    low: Ms
    high: Ms


@dataclass(frozen=True)
class Block:
    """A stretch of the step: `beat` is its index (-1 if the step has no words); half-open."""

    beat: int
    start: Ms
    end: Ms


@dataclass(frozen=True)
class StepTime:
    """A step's screen time as planned, from its words and must-shows."""

    step: str
    length: Ms
    beats: tuple[BeatTime, ...]
    blocks: tuple[Block, ...]

    @property
    def spoken(self) -> Ms:
        """Time with words, pauses inside beats included."""
        return Ms(sum(beat.length for beat in self.beats))

    @property
    def spoken_range(self) -> Spoken:
        """The same time with its range: nine times in ten it is from `low` to `high`."""
        return together(Spoken(beat.length, beat.low, beat.high) for beat in self.beats)

    @property
    def words(self) -> int:
        """Words of all beats, figures written out."""
        return sum(beat.words for beat in self.beats)


NO_WORDS: Dictionary = {}


def time_step(
    step: Step,
    voice: Voice,
    limits: Limits,
    takes: Mapping[str, Ms] | None = None,
    *,
    opens: bool = False,
    dictionary: Dictionary = NO_WORDS,
) -> StepTime:
    """Time a step. It plays at least `limits.shortest_shot`, even without a word.

    A beat that was recorded is as long as its take. `opens` says that the step opens a section after the
    first: the words are held back until the new scene has been seen. Without a dictionary the lengths rest on
    letters and are a little less sure.
    """
    beats: list[BeatTime] = []
    blocks: list[Block] = []
    at = 0
    count = max(1, len(step.beats))
    for index in range(count):
        shown = sum(m.length for m in step.must_show if min(m.beat, count - 1) == index)
        lead = (voice.new_section if opens else voice.lead) if index == 0 else 0
        spoken = 0
        if step.beats:
            beat = step.beats[index]
            said = spoken_length(beat.paragraphs, voice, dictionary)
            if takes and beat.id in takes:  # recorded: nothing left to guess
                said = Spoken(takes[beat.id], takes[beat.id], takes[beat.id])
            beats.append(
                BeatTime(beat.id, Ms(at + lead), said.length, word_count(beat.text), said.low, said.high)
            )
            spoken = lead + said.length + (voice.tail if index == count - 1 else voice.breath)
        end = at + max(spoken, shown)
        if index == count - 1:
            end = max(end, limits.shortest_shot)
        blocks.append(Block(index if step.beats else -1, Ms(at), Ms(end)))
        at = end
    return StepTime(step.id, Ms(at), tuple(beats), tuple(blocks))
