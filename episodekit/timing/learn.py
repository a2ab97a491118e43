"""A voice learned from recorded takes: one factor from a few, the pauses as well from twelve beats on.

The regression is robust (Huber's weights on relative errors), so that a fluffed line does not bend the rest.
Pauses are drawn towards the average voice's and leave it only as far as the takes insist. The error that is
reported is of beats held out: each is predicted from a voice that was learned without it.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from fractions import Fraction
from math import ceil, sqrt
from statistics import mean, median

from episodekit.base.time import Ms, nearest
from episodekit.job.model import Voice
from episodekit.timing.speech import (
    BREAK,
    COMMA,
    COMMAS_A_WORD,
    SOUND_A_WORD,
    STOP,
    STOPS_A_WORD,
    length_of,
    sound_of,
)
from episodekit.timing.takes import FASTEST, SLOWEST, Told

FEWEST, TRUSTED, WITH_PAUSES = 3, 5, 12
FAR = 1.6
"""A take so many times as fast or slow as the others is not of its beat."""

_HUBER = 1.345
"""Huber's constant: 95 % as sure as least squares where no take is off."""
_LEAST_SCALE = 0.03
"""No narrator repeats himself more closely than 3 %. Common practice, no source."""
_FEW_SCALE = 0.15
"""Among a handful of beats the measured scale is chance, so only what lies 20 % off counts less: an honest beat
of a human narrator is within 18 % nine times in ten, a fluffed one is not."""
_ODD, _ODD_SCALES = 0.12, 2.5
"""A beat stands out if it is so far off, and so many times the others' spread. Common practice, no source."""
_PAUSES_VARY = 0.35
"""How far narrators' pauses lie from the average voice's, as a share of it. Common practice, no source."""
_ONE_BY_ONE = 30
"""Up to so many beats each is held out alone; more are held out in ten groups."""
_FOR_SPREAD = 10


@dataclass(frozen=True)
class Held:
    """A beat held out: how long it took, and how long a voice learned from the others would take."""

    told: Told
    predicted: Ms

    @property
    def error(self) -> float:
        """Predicted against true, as a share: +0.1 is predicted ten per cent too long."""
        return self.predicted / self.told.length - 1


@dataclass(frozen=True)
class Learned:
    """A voice, and how well it did on beats held out."""

    voice: Voice
    held: tuple[Held, ...]

    @property
    def error(self) -> float:
        """Mean error of a held-out beat, as a share."""
        return mean(abs(held.error) for held in self.held)

    @property
    def outliers(self) -> tuple[Held, ...]:
        """Beats that stand out from the others, the farthest first: worth a second listen."""
        limit = max(_ODD, _ODD_SCALES * _scale([held.error for held in self.held]))
        out = [held for held in self.held if abs(held.error) > limit]
        return tuple(sorted(out, key=lambda held: (-abs(held.error), held.told.beat)))


def learn(told: Sequence[Told]) -> Learned:
    """Learn a voice from beats of known length; at least `FEWEST`, or ValueError is raised."""
    if len(told) < FEWEST:
        raise ValueError(f"{len(told)} beats are too few to learn from")
    voice = fit_voice(told)
    held = []
    folds = len(told) if len(told) <= _ONE_BY_ONE else 10
    for fold in range(folds):
        without = fit_voice([one for index, one in enumerate(told) if index % folds != fold])
        held += [Held(one, length_of(one.said, without)) for one in told[fold::folds]]
    held.sort(key=lambda one: told.index(one.told))
    spread = _spread([abs(one.error) for one in held])
    return Learned(voice if spread is None else voice.model_copy(update={"spread": spread}), tuple(held))


def far_off(told: Sequence[Told]) -> tuple[tuple[Told, Ms], ...]:
    """Beats far from what the others say of the narrator, each with the length it should have had."""
    if len(told) < FEWEST:
        return ()
    voice = fit_voice(told, pauses=False)
    expected = [(one, length_of(one.said, voice)) for one in told]
    return tuple((one, length) for one, length in expected if not 1 / FAR <= one.length / length <= FAR)


def fit_voice(told: Sequence[Told], *, pauses: bool = True) -> Voice:
    """The voice alone. Pace to 0.1 words a minute, pauses to 10 ms."""
    rows = [_row(one) for one in told]
    k = _factor(rows)
    if not pauses or len(rows) < WITH_PAUSES:
        pace = 60_000 / (k * float(SOUND_A_WORD + STOP * STOPS_A_WORD + COMMA * COMMAS_A_WORD))
        return Voice(pace=_pace(pace))
    k, stop, comma = _with_pauses(rows, k)
    stop, comma = (min(2000, max(0, round(pause, -1))) for pause in (stop, comma))
    word = k * float(SOUND_A_WORD) + stop * float(STOPS_A_WORD) + comma * float(COMMAS_A_WORD)
    return Voice(pace=_pace(60_000 / word), stop=Ms(int(stop)), comma=Ms(int(comma)))


def _pace(pace: float) -> Fraction:
    return Fraction(nearest(Fraction(min(FASTEST, max(SLOWEST, pace))) * 10), 10)


@dataclass(frozen=True)
class _Row:
    """A beat as the regression sees it, in ms at k = 1; `breaks` go with the sounds, as nobody has many."""

    sound: float
    stops: int
    commas: int
    length: float

    @property
    def whole(self) -> float:
        return self.sound + self.stops * float(STOP) + self.commas * float(COMMA)


def _row(told: Told) -> _Row:
    said = told.said
    return _Row(float(sound_of(said) + BREAK * said.breaks), said.stops, said.commas, float(told.length))


def _factor(rows: Sequence[_Row]) -> float:
    """The one factor: the weighted mean of each beat's own.

    A long beat tells more than a short one, but not in proportion, since a narrator's mood of the moment holds for
    a whole beat: it counts by the square root of its length.
    """
    own = [row.length / row.whole for row in rows]
    k = median(own)
    for _ in range(20):
        robust = _huber([one / k - 1 for one in own], _FEW_SCALE)
        weights = [w * sqrt(row.whole) for w, row in zip(robust, rows, strict=True)]
        k = sum(w * one for w, one in zip(weights, own, strict=True)) / sum(weights)
    return k


def _with_pauses(rows: Sequence[_Row], k: float) -> tuple[float, float, float]:
    """Factor, stop and comma by weighted least squares on relative errors, the pauses drawn to k times theirs."""
    whole = [k * row.whole for row in rows]
    k0, stop, comma = k, k * float(STOP), k * float(COMMA)
    for _ in range(20):
        errors = [
            (row.length - k * row.sound - stop * row.stops - comma * row.commas) / size
            for row, size in zip(rows, whole, strict=True)
        ]
        weights, scale = _huber(errors, _LEAST_SCALE), max(_LEAST_SCALE, _scale(errors))
        lines = [
            ([row.sound / size, row.stops / size, row.commas / size], row.length / size, w / scale**2)
            for row, size, w in zip(rows, whole, weights, strict=True)
        ]
        for column, pause in ((1, float(STOP)), (2, float(COMMA))):
            towards = [-pause, 0.0, 0.0]
            towards[column] = 1.0
            lines.append((towards, 0.0, 1 / (_PAUSES_VARY * k0 * pause) ** 2))
        k, stop, comma = _least_squares(lines)
    return k, stop, comma


def _huber(errors: Sequence[float], least: float) -> list[float]:
    limit = _HUBER * max(least, _scale(errors))
    return [1.0 if abs(error) <= limit else limit / abs(error) for error in errors]


def _scale(errors: Sequence[float]) -> float:
    """The usual robust spread: the median of absolute errors, made comparable to a standard deviation."""
    return 1.4826 * median(abs(error) for error in errors)


def _least_squares(lines: Sequence[tuple[list[float], float, float]]) -> tuple[float, float, float]:
    """Three unknowns from weighted lines (factors, value, weight), by the normal equations."""
    matrix = [
        [sum(w * x[i] * x[j] for x, _, w in lines) for j in range(3)]
        + [sum(w * x[i] * y for x, y, w in lines)]
        for i in range(3)
    ]
    for i in range(3):
        pivot = max(range(i, 3), key=lambda row: abs(matrix[row][i]))
        matrix[i], matrix[pivot] = matrix[pivot], matrix[i]
        for row in range(3):
            if row != i:
                share = matrix[row][i] / matrix[i][i]
                matrix[row] = [a - share * b for a, b in zip(matrix[row], matrix[i], strict=True)]
    return (
        matrix[0][3] / matrix[0][0],
        matrix[1][3] / matrix[1][1],
        matrix[2][3] / matrix[2][2],
    )


def _spread(errors: Sequence[float]) -> Fraction | None:
    """Nine held-out errors in ten lie below it; None if there are too few to tell.

    Whole per cent, upward and one more, since a rank among a few takes is itself not sure.
    """
    if len(errors) < _FOR_SPREAD:
        return None
    rank = min(len(errors), ceil(0.9 * (len(errors) + 1)))
    return Fraction(min(60, max(5, 1 + ceil(100 * sorted(errors)[rank - 1]))), 100)
