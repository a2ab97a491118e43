"""Each term of a deal against measured values: just inside it, just outside, and what nobody measured."""

from __future__ import annotations

from dataclasses import replace

import pytest

from episodekit.base.time import Ms
from episodekit.job.reader import read_plan
from episodekit.pack.measured import HeardTake, Measured, ReadSeen, Seen, Span
from episodekit.pack.proof import prove
from episodekit.pack.sheet import sheets
from episodekit.pack.term import Met, Term
from episodekit.pipeline import compile_episode
from episodekit.timeline.episode import Episode
from tests.proof_kit import JOB

DESCRIPTION = "Ad: paid for by Tallow Tools. https://tallow.example/lamp\n\nCan this desk lamp be saved?\n"
WORDS = {"tallow-read.1", "tallow-read.2"}


def compiled(text: str = JOB) -> Episode:
    plan, found = read_plan(text.encode(), "job.md")
    assert plan is not None, found
    return compile_episode(plan)


def seen(*runs: tuple[int, int]) -> Seen:
    return Seen(tuple(Span(Ms(a), Ms(b)) for a, b in runs), 22.5, 12.0)


def as_planned(episode: Episode) -> Measured:
    """A final export that is just as planned, all beats recorded and heard."""
    reads = {}
    for read in episode.reads:
        ad = seen((read.start, read.start + read.length))
        code = seen((read.start + 3000, read.start + 5000))
        reads[read.name] = ReadSeen(ad, code, ((Ms(2000), seen((20_000, 22_000))),), -20.0)
    tallow = next(read for read in episode.reads if read.name == "tallow")
    beats = {beat.id for laid in episode.steps for beat in laid.step.beats}
    takes: dict[str, HeardTake | None] = {
        beat: HeardTake(f"takes/{beat}.wav", Ms(tallow.start + 400), 0.95) for beat in beats
    }
    solder = Span(Ms(tallow.start + tallow.length + 7000), Ms(tallow.start + tallow.length + 12_000))
    return Measured(
        video="final.mp4",
        draft=False,
        runtime=episode.runtime,
        frame=Ms(40),
        size=(1920, 1080),
        sound=True,
        reads=reads,
        steps={"solder": (solder,)},
        takes=takes,
    )


def terms(episode: Episode, measured: Measured, description: str | None = DESCRIPTION) -> dict[str, Term]:
    return {term.name: term for term in prove(episode, measured, description)["tallow"]}


def with_read(measured: Measured, **changes: object) -> Measured:
    read = replace(measured.reads["tallow"], **changes)  # type: ignore[arg-type]  # ReadSeen's fields
    return replace(measured, reads={**measured.reads, "tallow": read})


def test_export_as_planned_passes_all_but_what_comes_later() -> None:
    episode = compiled()
    told = prove(episode, as_planned(episode), DESCRIPTION)["tallow"]
    assert {term.name for term in told if term.met is not Met.PASS} == {"Approval", "Link stays"}
    assert all(term.todo for term in told if term.met is not Met.PASS)


@pytest.mark.parametrize(("length", "met"), [(16_000, Met.PASS), (16_300, Met.FAIL), (5700, Met.FAIL)])
def test_length_is_that_of_the_video(length: int, met: Met) -> None:
    episode = compiled()
    start = episode.reads[0].start
    told = terms(episode, with_read(as_planned(episode), ad=seen((start, start + length))))
    assert told["Length"].met is met


def test_window_is_a_share_of_the_measured_run_time() -> None:
    episode = compiled()
    told = terms(episode, replace(as_planned(episode), runtime=Ms(9000)))
    assert (told["Start"].met, "of the run time of 0:09.0" in told["Start"].measured) == (Met.FAIL, True)


@pytest.mark.parametrize(
    ("arc_minutes", "contrast", "met"),
    [(16.0, 4.5, Met.PASS), (15.9, 9.0, Met.FAIL), (22.0, 4.4, Met.FAIL), (None, None, Met.OPEN)],
)
def test_disclosure_is_large_and_strong_enough(arc_minutes: float, contrast: float, met: Met) -> None:
    episode = compiled()
    measured = as_planned(episode)
    ad = replace(measured.reads["tallow"].ad, arc_minutes=arc_minutes, contrast=contrast)
    assert terms(episode, with_read(measured, ad=ad))["Disclosure readable"].met is met


@pytest.mark.parametrize(("shown", "met"), [(2000, Met.PASS), (1800, Met.FAIL), (0, Met.FAIL)])
def test_code_is_on_screen_as_long_as_asked_inside_the_read(shown: int, met: Met) -> None:
    episode = compiled()
    end = episode.reads[0].start + episode.reads[0].length
    code = seen((end - shown, end + 4000))  # what stands after the read does not count
    assert terms(episode, with_read(as_planned(episode), code=code))["Shows the code"].met is met


@pytest.mark.parametrize(("away", "met"), [(1000, Met.PASS), (800, Met.FAIL)])
def test_distance_from_hazards_is_the_measured_one(away: int, met: Met) -> None:
    episode = compiled()
    end = episode.reads[0].start + episode.reads[0].length
    near = replace(as_planned(episode), steps={"solder": (Span(Ms(end + away), Ms(end + 9000)),)})
    assert prove(episode, near, None)["tallow"]
    (hazards,) = (t for t in prove(episode, near, None)["tallow"] if t.asks.endswith("hazards"))
    assert hazards.met is met
    lost = replace(near, steps={})
    (hazards,) = (t for t in prove(episode, lost, None)["tallow"] if t.asks.endswith("hazards"))
    assert (hazards.met, "Solder" in hazards.todo) == (Met.OPEN, True)


@pytest.mark.parametrize(
    ("text", "lost", "met"),
    [
        ("never strips", set(), Met.FAIL),
        ("opens it at once", set(), Met.PASS),
        ("opens it at once", {"screws.1"}, Met.OPEN),
    ],
)
def test_refused_phrase_passes_only_when_all_takes_are_heard(text: str, lost: set[str], met: Met) -> None:
    episode = compiled(JOB.replace("which is kind", text))
    measured = as_planned(episode)
    takes = {beat: None if beat in lost else take for beat, take in measured.takes.items()}
    assert terms(episode, replace(measured, takes=takes))["Never says"].met is met


def test_words_that_the_script_lacks_fail() -> None:
    episode = compiled(JOB.replace("who sent me the long driver free", "who also sell drivers"))
    told = terms(episode, as_planned(episode))
    assert (told["Says"].met, told["Says what was free"].met) == (Met.FAIL, Met.FAIL)
    assert told["Disclosure heard"].met is Met.PASS


def test_nothing_about_a_read_passes_that_was_not_found() -> None:
    episode = compiled()
    lost = with_read(as_planned(episode), ad=Seen(), code=Seen(), goods=((Ms(2000), Seen()),), level=None)
    told = prove(episode, lost, None)["tallow"]
    assert {term.met for term in told if term.name != "Never says"} == {Met.FAIL, Met.OPEN}


@pytest.mark.parametrize(
    ("chapters", "met"),
    [(((0, "Start"), (None, "Tallow")), Met.PASS), (((0, "Start"),), Met.FAIL), ((), Met.OPEN)],
)
def test_chapter_of_its_own_stands_where_the_read_begins(
    chapters: tuple[tuple[int | None, str], ...], met: Met
) -> None:
    episode = compiled(JOB.replace("    code: LAMP\n", "    code: LAMP\n    marker: yes\n"))
    start = episode.reads[0].start
    marks = tuple((Ms(start - 300 if at is None else at), title) for at, title in chapters)
    assert terms(episode, replace(as_planned(episode), chapters=marks))["Chapter"].met is met


@pytest.mark.parametrize(
    ("description", "met"),
    [
        (DESCRIPTION, Met.PASS),
        ("Words.\n" * 4 + DESCRIPTION, Met.FAIL),
        ("Words.", Met.FAIL),
        (None, Met.OPEN),
    ],
)
def test_link_stands_in_the_descriptions_first_lines(description: str | None, met: Met) -> None:
    episode = compiled()
    assert terms(episode, as_planned(episode), description)["Link"].met is met


def test_file_names_are_plain_and_never_the_same() -> None:
    text = JOB.replace("tallow:", "Tallow/../Tools:").replace("willow:", "tallow tools:")
    text = text.replace("read: tallow", "read: Tallow/../Tools").replace("read: willow", "read: tallow tools")
    episode = compiled(text.replace("- uses: tallow\n", ""))
    names = [sheet.file for sheet in sheets(episode, as_planned_for(episode), None)]
    assert len(set(names)) == 2
    assert all(name.replace("-", "").isalnum() for name in names)


def as_planned_for(episode: Episode) -> Measured:
    """Measured values for reads of any name."""
    reads = {read.name: ReadSeen(seen((read.start, read.start + read.length))) for read in episode.reads}
    return Measured("final.mp4", False, episode.runtime, Ms(40), (640, 360), True, reads, {}, {})


@pytest.mark.parametrize(
    ("asked", "told"),
    [("2 min", "2 min"), ("90 s", "1 min 30 s"), ("12.5 s", "12.5 s"), ("60.5 s", "60.5 s")],
)
def test_a_distance_is_told_as_lengths_are_written_and_never_rounded(asked: str, told: str) -> None:
    old = "keep clear of: {"
    episode = compiled(JOB.replace(old, f"{old}failure: {asked}, ", 1))
    asks = [term.asks for term in prove(episode, as_planned(episode), DESCRIPTION)["tallow"]]
    assert f"{told} from failures" in asks
