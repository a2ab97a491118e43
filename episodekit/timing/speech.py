"""The spoken length of a text, with the range it falls into nine times in ten. One door: `spoken_length`.

The model: every speech sound, every weighty word and every pause takes its time, and one factor k, the
narrator's, scales them all: `k (0.060 sounds + 0.075 weighty words + 0.42 stops + 0.33 commas)` seconds, counted
after figures are written out. A long sound (a gliding vowel, a hiss) counts as two. Words that only carry grammar
(the, of, is) take their sounds' time and no more.

Where the numbers come from: `tests/voices/fit_constants.py` fits them over 108 beats in 12 machine voices of three
families and every second one of 50 recorded prompts of one human narrator, who counts as much as a family; they
are rounded, the stop down a little, as 76 beats of plainer prose asked for. They were not fitted to the beats and
prompts on which `tests/test_timing_voices.py` measures them (DEVELOPERS.md has the figures). How often stops,
commas and weighty words come in ordinary narration was counted in the samples' plans. The pause between
paragraphs is common practice, no source.
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from fractions import Fraction
from functools import lru_cache
from math import sqrt

from episodekit.base.time import Ms, nearest
from episodekit.job.model import Voice
from episodekit.timing.words import Content, Dictionary, content

# Milliseconds at k = 1.
SOUND = Fraction(60)
WEIGHTY = Fraction(75)
STOP = Fraction(420)
COMMA = Fraction(330)
BREAK = Fraction(500)

# Ordinary narration: what comes with a word of it.
SOUNDS_A_WORD = Fraction(36, 10)
WEIGHTY_A_WORD = Fraction(51, 100)
STOPS_A_WORD = Fraction(1, 13)
COMMAS_A_WORD = Fraction(1, 13)

SOUND_A_WORD = SOUND * SOUNDS_A_WORD + WEIGHTY * WEIGHTY_A_WORD
_LEAST_SOUND = Fraction(1, 4)
"""However long the pauses, so much of the time at least is words: pauses alone cannot use up a pace."""

_SHARED, _OWN = 0.5, 0.866
"""Of a beat's error, the part that all beats of a narrator share, and the part of its own."""


@dataclass(frozen=True)
class Spoken:
    """How long it takes to say: most likely `length`, from `low` to `high` nine times in ten. All in ms."""

    length: Ms
    low: Ms
    high: Ms


@dataclass(frozen=True)
class VoiceTimes:
    """A voice in figures: the factor on all sounds, and its pauses in ms."""

    k: Fraction
    stop: Fraction
    comma: Fraction
    paragraph: Fraction


@lru_cache(maxsize=64)  # one voice says all beats of a plan
def voice_times(voice: Voice) -> VoiceTimes:
    """What a pace means for sounds and pauses.

    `pace` is words a minute over ordinary narration, pauses included. So a voice with longer pauses of its own
    says the words between them faster; pauses that it does not give grow and shrink with its pace.
    """
    word = Fraction(60_000) / voice.pace
    scaled = SOUND_A_WORD
    fixed = Fraction(0)
    for own, default, often in ((voice.stop, STOP, STOPS_A_WORD), (voice.comma, COMMA, COMMAS_A_WORD)):
        if own is None:
            scaled += default * often
        else:
            fixed += own * often
    k = max(word - fixed, word * _LEAST_SOUND) / scaled
    return VoiceTimes(
        k,
        k * STOP if voice.stop is None else Fraction(voice.stop),
        k * COMMA if voice.comma is None else Fraction(voice.comma),
        k * BREAK if voice.paragraph is None else Fraction(voice.paragraph),
    )


def sound_of(said: Content) -> Fraction:
    """Milliseconds of sound at k = 1, without any pause."""
    return SOUND * said.sounds + WEIGHTY * said.weighty


def length_of(said: Content, voice: Voice) -> Ms:
    """How long the voice takes to say what was counted, in ms (nearest)."""
    times = voice_times(voice)
    pauses = times.stop * said.stops + times.comma * said.commas + times.paragraph * said.breaks
    return Ms(nearest(times.k * sound_of(said) + pauses))


def spoken_length(paragraphs: Sequence[str], voice: Voice, dictionary: Dictionary) -> Spoken:
    """How long the voice takes to say the paragraphs, in ms (nearest).

    The pause after the last word is not counted: the breath between beats is the fit's business. A text without
    a word takes no time. An empty dictionary is fine; letters then stand in for speech sounds.

    >>> spoken_length(("It drifts left on its own.",), Voice(pace=150), {})
    Spoken(length=1750, low=1435, high=2065)
    """
    return with_range(length_of(content(paragraphs, dictionary), voice), voice)


def with_range(length: Ms, voice: Voice) -> Spoken:
    """A length with the voice's spread around it, both ends to the nearest ms."""
    return Spoken(length, Ms(nearest(length * (1 - voice.spread))), Ms(nearest(length * (1 + voice.spread))))


def together(beats: Iterable[Spoken]) -> Spoken:
    """Several beats in a row. Their own errors even out, what they share does not, so the range narrows.

    >>> together([Spoken(1000, 800, 1200)] * 10)
    Spoken(length=10000, low=8860, high=11140)
    """
    gathered = list(beats)
    length = sum(beat.length for beat in gathered)
    half = [(beat.high - beat.low) / 2 for beat in gathered]
    off = nearest(Fraction(sqrt((_SHARED * sum(half)) ** 2 + sum((_OWN * one) ** 2 for one in half))))
    return Spoken(Ms(length), Ms(max(0, length - off)), Ms(length + off))
