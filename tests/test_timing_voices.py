"""How well lengths are predicted, on voices and beats that no constant was fitted on.

The constants of `timing/speech.py` come from other beats and from every second human prompt
(`tests/voices/fit_constants.py`). Here they meet 65 written beats, the other prompts, 22 later beats, and 39 blind
ones that were written when all constants were settled and measured once. One factor is learned from five beats
drawn at random, all others are predicted; two hundred draws and more.

Machine voices are given the beats as they are written, and in the study also in the words a narrator says. They
do not read figures as a narrator does: the units family says the letters of "200 mA", and its 22 later beats are
5.8 % off as written, and 4.7 % when it says milliamps. All else meets 5 % either way.

`pytest tests/test_timing_voices.py -s` prints the table; `-m study` tries every voice, the fallback without a
dictionary, and all three sets of beats.
"""

from __future__ import annotations

import random
from concurrent.futures import ThreadPoolExecutor
from dataclasses import dataclass
from statistics import mean

import pytest

from episodekit.base.time import Ms
from episodekit.outside.dictionary import load_dictionary
from episodekit.timing.figures import as_spoken
from episodekit.timing.learn import fit_voice, learn
from episodekit.timing.speech import length_of, together, with_range
from episodekit.timing.takes import Told
from episodekit.timing.words import Dictionary, content
from tests.voices import heard
from tests.voices.say import VOICES

# Two voices of each family, of unlike speed; the study takes all of them.
EVERY_DAY = [VOICES[index] for index in (0, 3, 5, 6, 8, 10)]
FAMILIES = ("pico", "formant", "units")


@dataclass(frozen=True)
class Score:
    """Errors as shares of the true length, of beats that the voice was not learned from."""

    beat: float
    worst_tenth: float
    minute: float
    minutes_inside: float
    inside: float

    def __str__(self) -> str:
        return (
            f"beat {self.beat:5.1%}, nine in ten below {self.worst_tenth:5.1%}, whole minutes {self.minute:5.1%}, "
            f"in range {self.inside:4.0%}, minutes in range {self.minutes_inside:4.0%}"
        )


def told(rows: list[heard.Row], dictionary: Dictionary) -> list[Told]:
    return [
        Told(str(index), content((text,), dictionary), Ms(round(seconds * 1000)), ())
        for index, (text, seconds) in enumerate(rows)
    ]


def score(beats: list[Told], draws: int = 200, learned_from: int = 5) -> Score:
    chance = random.Random(7)
    errors, inside, minutes, minutes_inside = [], [], [], []
    for _ in range(draws):
        order = chance.sample(beats, len(beats))
        known, others = order[:learned_from], order[learned_from:]
        voice = fit_voice(known) if learned_from < 10 else learn(known).voice
        lengths = [with_range(length_of(one.said, voice), voice) for one in others]
        errors += [abs(guess.length / one.length - 1) for guess, one in zip(lengths, others, strict=True)]
        inside += [guess.low <= one.length <= guess.high for guess, one in zip(lengths, others, strict=True)]
        first, true = 0, 0
        for index, one in enumerate(others):
            true += one.length
            if true >= 60_000:
                whole = together(lengths[first : index + 1])
                minutes.append(abs(whole.length / true - 1))
                minutes_inside.append(whole.low <= true <= whole.high)
                first, true = index + 1, 0
    worst = sorted(errors)[len(errors) * 9 // 10]
    return Score(mean(errors), worst, mean(minutes), mean(minutes_inside), mean(inside))


Spoken = dict[tuple[str, str, str], list[heard.Row]]


@pytest.fixture(scope="session")
def spoken(tmp_path_factory: pytest.TempPathFactory) -> Spoken:
    """The beats as each everyday voice says them; made once a session."""
    return say_all(EVERY_DAY, heard.beats(), heard.beats(), tmp_path_factory)


@pytest.fixture(scope="session")
def spoken_blind(tmp_path_factory: pytest.TempPathFactory) -> Spoken:
    """The blind beats likewise."""
    lines = heard.beats("blind_beats")
    return say_all(EVERY_DAY, lines, lines, tmp_path_factory)


def say_all(
    voices: list[tuple[str, str, str]], written: list[str], said: list[str], factory: pytest.TempPathFactory
) -> Spoken:
    """The written beats, each with the seconds it takes to say the words beside it."""
    root = factory.mktemp("voices")
    here = [voice for voice in voices if heard.is_here(voice[0])]
    with ThreadPoolExecutor(2) as pool:
        made = pool.map(lambda voice: heard.said_by(voice, said, root / "-".join(voice)), here)
        rows = [[(text, row[1]) for text, row in zip(written, one, strict=True)] for one in made]
        return dict(zip(here, rows, strict=True))


def scores_of(spoken: Spoken, family: str, dictionary: Dictionary) -> list[Score]:
    if not heard.is_here(family):
        pytest.skip(f"{heard.NEEDS[family]} is not installed")
    found = []
    for voice, rows in spoken.items():
        if voice[0] == family:
            found.append(score(told(rows, dictionary)))
            print(f"\n{' '.join(voice):28} {found[-1]}", end="")
    assert found
    return found


def check(found: list[Score], beat: float, minute: float) -> None:
    assert mean(one.beat for one in found) <= beat
    assert mean(one.minute for one in found) <= minute
    assert min(one.inside for one in found) >= 0.9
    assert min(one.minutes_inside for one in found) >= 0.9


def test_beats_are_many_and_of_the_bench() -> None:
    lines = heard.beats()
    assert len(lines) >= 61
    assert sum(as_spoken(line) != line for line in lines) >= 25  # figures, units, part numbers, abbreviations


@pytest.mark.parametrize("family", FAMILIES)
def test_beats_are_predicted_within_five_per_cent_on_each_family_of_machine_voices(
    family: str, spoken: Spoken
) -> None:
    check(scores_of(spoken, family, load_dictionary()), 0.05, 0.04)


@pytest.mark.parametrize("family", FAMILIES)
def test_beats_written_when_all_was_settled_are_predicted_within_five_per_cent(
    family: str, spoken_blind: Spoken
) -> None:
    check(scores_of(spoken_blind, family, load_dictionary()), 0.05, 0.04)


def human_rows() -> list[heard.Row]:
    if not heard.human_is_here():
        pytest.skip("Debian's asterisk-core-sounds-en and asterisk-core-sounds-en-wav are not installed")
    return heard.human()


def test_beats_of_a_human_narrator_are_predicted_within_nine_per_cent() -> None:
    rows = human_rows()
    assert len(rows) >= 45
    beats = told(rows, load_dictionary())
    unseen = beats[1::2]  # the others had a say in the constants
    found, both = score(unseen, 1500), score(beats, 300)
    print(f"\nhuman, prompts not fitted on    {found}\nhuman, all prompts              {both}", end="")
    check([found], 0.09, 0.04)  # they last three minutes only, so it takes many draws to see a minute's error
    check([both], 0.09, 0.04)


def test_a_range_learned_from_many_takes_is_narrower_and_holds(
    spoken: Spoken,
) -> None:
    # Twenty-five beats teach pace, pauses and spread; forty others are predicted.
    for voice, rows in spoken.items():
        beats = told(rows, load_dictionary())
        few, many = score(beats, 40), score(beats, 40, learned_from=25)
        print(f"\n{' '.join(voice):28} learned from 25: {many}", end="")
        assert many.beat <= few.beat
        assert many.inside >= 0.9
        assert learn(beats[:25]).voice.spread < fit_voice(beats[:5]).spread


# Seen here and nowhere else: the one family and set that misses what is asked, as a machine voice reads figures.
AS_MISREAD = {("later_beats", "as written", "units"): 0.062}


@pytest.mark.study
@pytest.mark.parametrize("reading", ["as written", "read aloud"])
@pytest.mark.parametrize(("name", "many"), [("beats", 65), ("later_beats", 22), ("blind_beats", 39)])
def test_study_of_every_voice(
    name: str, many: int, reading: str, tmp_path_factory: pytest.TempPathFactory
) -> None:
    lines = heard.beats(name)
    assert len(lines) == many
    said = lines if reading == "as written" else heard.read_aloud(name)
    everything = say_all(list(VOICES), lines, said, tmp_path_factory)
    for family in FAMILIES:
        check(
            scores_of(everything, family, load_dictionary()),
            AS_MISREAD.get((name, reading, family), 0.05),
            0.04,
        )
        print("\nwithout a dictionary:", end="")
        check(scores_of(everything, family, {}), 0.065, 0.04)
