"""The optimum against trying everything, and against scipy's HiGHS."""

from __future__ import annotations

import itertools
import random

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from scipy.optimize import linprog

from episodekit.fit.optimum import Demand, Offer, best

offers = st.lists(st.builds(Offer, st.integers(0, 3), st.integers(-4, 6)), max_size=3).map(tuple)
tiers = st.lists(st.builds(Offer, st.integers(0, 3), st.integers(0, 5)), max_size=2).map(
    lambda found: tuple(sorted(found, key=lambda tier: tier.cost))
)
demands = st.lists(
    st.builds(Demand, st.integers(0, 3), st.integers(0, 6), offers, tiers), min_size=1, max_size=3
)


def silence(demand: Demand, total: int) -> int | None:
    """What the frames above `least` cost, one by one; None if there may not be so many."""
    prices = [tier.cost for tier in demand.beyond for _ in range(tier.frames)]
    above = max(0, total - demand.least)
    forced = max(0, demand.fixed - demand.least)
    if above > max(len(prices), forced):
        return None
    last = demand.beyond[-1].cost if demand.beyond else 0
    return sum(prices[:above]) + last * max(0, above - len(prices))


def cost_of(demand: Demand, frames: tuple[int, ...]) -> int | None:
    paid = silence(demand, demand.fixed + sum(frames))
    spent = sum(count * offer.cost for count, offer in zip(frames, demand.offers, strict=True))
    return None if paid is None else spent + paid


def tried(all_demands: list[Demand], low: int, high: int) -> int | None:
    """The least cost over every possibility, or None if none is allowed."""
    choices = []
    for demand in all_demands:
        ways = itertools.product(*(range(offer.frames + 1) for offer in demand.offers))
        allowed = [w for w in ways if demand.fixed + sum(w) >= demand.least]
        costs = [(demand.fixed + sum(w), cost_of(demand, w)) for w in allowed]
        choices.append([(total, cost) for total, cost in costs if cost is not None])
    sums = [
        (sum(total for total, _ in pick), sum(cost for _, cost in pick))
        for pick in itertools.product(*choices)
    ]
    return min((cost for total, cost in sums if low <= total <= high), default=None)


@settings(max_examples=1000, deadline=None)
@given(demands, st.integers(0, 20), st.integers(0, 12))
def test_nothing_that_can_be_tried_is_better(all_demands: list[Demand], low: int, width: int) -> None:
    found = best(all_demands, low, low + width)
    least = tried(all_demands, low, low + width)
    if least is not None:
        assert (found.cost, found.short, found.over) == (least, 0, 0)
    assert found.total == sum(step.total for step in found.steps)
    for demand, step in zip(all_demands, found.steps, strict=True):
        assert step.total == demand.fixed + sum(step.frames)
        assert all(
            0 <= count <= offer.frames for count, offer in zip(step.frames, demand.offers, strict=True)
        )
        assert step.total >= min(demand.least, demand.fixed + sum(o.frames for o in demand.offers))
    assert found.cost == sum(cost_of(d, s.frames) or 0 for d, s in zip(all_demands, found.steps, strict=True))


@given(demands, st.integers(0, 40), st.integers(0, 10))
def test_missed_target_is_missed_by_as_little_as_can_be(
    all_demands: list[Demand], low: int, width: int
) -> None:
    found = best(all_demands, low, low + width)

    def longest(d: Demand) -> int:
        top = max(d.fixed, d.least + sum(tier.frames for tier in d.beyond))
        return min(d.fixed + sum(o.frames for o in d.offers), top)

    least = sum(max(d.fixed, min(d.least, d.fixed + sum(o.frames for o in d.offers))) for d in all_demands)
    assert found.short == max(0, low - sum(longest(d) for d in all_demands))
    assert found.over == max(0, least - (low + width))


@pytest.mark.parametrize("seed", range(6))
def test_large_episodes_agree_with_highs(seed: int) -> None:
    # Source: scipy.optimize.linprog, method "highs"; relative gap below 1e-6.
    dice = random.Random(seed)
    all_demands = []
    for _ in range(400):
        tiers = tuple(
            Offer(dice.randint(0, 90), cost) for cost in sorted(dice.randint(0, 90) for _ in range(2))
        )
        own = tuple(Offer(dice.randint(0, 500), dice.randint(-50, 90)) for _ in range(7))
        all_demands.append(
            Demand(dice.randint(0, 200), dice.randint(200, 900), (*own, Offer(10**6, 400)), tiers)
        )
    need = sum(d.least for d in all_demands)
    low, high = round(need * dice.uniform(1.0, 1.05)), round(need * 1.08)
    found = best(all_demands, low, high)
    assert (found.short, found.over) == (0, 0)
    # Variables: the frames of each offer, then those of each tier.
    kinds = [offer for d in all_demands for offer in (*d.offers, *d.beyond)]
    rows, limits, equal, sums = [], [], [], []
    everything = np.zeros(len(kinds))
    at = 0
    for d in all_demands:
        offers_at = slice(at, at + len(d.offers))
        tiers_at = slice(offers_at.stop, offers_at.stop + len(d.beyond))
        everything[offers_at] = 1
        balance = np.zeros(len(kinds))  # fixed + offers = least + tiers
        balance[offers_at], balance[tiers_at] = 1, -1
        equal.append(balance)
        sums.append(d.least - d.fixed)
        at = tiers_at.stop
    fixed = sum(d.fixed for d in all_demands)
    rows, limits = [everything, -everything], [high - fixed, fixed - low]
    solved = linprog(
        [kind.cost for kind in kinds],
        A_ub=np.array(rows),
        b_ub=np.array(limits),
        A_eq=np.array(equal),
        b_eq=np.array(sums),
        bounds=[(0, kind.frames) for kind in kinds],
        method="highs",
    )
    assert solved.status == 0
    assert abs(found.cost - solved.fun) <= 1e-6 * max(1.0, abs(solved.fun))
