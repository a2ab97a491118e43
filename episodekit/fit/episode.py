"""All steps together: the optimum over the episode, and what stands in the way of its run time."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace

from episodekit.base.findings import Finding
from episodekit.base.time import Frames, Rate, ms_to_frames, nearest
from episodekit.fit.case import Case
from episodekit.fit.model import FittedStep
from episodekit.fit.optimum import Optimum, best
from episodekit.fit.step import parts_of
from episodekit.fit.told import May
from episodekit.job.model import Limits
from episodekit.job.units import Range

_ANY_LENGTH = Range(0, 10**9)  # type: ignore[arg-type]


@dataclass(frozen=True)
class Fit:
    """The fitted steps in the order given, and the optimum behind them."""

    steps: tuple[FittedStep, ...]
    optimum: Optimum
    findings: tuple[Finding, ...]

    @property
    def frames(self) -> Frames:
        """Length of all steps."""
        return Frames(sum(step.frames for step in self.steps))


def fit(cases: Sequence[Case], runtime: Range | None, rate: Rate, limits: Limits) -> Fit:
    """Fit all steps, reads included, for a total inside `runtime` if that can be."""
    target = runtime or _ANY_LENGTH
    low = ms_to_frames(target.low, rate) if runtime else 0
    found = best([case.demand for case in cases], low, ms_to_frames(target.high, rate))
    # A remedy must not ask for what the run time forbids: more words in an episode that is full, less in one
    # that is too short.
    second = nearest(rate.exact)
    may = May(
        longer=runtime is None or found.total + second <= ms_to_frames(target.high, rate),
        shorter=found.total - second >= low,
    )
    steps: list[FittedStep] = []
    findings: list[Finding] = []
    for case, bought in zip(cases, found.steps, strict=True):
        step, told = parts_of(case, bought, rate, limits, may)
        steps.append(replace(step, more=Frames(bought.more), left=Frames(bought.left)))
        findings += told
    return Fit(tuple(steps), found, tuple(findings))
