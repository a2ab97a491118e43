"""Three whole jobs' deals: where reads, ad breaks and chapters stand and why, deadlines, the description.

Golden files, read and found right: each term of the contract holds by the numbers told beside it. Read the
difference before you replace one (`EPISODEKIT_WRITE_GOLDEN=1 pytest tests/test_scenario_deals.py`).
"""

from __future__ import annotations

import os
from itertools import pairwise
from pathlib import Path

import pytest

from episodekit.base.time import clock
from episodekit.job.reader import read_plan
from episodekit.outside.dictionary import load_dictionary
from episodekit.pack.dates import deadlines, written
from episodekit.pack.description import describe
from episodekit.pipeline import compile_episode
from episodekit.timeline.episode import Episode

HERE = Path(__file__).parent
SCENARIOS = sorted((HERE / "scenarios").glob("*/job.md"))


def compiled(path: Path, old: str = "", new: str = "") -> Episode:
    text = path.read_text(encoding="utf-8")
    assert text.count(old) >= 1
    plan, findings = read_plan(text.replace(old, new, 1).encode() if old else text.encode())
    assert plan is not None
    assert not [f for f in findings if f.severity == "error"]
    return compile_episode(plan, dictionary=load_dictionary())


def told(episode: Episode) -> str:
    """The deal's side of an episode, as text."""
    placed = [(r.start, f"read {r.name}, {r.length / 1000:.1f} s, {r.why}") for r in episode.reads]
    placed += [(b.start, f"ad break {b.why}") for b in episode.ad_breaks]
    chapters = [f"{chapter.stamp} {chapter.title}" for chapter in episode.chapters]
    days = [f"{written(one.day)}: {one.what}" for one in deadlines(episode.plan)]
    deals = [str(f) for f in episode.findings if f.code.startswith(("SLOT-", "CHAP-", "PACK-"))]
    description = describe(episode.plan, episode.chapters, [read.name for read in episode.reads]).text
    parts = (
        [f"run time {clock(episode.runtime)}"],
        [f"{clock(start)} {what}" for start, what in sorted(placed)],
        chapters,
        days,
        deals,
        [description],
    )
    return "\n\n".join("\n".join(part) for part in parts if part).rstrip() + "\n"


@pytest.mark.parametrize("path", SCENARIOS, ids=lambda p: p.parent.name)
def test_the_deal_of_a_whole_job_is_kept_as_it_was_read_and_found_right(path: Path) -> None:
    golden = HERE / "golden" / f"deal-{path.parent.name}.txt"
    made = told(compiled(path))
    if os.environ.get("EPISODEKIT_WRITE_GOLDEN"):
        golden.write_text(made, encoding="utf-8")
    assert made == golden.read_text(encoding="utf-8")


@pytest.mark.parametrize("path", SCENARIOS, ids=lambda p: p.parent.name)
def test_every_term_of_the_deal_holds_by_the_clock(path: Path) -> None:
    # Written from the contract's text alone, without the solver's own measures.
    episode = compiled(path)
    rate = episode.timeline.rate
    steps: list[tuple[float, float, str, bool]] = []
    at = 0.0
    for laid in episode.steps:
        long = float(laid.fitted.frames / rate.exact)
        steps.append((at, at + long, laid.step.id, laid.step.risky))
        at += long
    for read in episode.reads:
        terms = episode.plan.front.reads[read.name]
        start, end = read.start / 1000, (read.start + read.length) / 1000
        assert terms.length is not None
        assert read.length in terms.length
        assert terms.starts is not None
        assert terms.starts.low.at(episode.runtime) <= read.start <= terms.starts.high.at(episode.runtime)
        least = max(terms.keep_clear_of.hazard, terms.keep_clear_of.caution) / 1000
        for first, last, name, risky in steps:
            if risky:
                assert first >= end + least - 0.05 or last <= start - least + 0.05, name
        for one in episode.ad_breaks:
            assert one.start / 1000 >= end + 59.95 or one.start / 1000 <= start - 59.95
    for earlier, later in pairwise(one.start for one in episode.ad_breaks):
        assert 239_950 <= later - earlier <= 360_050
    for one in episode.ad_breaks:
        for first, last, name, risky in steps:
            if risky:
                assert not first - 4.95 < one.start / 1000 < last + 4.95, name


REFUSED = {
    "two breaks among hazards": (
        "drumlin-speaker",
        "{count: 1-2,",
        "{count: 2,",
        ("2 ad breaks", "ad breaks keep 5 s clear of hazards"),
    ),
    "a read before its goods are safe to show": (
        "tarnvale-lathe",
        "starts: after 2:00",
        "starts: 3:00 to 4:00",
        ("'brackenfold' starts 3:00 to 4:00", "'brackenfold' keeps 30 s clear of hazards"),
    ),
    "a read in the first minute": (
        "mossgate-handheld",
        "starts: before 25%",
        "starts: before 1%",
        ("'larkspur' starts 0:00 to 1%",),
    ),
}


@pytest.mark.parametrize("name", REFUSED)
def test_a_deal_that_cannot_be_met_is_refused_with_the_reason(name: str) -> None:
    job, old, new, terms = REFUSED[name]
    episode = compiled(HERE / "scenarios" / job / "job.md", old, new)
    found = next(f for f in episode.findings if f.code == "SLOT-NO-PLACE")
    assert all(term in found.message for term in terms), found
    assert "The nearest miss: " in found.message
