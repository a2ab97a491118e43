"""The best use of screen time for a whole episode, exact to the frame.

Every frame of screen time is bought from an *offer*: so many frames at a cost each. A step must buy at
least what its words need, the episode must land inside its target, and the sum of all costs is to be as
small as it can be. A cost below zero is a frame one would like to show (work that would otherwise race or
be left out), one above zero a frame one would rather not (a frozen picture, a slate, dead air).

Within a step the offers are bought cheapest first, so its cost is convex in its length. Steps share
nothing but the total. So the exact optimum is found by *water-filling*: first each step buys what it
must, then all steps buy in one queue, cheapest offer first, while an offer is wanted or the episode is
too short, and never beyond the target. No solver is needed, the arithmetic is whole numbers, and the work
is one sort. The tests compare it with trying every possibility and with scipy's HiGHS.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass


@dataclass(frozen=True)
class Offer:
    """`frames` frames at `cost` each. Costs are whole numbers: points a frame, comparable across steps."""

    frames: int
    cost: int


@dataclass(frozen=True)
class Demand:
    """A step: `fixed` frames that it plays in any case, at least `least` in all, and what it can buy.

    `beyond` prices the frames above `least`, which is time without words, on top of the offers: its tiers
    must not get cheaper, and where they end the step ends, unless `fixed` is longer.
    """

    fixed: int
    least: int
    offers: tuple[Offer, ...]
    beyond: tuple[Offer, ...] = ()


@dataclass(frozen=True)
class Bought:
    """How many frames of each offer a step bought, in the order of its offers.

    `more` of them it bought for the episode's sake, beyond what it must; `left` are offered and not bought.
    """

    frames: tuple[int, ...]
    total: int
    more: int
    left: int


@dataclass(frozen=True)
class Optimum:
    """The best purchase. `cost` is the sum of points; `short` and `over` are the frames by which it misses."""

    steps: tuple[Bought, ...]
    total: int
    cost: int
    short: int
    over: int


@dataclass(frozen=True, order=True)
class _Lot:
    """Part of an offer in the common queue; ties go to the earlier step and offer, so results are stable."""

    cost: int
    step: int
    offer: int
    frames: int


def best(demands: Sequence[Demand], low: int, high: int) -> Optimum:
    """Buy for all steps, for a total from `low` to `high` frames, both allowed.

    A step whose offers cannot fill `least` buys all it can. If what the steps must buy is more than `high`,
    they buy no more than that, and `over` says by how much the target is missed; if all offers together do
    not reach `low`, everything is bought and `short` says by how much. Raises ValueError for negative
    frames, tiers that get cheaper, or a target that runs backwards.
    """
    for demand in demands:
        costs = [tier.cost for tier in demand.beyond]
        if (
            demand.fixed < 0
            or any(o.frames < 0 for o in (*demand.offers, *demand.beyond))
            or costs != sorted(costs)
        ):
            raise ValueError("frames must not be negative, and time without words must not get cheaper")
    if low > high:
        raise ValueError("the target runs backwards")
    bought = [[0] * len(demand.offers) for demand in demands]
    cost = 0
    queue: list[_Lot] = []
    for index, demand in enumerate(demands):
        need = max(0, demand.least - demand.fixed)
        left: list[_Lot] = []
        for lot in sorted(_Lot(o.cost, index, n, o.frames) for n, o in enumerate(demand.offers) if o.frames):
            take = min(need, lot.frames)
            need -= take
            bought[index][lot.offer] += take
            cost += take * lot.cost
            if take < lot.frames:
                left.append(_Lot(lot.cost, index, lot.offer, lot.frames - take))
        tiers, paid = _after(demand)
        cost += paid
        queue += _priced(left, tiers)
    total = sum(d.fixed for d in demands) + sum(map(sum, bought))
    must = [sum(frames) for frames in bought]
    for lot in sorted(queue):
        room = high - total if lot.cost < 0 else low - total
        take = max(0, min(lot.frames, room))
        bought[lot.step][lot.offer] += take
        total += take
        cost += take * lot.cost
    steps = tuple(
        Bought(
            tuple(frames),
            demand.fixed + sum(frames),
            more=sum(frames) - must[step],
            left=sum(offer.frames for offer in demand.offers) - sum(frames),
        )
        for step, (demand, frames) in enumerate(zip(demands, bought, strict=True))
    )
    return Optimum(steps, total, cost, max(0, low - total), max(0, total - high))


def _after(demand: Demand) -> tuple[list[Offer], int]:
    """The tiers of time without words that are still free, and what the fixed frames above `least` cost.

    Fixed frames beyond the last tier pay the last tier's price.
    """
    spent = max(0, demand.fixed - demand.least)
    paid = 0
    tiers: list[Offer] = []
    for tier in demand.beyond:
        used = min(spent, tier.frames)
        spent -= used
        paid += used * tier.cost
        if used < tier.frames:
            tiers.append(Offer(tier.frames - used, tier.cost))
    return tiers, paid + spent * (demand.beyond[-1].cost if demand.beyond else 0)


def _priced(lots: Sequence[_Lot], tiers: Sequence[Offer]) -> list[_Lot]:
    """Lots, cheapest first, with the price of time without words on top; cut where either changes."""
    priced: list[_Lot] = []
    left = [[tier.frames, tier.cost] for tier in tiers]
    for lot in lots:
        frames = lot.frames
        while frames and left:
            take = min(frames, left[0][0])
            priced.append(_Lot(lot.cost + left[0][1], lot.step, lot.offer, take))
            frames -= take
            left[0][0] -= take
            if left[0][0] == 0:
                left.pop(0)
    return priced
