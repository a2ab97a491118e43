"""A placement in a creator's words: why an event stands where it does, which terms collide, by how much."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from episodekit.base.time import Frames, Rate, clock, frames_to_ms
from episodekit.job.model import Plan
from episodekit.slots.judge import misses, name_of, nearest_unit, terms_of, unit_starts
from episodekit.slots.model import BREAKS, Event, Miss, Placement, Problem, Term
from episodekit.slots.terms import Unit, near_goods, worth, written_at

_LIKES = {
    "as written": "it was written there",
    "near goods": "the sponsor's goods are used next",
    "section end": "a section ends",
    "step end": "no step is interrupted",
    "open question": "a question is open",
    "not before payoff": "no answer follows at once",
}


@dataclass(frozen=True)
class Teller:
    """A placement with all that is needed to tell of it."""

    plan: Plan
    problem: Problem
    placement: Placement
    units: Sequence[Unit]
    rate: Rate

    def where(self, event: Event) -> str:
        """The boundary by the step that follows, or is interrupted."""
        if event.boundary >= len(self.units):
            return "at the end"
        unit = self.units[event.boundary]
        return (
            f"before '{unit.step.title}'" if unit.first else f"inside '{unit.step.title}', between two beats"
        )

    def why(self, event: Event) -> str:
        """Where it stands and what speaks for that, with the points it is worth; or by how much it misses."""
        broken = [miss for miss in misses(self.problem, self.placement) if self._concerns(miss, event)]
        if broken:
            return f"{self.where(event)}: the nearest miss: {'; '.join(self.miss(miss) for miss in broken)}"
        points = self.likes(event)
        likes = ", ".join(f"{_LIKES[name]} ({value})" for name, value in points)
        reasons = [f"{likes}; {sum(value for _, value in points)} points" if points else "no better place"]
        terms = terms_of(self.problem, event)
        if terms.starts is not None and event.who >= 0:
            window = f"{self.at(terms.starts.low)} to {self.at(min(terms.starts.high, self.problem.total))}"
            reasons.append(f"{self.at(event.at)} lies in {window}")
        near = self._nearest(event)
        if near:
            reasons.append(near)
        told = [reasons[0], *(reason[:1].upper() + reason[1:] for reason in reasons[1:])]
        return f"{self.where(event)}: {'. '.join(told)}"

    def likes(self, event: Event) -> list[tuple[str, int]]:
        """The points of its boundary by the names of the preferences, the weightiest first."""
        found = dict(worth(self.plan, self.units)[event.boundary])
        if event.who >= 0:
            name = name_of(self.problem, event.who)
            found["near goods"] = near_goods(self.plan, self.units, name, self.rate)[event.boundary]
            text = self.plan.read_texts[name]
            if written_at(self.plan, self.units, text) == event.boundary:
                found["as written"] = self.plan.front.preferences.as_written
        return sorted(((n, p) for n, p in found.items() if p), key=lambda pair: (-pair[1], pair[0]))

    def _nearest(self, event: Event) -> str:
        """How far the nearest hazard is, if one has to be kept clear of."""
        if "hazard" not in terms_of(self.problem, event).clear:
            return ""
        starts = unit_starts(self.problem, self.placement)
        sides = [side for side in nearest_unit(self.problem, starts, event, "hazard") if side is not None]
        if not sides:
            return ""
        gap, unit = min(sides)
        return f"the nearest hazard, '{self.units[unit].step.title}', is {self.length(gap)} away"

    def _concerns(self, miss: Miss, event: Event) -> bool:
        return event in (miss.event, miss.beside)

    def term(self, term: Term) -> str:
        """A term as the deal puts it: "larkspur starts 0:30 to 40%"."""
        owner, name = term
        if owner == BREAKS:
            return self._break_term(name)
        read = self.plan.front.reads[owner]
        if name == "starts":
            return f"'{owner}' starts {read.starts} ({self._window(owner)} here)"
        what = name.removeprefix("keep clear of: ")
        distance = read.keep_clear_of.distances()[what]
        return f"'{owner}' keeps {_seconds(distance)} clear of {_PLURALS.get(what, what)}"

    def _break_term(self, name: str) -> str:
        asked = self.plan.front.ad_breaks
        assert asked is not None
        match name:
            case "count":
                return f"{asked.count} ad breaks"
            case "apart":
                return f"ad breaks stand {_seconds(asked.apart.low)} to {_seconds(asked.apart.high)} apart"
            case "starts":
                return f"ad breaks stand {asked.starts}"
            case "run time":
                return f"the host allows ad breaks from a run time of {clock(asked.run_time)} on"
        what = name.removeprefix("keep clear of: ")
        return f"ad breaks keep {_seconds(asked.keep_clear_of.distances()[what])} clear of {_PLURALS.get(what, what)}"

    def _window(self, owner: str) -> str:
        read = next(read for read in self.problem.reads if read.name == owner)
        assert read.starts is not None
        if read.starts.low > read.starts.high:
            return "empty"
        return f"{self.at(read.starts.low)} to {self.at(min(read.starts.high, self.problem.total))}"

    def miss(self, miss: Miss) -> str:
        """A broken term with its numbers."""
        owner, name = miss.term
        event = miss.event
        who = f"'{owner}'" if owner != BREAKS else "the ad break"
        here = f"{who} at {self.at(event.at)}"
        if name == "starts":
            starts = terms_of(self.problem, event).starts
            early = starts is not None and miss.frames == starts.low - event.at
            return f"{here} is {self.length(miss.frames)} too {'early' if early else 'late'}"
        if name == "run time":
            return f"the episode is {self.length(miss.frames)} too short for ad breaks"
        if name == "apart":
            before = 0 if miss.beside is None else miss.beside.at
            return f"{here} follows the one before after {self.length(event.at - before)}"
        what = name.removeprefix("keep clear of: ")
        if miss.unit >= 0:
            title = self.units[miss.unit].step.title
            return f"{here} is {self.length(miss.frames)} too near to the {what} in '{title}'"
        assert miss.beside is not None
        beside = "the ad break" if miss.beside.who < 0 else f"'{name_of(self.problem, miss.beside.who)}'"
        return f"{here} is {self.length(miss.frames)} too near to {beside} at {self.at(miss.beside.at)}"

    def at(self, frames: int) -> str:
        """A stamp on the final time."""
        return clock(frames_to_ms(Frames(frames), self.rate))

    def length(self, frames: int) -> str:
        """A length in seconds, to a tenth below a minute."""
        return _seconds(frames_to_ms(Frames(frames), self.rate))


_PLURALS = {
    "hazard": "hazards",
    "caution": "cautions",
    "failure": "failures",
    "read": "other reads",
    "ad break": "ad breaks",
}


def _seconds(ms: int) -> str:
    if ms >= 60_000:
        minutes, rest = divmod(round(ms / 1000), 60)
        return f"{minutes} min {rest} s" if rest else f"{minutes} min"
    return f"{ms / 1000:.1f}".rstrip("0").rstrip(".") + " s"
