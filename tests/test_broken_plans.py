"""Broken job plans: each with the exact finding, its place, and the exit status. Never a traceback."""

from __future__ import annotations

import json
import os
import subprocess
import sys
from collections.abc import Callable

import pytest

from tests.conftest import LAMP, ROOT, JobFolder, Run


def changed(old: str, new: str) -> bytes:
    """The lamp job with one thing changed."""
    assert LAMP.count(old) >= 1, old
    return LAMP.replace(old, new, 1).encode("utf-8")


def place_of(text: bytes, piece: str) -> tuple[int, int]:
    """Line and column of the first place where a piece stands."""
    before = text.decode("utf-8").split(piece, 1)[0]
    return before.count("\n") + 1, len(before) - before.rfind("\n")


def at(text: bytes, piece: str) -> tuple[bytes, tuple[int, int]]:
    return text, place_of(text, piece)


ERRORS: dict[str, tuple[bytes, str, tuple[int, int], str]] = {}


def case(name: str, text: bytes, code: str, piece: str | tuple[int, int], remedy: str) -> None:
    place = place_of(text, piece) if isinstance(piece, str) else piece
    ERRORS[name] = (text, code, place, remedy)


case("an empty file", b"", "JOB-EMPTY", (1, 1), "episodekit new DIR")
case("only blank lines", b"\n \n\t\n", "JOB-EMPTY", (1, 1), "episodekit new DIR")
case("front matter and nothing else", b"---\ntitle: A lamp\n---\n", "JOB-EMPTY", (4, 1), "# Cold open")
case(
    "five megabytes", b"# A\n" + b"> words and words\n" * 300_000, "JOB-TOO-BIG", (1, 1), "files of their own"
)
case(
    "Latin-1",
    LAMP.replace("ten minutes?", "zehn Minuten für\u00fc?").encode("latin-1"),
    "JOB-ENCODING",
    (22, 49),
    "UTF-8",
)
case(
    "a byte of nothing",
    changed("Ten minutes", "XX").replace(b"XX", b"\xff\xfe"),
    "JOB-ENCODING",
    (23, 3),
    "UTF-8",
)
case("UTF-16", LAMP.encode("utf-16"), "JOB-ENCODING", (1, 1), "UTF-8")
case("no front matter", LAMP.split("---\n", 2)[2].encode(), "JOB-FRONT-MATTER", (1, 1), "`---`")
case(
    "front matter never closed",
    changed("---\n\n# Cold", "\n# Cold"),
    "JOB-FRONT-MATTER",
    (1, 1),
    "Put a line `---`",
)
case(
    "a tab as indent",
    changed("  top: {view: overhead}", "\ttop: {view: overhead}"),
    "JOB-YAML",
    "\ttop",
    "Indent with spaces",
)
case("two colons", changed("title: Can", "title: Lamp: Can"), "JOB-YAML", (2, 12), "quotes")
case("a bracket left open", changed("[code LAMP]", "[code LAMP"), "JOB-YAML", (16, 18), "closed")
case(
    "YAML that is a list",
    changed("title: Can this desk lamp be saved?\n", "- a\n").split(b"device")[0] + b"---\n# A\n> b\n",
    "JOB-YAML",
    (2, 1),
    "title",
)
case(
    "an alias",
    changed("device: Farrow desk lamp", "device: *lamp"),
    "JOB-YAML",
    "*lamp",
    "Write the value out",
)
case("no title", changed("title: Can this desk lamp be saved?\n", ""), "JOB-VALUE", (2, 1), "Add `title")
case(
    "an empty title",
    changed("title: Can this desk lamp be saved?", "title:"),
    "JOB-VALUE",
    (2, 7),
    "after the colon",
)
case("a mistyped setting", changed("runtime:", "runtme:"), "JOB-KEY", "runtme", "'runtime'")
case(
    "a mistyped setting of a camera",
    changed("{view: overhead}", "{vew: overhead}"),
    "JOB-KEY",
    "vew",
    "'view'",
)
case("a mistyped term of a read", changed("must say:", "must-sya:"), "JOB-KEY", "must-sya", "'must say'")
case(
    "a setting twice",
    changed("frame rate: 25", "frame rate: 25\nframe_rate: 30"),
    "JOB-TWICE",
    "frame_rate",
    "Keep one",
)
case("a run time without a range", changed("0:45-1:30", "80 s"), "JOB-VALUE", "80 s", "45-55 s")
case(
    "a run time that runs backwards",
    changed("0:45-1:30", "1:30-0:45"),
    "JOB-VALUE",
    "1:30-0:45",
    "shorter length first",
)
case("a frame rate in words", changed("frame rate: 25", "frame rate: fast"), "JOB-VALUE", "fast", "29.97")
case("drop-frame at 25", changed("frame rate: 25", "frame rate: 25 DF"), "JOB-VALUE", "25 DF", "")
case("an odd picture size", changed("320x180", "321x181"), "JOB-VALUE", "321x181", "even numbers")
case("a strip of a picture", changed("320x180", "2000x90"), "JOB-VALUE", "2000x90", "180 or more")
case("a narrow picture", changed("320x180", "240x1280"), "JOB-VALUE", "240x1280", "540 or less")
case("a flat picture", changed("320x180", "1280x240"), "JOB-VALUE", "1280x240", "600 or less")
case("a picture too large", changed("320x180", "7680x7680"), "JOB-VALUE", "7680x7680", "7680x4320")
case(
    "a clock that does not say which way",
    changed("{view: macro}", "{view: macro, clock: 3.2 s}"),
    "JOB-VALUE",
    "3.2 s}",
    "behind",
)
case("a sponsor left out", changed("    sponsor: Tallow Tools\n", ""), "JOB-VALUE", "length: 8", "sponsor")
case(
    "a window of more than the whole",
    changed("0:10 to 60%", "0:10 to 160%"),
    "JOB-VALUE",
    "0:10 to",
    "100% or less",
)
case(
    "a currency in words",
    changed("size: 320x180", "size: 320x180\ncurrency: dollars"),
    "JOB-VALUE",
    "dollars",
    "USD",
)
case(
    "mains without a unit", changed("size: 320x180", "size: 320x180\nmains: 50"), "JOB-VALUE", (7, 8), "50 Hz"
)
case(
    "cameras as one word",
    changed("cameras:\n  top: {view: overhead}\n  macro: {view: macro}", "cameras: top"),
    "JOB-VALUE",
    (7, 10),
    "{key: value}",
)
case("a bench time without a unit", changed("bench: 2 min", "bench: 2"), "JOB-VALUE", (21, 10), "2 min")
case("a bench time in words", changed("bench: 2 min", "bench: a while"), "JOB-VALUE", "a while", "10 min")
case(
    "a fact without a value", changed("bench: 2 min", "bench:"), "JOB-VALUE", (21, 9), "Write `- bench: ...`"
)
case(
    "a fact twice",
    changed("- bench: 2 min", "- bench: 2 min\n- bench: 3 min"),
    "JOB-TWICE",
    "3 min",
    "Keep one",
)
case("a mistyped fact", changed("- bench: 2 min", "- bnech: 2 min"), "JOB-KEY", "bnech", "'bench'")
case("a mistyped hazard", changed("fume, heat", "fumes, heat"), "JOB-HAZARD", "fumes", "'fume'")
case("a heat without a time", changed("hazard: fume, heat", "heat: 65 C"), "JOB-VALUE", "65 C", "65 C, 8 min")
case(
    "a shot without a length",
    changed("| macro | 3 s", "| macro"),
    "JOB-VALUE",
    "the cracked",
    "| camera | 4 s",
)
case(
    "a shot too short to see",
    changed("| macro | 3 s", "| macro | 0.1 s"),
    "JOB-VALUE",
    "the cracked",
    "0.5 s",
)
B_ROLL = "- needs: screws\n- b-roll: "
case(
    "a cutaway without a length",
    changed("- needs: screws", B_ROLL + "the lamp | macro"),
    "JOB-VALUE",
    "the lamp",
    "| camera | 4 s",
)
case(
    "a cutaway of nothing",
    changed("- needs: screws", B_ROLL + "| macro | 4 s"),
    "JOB-VALUE",
    "| macro | 4",
    "| camera | 5 s",
)
case(
    "a cutaway without a unit",
    changed("- needs: screws", B_ROLL + "the lamp | macro | 4"),
    "JOB-VALUE",
    "the lamp",
    "4 s",
)
case(
    "a cutaway too short to see",
    changed("- needs: screws", B_ROLL + "the lamp | macro | 0.2 s"),
    "JOB-VALUE",
    "the lamp",
    "0.5 s",
)
case(
    "a cutaway on no camera",
    changed("- needs: screws", B_ROLL + "the lamp | marco | 4 s"),
    "JOB-NAME",
    "the lamp",
    "'macro'",
)
case(
    "a cutaway that lost its colon",
    changed("- needs: screws", "- needs: screws\n- b-roll of the lamp"),
    "JOB-KEY",
    "b-roll of",
    "`- b-roll: ...`",
)
case(
    "a mistyped cutaway",
    changed("- needs: screws", "- needs: screws\n- broll: it"),
    "JOB-KEY",
    "broll",
    "'b-roll'",
)
case("no screws", changed("4 x M3x10", "0 x M3x10"), "JOB-VALUE", "0 x M3", "how many")
case(
    "a camera that is not declared", changed("camera: macro", "camera: marco"), "JOB-NAME", "marco", "'macro'"
)
case("a shot on no camera", changed("| macro | 3 s", "| side | 3 s"), "JOB-NAME", "the cracked", "macro, top")
case("a need that is no step", changed("needs: screws", "needs: screwz"), "JOB-NAME", "screwz", "'screws'")
case(
    "a need that comes later", changed("needs: screws", "needs: solder"), "JOB-ORDER", "solder\n", "Move one"
)
case("a step that needs itself", changed("needs: screws", "needs: board"), "JOB-ORDER", "board\n", "Move one")
case(
    "an answer to nothing",
    changed("answer dead", "answer alive"),
    "JOB-NAME",
    "a cracked solder joint",
    "dead",
)
case("a question without a name", changed("ask dead:", "ask:"), "JOB-VALUE", "Why does", "ask NAME")
case("two steps of one name", changed("{#board}", "{#screws}"), "JOB-TWICE", "Look at", "{#screws-2}")
case("a name with spaces", changed("{#board}", "{#the board}"), "JOB-ID", "Look at", "{#the-board}")
case("a read that is not declared", changed("read: tallow", "read: tallo"), "JOB-NAME", "tallo\n", "'tallow'")
case(
    "a read without words",
    changed(LAMP[LAMP.index("> This part") :], ""),
    "JOB-READ-TEXT",
    (12, 5),
    "- read: tallow",
)
case(
    "a phrase never spoken",
    changed("[code LAMP]", "[code LAMP, free post]"),
    "SLOT-MUST-SAY",
    "[code",
    "into the read",
)
case("a read too long", changed("8-12 s", "3-5 s"), "SLOT-LENGTH", "3-5 s", "Trim about")
case("a read too short", changed("8-12 s", "30-40 s"), "SLOT-LENGTH", "30-40 s", "Add about")
case(
    "a window that no boundary meets",
    changed("0:10 to 60%", "0:01 to 0:02"),
    "SLOT-NO-PLACE",
    "0:01 to",
    "Widen `starts`",
)
case(
    "a hazard too near everywhere",
    changed("hazard: 4 s", "hazard: 40 s"),
    "SLOT-NO-PLACE",
    "40 s",
    "keep clear of",
)
case(
    "no font there",
    changed("size: 320x180", "size: 320x180\nfont: mine.ttf"),
    "DRAFT-FONT",
    "mine.ttf",
    "job folder",
)


@pytest.mark.parametrize("name", ERRORS)
def test_error_is_found_at_its_place_with_a_remedy(
    name: str, job: JobFolder, run: Callable[..., Run]
) -> None:
    text, code, place, remedy = ERRORS[name]
    job.write("job.md", text)
    done = run("check", job.root, "--format", "json")
    assert done.status == 1
    found = [f for f in json.loads(done.out)["findings"] if f["code"] == code]
    assert found, done.out
    assert place in [(f["line"], f["column"]) for f in found], found
    exact = next(f for f in found if (f["line"], f["column"]) == place)
    assert exact["severity"] == "error"
    assert remedy in exact["remedy"]
    assert exact["message"].endswith(".")


case(
    "a view for a camera",
    changed("| macro | 3 s", "| overhead | 3 s"),
    "JOB-NAME",
    "the cracked",
    "Write 'top'",
)
case(
    "a log offset in words",
    changed("size: 320x180", "size: 320x180\nutc offset: CET"),
    "JOB-VALUE",
    "CET",
    "+01:00",
)


case(
    "a hazard without its colon",
    changed("hazard: fume, heat", "hazard fume"),
    "JOB-KEY",
    "hazard fume",
    "- hazard: ...",
)
case(
    "a point of no return that is argued",
    changed("- no return", "- no return, sadly"),
    "JOB-KEY",
    "no return,",
    "- no return",
)
case(
    "a bad hazard in a nested list",
    changed("- bench: 6 min\n- needs: board\n- hazard: fume, heat", "- bench: 6 min\n  - hazard: fumes"),
    "JOB-HAZARD",
    "fumes",
    "'fume'",
)
case(
    "a value far from its key",
    changed("- bench: 2 min", "-   bench:        2"),
    "JOB-VALUE",
    (21, 19),
    "2 min",
)
case("a quote never closed", changed("title: Can this", 'title: "Can this'), "JOB-YAML", '"Can', "closed")
case(
    "a frame rate made of keys",
    changed("frame rate: 25", "frame rate: {fps: 0}"),
    "JOB-VALUE",
    "{fps",
    "29.97",
)
case("a picture size as a list", changed("320x180", "[0, 0]"), "JOB-VALUE", "[0, 0]", "1280x720")
case("a run time as a list", changed("0:45-1:30", "[1, 2]"), "JOB-VALUE", "[1, 2]", "17:00-19:00")
case(
    "a frame rate without end",
    changed("frame rate: 25", "frame rate: 1e999999999"),
    "JOB-VALUE",
    "1e999",
    "29.97",
)
case(
    "a frame rate too fine",
    changed("frame rate: 25", "frame rate: 29.123456789012"),
    "JOB-VALUE",
    "29.1234",
    "29.97",
)
case(
    "a key in brackets", changed("device: Farrow desk lamp", '"[key]": x'), "JOB-KEY", '"[key]"', "Known here"
)
case(
    "no screen time at all",
    changed("size: 320x180", "size: 320x180\nlimits: {shortest shot: 0 s}"),
    "JOB-VALUE",
    "0 s}",
    "",
)
case("a window that is empty", changed("0:10 to 60%", "5:00 to 10%"), "SLOT-NO-PLACE", "5:00 to", "Widen")


WARNINGS = {
    "a title of signs only": (
        changed("## Four screws {#screws}", "## 電池").replace(b"- needs: screws\n", b""),
        "JOB-NO-ID",
        "電池",
        "{#step-27}",
    ),
    "a line that Markdown makes a heading": (
        changed("> Fresh solder", "\nBuy flux\n---\n> Fresh solder"),
        "JOB-DEEP",
        "Buy flux",
        "blank line",
    ),
    "a step that says and shows nothing": (
        changed(LAMP[LAMP.index("> Fresh") : LAMP.index("# Result")], ""),
        "JOB-NO-PICTURE",
        "Solder the joint",
        "Add a `> ...`",
    ),
    "a line that slips into a quote": (
        changed("than a new one.\n", "than a new one.\nremember the tea\n"),
        "JOB-SPOKEN-ON",
        "remember",
        "blank line",
    ),
    "a question never answered": (
        changed("- answer dead: a cracked solder joint\n", ""),
        "JOB-UNANSWERED",
        "Why does",
        "answer dead",
    ),
    "words before the first heading": (
        changed("# Cold open {#open}", "> Hello.\n\n# Cold open {#open}"),
        "JOB-LOOSE",
        "Hello",
        "heading above",
    ),
    "a step in no section": (
        changed("# Cold open {#open}", "## Cold open {#open}"),
        "JOB-LOOSE",
        "Cold open",
        "# Section",
    ),
    "a ledger value": (
        changed("cost me nothing", "cost me {{ spent.total }}"),
        "JOB-QUOTE",
        "An hour",
        "Write the number",
    ),
    "a shutter that flickers": (
        changed("{view: macro}", "{view: macro, shutter: 1/60}\nmains: 50 Hz"),
        "JOB-FLICKER",
        "1/60",
        "1/50 or 1/100",
    ),
    "a heading too deep": (changed("> Fresh", "### Aside\n> Fresh"), "JOB-DEEP", "Aside", "##"),
    "a list item with a colon": (
        changed("- bench: 2 min", "- bench: 2 min\n- remember: tea"),
        "JOB-KEPT-AS-NOTE",
        "remember",
        "Facts are",
    ),
    "a read moved from where it was written": (
        LAMP.replace(LAMP[LAMP.index("# From the") :], "")
        .replace("# Repair\n", LAMP[LAMP.index("# From the") :] + "\n# Repair\n")
        .encode("utf-8"),
        "SLOT-MOVED",
        "From the sponsor",
        "read's terms",
    ),
    "a read that hides who pays": (
        changed("This part is paid for by Tallow Tools, who sponsor the bench.", "I love Tallow Tools."),
        "SLOT-NOT-HEARD",
        "I love",
        "first sentence",
    ),
    "a read disclosed by ear only": (
        changed("sponsor: Tallow Tools", "sponsor: Tallow Tools\n    disclosure: heard"),
        "SLOT-NOT-SEEN",
        "heard",
        "heard and seen",
    ),
    "an episode too long": (changed("0:45-1:30", "0:20-0:25"), "FIT-RUNTIME", "0:20-0:25", "Trim about"),
    "an episode too short": (changed("0:45-1:30", "5:00-6:00"), "FIT-RUNTIME", "5:00-6:00", "Add about"),
    "too few chapters": (
        LAMP.split("# Teardown")[0].replace("runtime: 0:45-1:30\n", "").encode(),
        "CHAP-FEW",
        (1, 1),
        "Add a `# Section`",
    ),
    "a section too short for a chapter": (
        changed(LAMP[LAMP.index("An hour") : LAMP.index("# From")], "It burns.\n\n"),
        "CHAP-MERGED",
        "Result {",
        "merged",
    ),
    "a read too short for a marker of its own": (
        changed("sponsor: Tallow Tools", "sponsor: Tallow Tools\n    marker: yes").replace(
            b"frame rate", b"limits: {chapter length: 15 s}\nframe rate"
        ),
        "CHAP-MARKER",
        "yes",
        "marker: no",
    ),
    "a letter the font lacks": (
        changed("Four screws {#screws}", "Four 電池 {#screws}"),
        "DRAFT-GLYPH",
        "Four 電池",
        "font",
    ),
}


@pytest.mark.parametrize("name", WARNINGS)
def test_warning_or_note_is_found_at_its_place(name: str, job: JobFolder, run: Callable[..., Run]) -> None:
    text, code, piece, remedy = WARNINGS[name]
    place = place_of(text, piece) if isinstance(piece, str) else piece
    job.write("job.md", text)
    done = run("check", job.root, "--format", "json")
    found = [f for f in json.loads(done.out)["findings"] if f["code"] == code]
    assert place in [(f["line"], f["column"]) for f in found], done.out
    exact = next(f for f in found if (f["line"], f["column"]) == place)
    assert exact["severity"] in {"warning", "note"}
    assert remedy in exact["remedy"] + exact["message"]


def test_the_lamp_job_itself_is_clean(job: JobFolder, run: Callable[..., Run]) -> None:
    done = run("check", job.root)
    assert (done.status, done.out) == (0, "nothing to report\n")


def test_all_findings_come_in_one_pass(job: JobFolder, run: Callable[..., Run]) -> None:
    text = (
        changed("runtime:", "runtme:").replace(b"fume, heat", b"fumes").replace(b"bench: 2 min", b"bench: 2")
    )
    job.write("job.md", text)
    done = run("check", job.root)
    assert done.status == 1
    assert [code in done.out for code in ("JOB-KEY", "JOB-HAZARD", "JOB-VALUE")] == [True] * 3
    assert "3 errors" in done.out


def test_a_bad_value_costs_only_itself(job: JobFolder, run: Callable[..., Run]) -> None:
    job.write("job.md", changed("frame rate: 25", "frame rate: fast"))
    done = run("plan", job.root)
    assert done.status == 1
    assert (job.root / "out" / "shot-list.html").is_file()


@pytest.mark.parametrize("command", ["check", "plan", "draft"])
def test_folder_without_plan_is_a_finding(command: str, job: JobFolder, run: Callable[..., Run]) -> None:
    (job.root / "job.md").unlink()
    done = run(command, job.root)
    assert done.status == 1
    assert "JOB-MISSING" in done.text
    assert "episodekit new DIR" in done.text


def test_plan_that_is_a_folder(job: JobFolder, run: Callable[..., Run]) -> None:
    (job.root / "job.md").unlink()
    (job.root / "job.md").mkdir()
    done = run("check", job.root, "--format", "json")
    assert done.status == 1
    assert json.loads(done.out)["findings"][0]["code"] == "JOB-MISSING"


@pytest.mark.parametrize(
    "piece", ["[" * 5000, "{a: " * 5000, "- " * 5000, "a: &x [*x, *x]", "!!python/object:os.system x"]
)
def test_hostile_front_matter_is_a_finding(piece: str, job: JobFolder, run: Callable[..., Run]) -> None:
    job.write("job.md", f"---\n{piece}\n---\n# A\n> Hello.\n")
    assert run("check", job.root).status == 1


@pytest.mark.parametrize(
    "piece",
    ["> " * 3000 + "deep", "- " * 3000 + "deep", "[" * 3000, "*" * 9000, "\x00", "<script>alert(1)</script>"],
)
def test_hostile_body_never_breaks_it(piece: str, job: JobFolder, run: Callable[..., Run]) -> None:
    job.write("job.md", f"---\ntitle: A\n---\n# A\n> Hello.\n\n{piece}\n")
    assert run("plan", job.root).status in {0, 1}


def test_remedy_for_the_third_of_one_name_is_free(job: JobFolder, run: Callable[..., Run]) -> None:
    job.write("job.md", "---\ntitle: A\n---\n# A\n" + "## Lift\n> One.\n\n" * 3)
    found = [
        f
        for f in json.loads(run("check", job.root, "--format", "json").out)["findings"]
        if f["code"] == "JOB-TWICE"
    ]
    assert [f["remedy"] for f in found] == [
        "Write {#lift-2} after the title.",
        "Write {#lift-3} after the title.",
    ]


def test_read_pushed_out_of_its_window_by_a_later_one_is_found(
    job: JobFolder, run: Callable[..., Run]
) -> None:
    two = LAMP.replace(
        "    keep clear of: {hazard: 4 s}\n",
        "    keep clear of: {hazard: 0 s}\n  early:\n    sponsor: B\n    starts: before 0:16\n"
        "    keep clear of: {hazard: 0 s}\n",
    ).replace("0:10 to 60%", "0:12 to 0:26")
    two += (
        "\n# Another word\n- read: early\n> "
        + "This one is paid for, and it goes on and on for a while. " * 9
        + "\n"
    )
    job.write("job.md", two)
    found = json.loads(run("check", job.root, "--format", "json").out)["findings"]
    assert any(f["code"] == "SLOT-NO-PLACE" and "'tallow'" in f["message"] for f in found)


def test_read_is_not_put_between_two_hazards_by_default(job: JobFolder, run: Callable[..., Run]) -> None:
    text = LAMP.replace("    keep clear of: {hazard: 4 s}\n", "").replace("0:10 to 60%", "0:10 to 90%")
    job.write("job.md", text.replace("- needs: screws", "- needs: screws\n- hazard: mains"))
    assert run("plan", job.root).status == 0
    plan = json.loads((job.root / "out" / "plan.json").read_text())
    steps = [step["id"] for step in plan["steps"]]
    at = steps.index("tallow-read")
    assert not {"board", "solder"} & set(steps[at - 1 : at + 2])


def test_output_that_cannot_show_a_character_shows_its_number(job: JobFolder) -> None:
    job.write("job.md", LAMP.replace("Four screws {#screws}", "Four 電池 {#screws}"))
    environment = {**os.environ, "PYTHONIOENCODING": "cp1252", "PYTHONPATH": str(ROOT)}
    command = [sys.executable, "-m", "episodekit", "check", str(job.root)]
    done = subprocess.run(command, capture_output=True, env=environment, check=False)
    assert done.returncode == 0, done.stderr
    assert b"DRAFT-GLYPH" in done.stdout


def test_sparse_giant_is_refused_without_being_read(job: JobFolder, run: Callable[..., Run]) -> None:
    with (job.root / "job.md").open("wb") as file:
        file.truncate(300 * 10**9)
    assert "JOB-TOO-BIG" in run("check", job.root).out


@pytest.mark.parametrize("command", ["plan", "draft"])
@pytest.mark.parametrize("link", ["out", "out/cache"])
def test_nothing_is_written_into_footage_through_a_link(
    command: str, link: str, job: JobFolder, run: Callable[..., Run]
) -> None:
    (job.root / "footage").mkdir()
    (job.root / link).parent.mkdir(exist_ok=True)
    (job.root / link).symlink_to(job.root / "footage", target_is_directory=True)
    done = run(command, job.root)
    assert done.status == 3
    assert "never written to" in done.err
    assert not list((job.root / "footage").iterdir())


def test_id_that_was_written_goes_before_one_that_is_implied(job: JobFolder, run: Callable[..., Run]) -> None:
    job.write(
        "job.md", LAMP.replace("# Teardown\n", "# Screws\n").replace("- needs: board", "- needs: screws")
    )
    assert "JOB-" not in run("check", job.root).out
