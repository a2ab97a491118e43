"""The description: who paid comes first and above the fold, whatever else stands in it.

What hosts show before "more" (157 characters or three lines) and take (5,000 characters, no angle brackets) is common
practice, no source.
"""

from __future__ import annotations

from collections.abc import Callable

import pytest
from hypothesis import given
from hypothesis import strategies as st

from episodekit.base.findings import Finding
from episodekit.base.time import Ms
from episodekit.chapters.mark import Chapter
from episodekit.job.model import Plan
from episodekit.job.reader import read_plan
from episodekit.pack.description import check_description, describe
from tests.conftest import LAMP, JobFolder, Run

CHAPTERS = (
    Chapter("Cold open", Ms(0)),
    Chapter("Tear <it> down", Ms(64_500)),
    Chapter("Result", Ms(130_000)),
)
TERMS = (
    "    code: LAMP\n    link: https://tallow.example/lamp\n    link pays: yes\n    goods: the long driver\n"
)


def plan_of(text: str) -> Plan:
    plan, _ = read_plan(text.encode())
    assert plan is not None
    return plan


def lamp(terms: str = "", front: str = "") -> Plan:
    text = LAMP.replace("    length: 8-12 s\n", f"    length: 8-12 s\n{terms}", 1)
    return plan_of(text.replace("title: Can", f"{front}title: Can", 1))


def found(plan: Plan, chapters: tuple[Chapter, ...] = CHAPTERS) -> list[Finding]:
    return list(check_description(plan, describe(plan, chapters)))


def test_description_begins_with_who_paid_and_what_was_free() -> None:
    plan = lamp(TERMS, "free goods:\n  iron: {from: Ashbourne Tools, what: a soldering iron}\n")
    assert describe(plan, CHAPTERS).text == (
        "Ad: paid for by Tallow Tools, who also gave me the long driver free. Code LAMP, https://tallow.example/lamp "
        "(I earn if you buy there)\n"
        "Received free from Ashbourne Tools: a soldering iron.\n"
        "\n"
        "Can this desk lamp be saved?\n"
        "\n"
        "0:00 Cold open\n"
        "1:04 Tear ‹it› down\n"
        "2:10 Result\n"
        "\n"
        "Links\n"
        "Tallow Tools: https://tallow.example/lamp\n"
    )


def test_of_several_reads_the_first_line_names_all_in_the_order_they_play() -> None:
    others = "  brack: {sponsor: Brackenfold}\n  ash: {sponsor: Ashbourne, code: IRON}\n  two: {sponsor: Ashbourne}\n"
    text = LAMP.replace("    length: 8", f"{TERMS}    length: 8").replace(
        "  tallow:", f"{others}  tallow:", 1
    )
    plan = plan_of(text)
    lines = describe(plan, CHAPTERS, ["brack", "tallow"]).text.splitlines()
    assert lines[0] == "Ads: paid for by Brackenfold, Tallow Tools and Ashbourne."
    assert lines[1].startswith("Tallow Tools gave me the long driver free. Code LAMP, https://")
    assert lines[2] == "Ashbourne: Code IRON."
    assert lines[3] == ""


def test_without_a_deal_the_description_begins_with_the_promise() -> None:
    text = LAMP[: LAMP.index("# From the")].replace(LAMP[LAMP.index("reads:") : LAMP.index("---\n\n#")], "")
    described = describe(plan_of(text.replace("saved?", "saved at last")), CHAPTERS).text
    assert described.startswith(
        "Can this desk lamp be saved at last. Why does it die after ten minutes?\n\n0:00 "
    )
    assert "Links" not in described


def test_title_that_begins_like_a_stamp_does_not_pass_for_a_chapter() -> None:
    plan = plan_of(
        LAMP.replace("title: Can this desk lamp be saved?", 'title: "12:30, and the alarm is dead?"')
    )
    lines = describe(plan, CHAPTERS).text.splitlines()
    assert next(line for line in lines if line[:1].isdigit()) == "0:00 Cold open"


@given(
    st.text("ab <>&|\u202e\u0007é🔧\n", min_size=1, max_size=40),
    st.text("XY<>\n 7", max_size=60),
    st.integers(1, 30),
)
def test_description_is_plain_text_with_one_line_a_chapter(sponsor: str, title: str, count: int) -> None:
    plan = lamp(TERMS)
    read = plan.front.reads["tallow"].model_copy(update={"sponsor": sponsor, "link": "https://a.example/<b>"})
    plan = plan.model_copy(update={"front": plan.front.model_copy(update={"reads": {"tallow": read}})})
    chapters = [Chapter(title, Ms(n * 20_000)) for n in range(count)]
    text = describe(plan, chapters).text
    assert not set("<>\u202e\u0007\r") & set(text)
    assert text.isprintable() or all(c.isprintable() or c == "\n" for c in text)
    blocks = text.split("\n\n")
    assert len(blocks) == 4
    assert len(blocks[2].splitlines()) == count
    assert "https://a.example/%3Cb%3E" in blocks[0]


@given(st.text("abcdefghij ", min_size=1, max_size=120), st.booleans(), st.text("abc/", max_size=120))
def test_disclosure_is_above_the_fold_or_told(sponsor: str, code: bool, path: str) -> None:
    plan = lamp(TERMS if code else "")
    read = plan.front.reads["tallow"].model_copy(
        update={"sponsor": sponsor.strip() or "a", "link": f"https://a.example/{path}"}
    )
    plan = plan.model_copy(update={"front": plan.front.model_copy(update={"reads": {"tallow": read}})})
    text = describe(plan, CHAPTERS).text
    assert text.startswith("Ad: paid for by ")
    shown = text[:157]
    whole = f"https://a.example/{path}" in shown and len(text.splitlines()[0]) <= 157
    assert whole != ("PACK-FOLD" in {f.code for f in found(plan)})


@pytest.mark.parametrize(
    ("old", "new", "code", "where", "says"),
    [
        (
            "takes off a tenth",
            "is behind the link below",
            "PACK-NO-LINK",
            "> This part",
            "and the plan has none",
        ),
        (
            "takes off a tenth",
            "has a link in the description",
            "PACK-NO-LINK",
            "> This",
            "in the description",
        ),
        ("    length: 8", "    link pays: yes\n    length: 8", "PACK-NO-LINK", "link pays", "but no link"),
        (
            "    length: 8",
            "    link stays: 9 days\n    length: 8",
            "PACK-NO-LINK",
            "link stays",
            "but no link",
        ),
        ("Tallow Tools\n", "Tallow" + " Tools" * 30 + "\n", "PACK-FOLD", "sponsor:", "hosts show about 157"),
        ("size:", "limits: {first lines: 20}\nsize:", "PACK-FOLD", "sponsor:", "show about 20"),
        ("size:", "limits: {description: 100}\nsize:", "PACK-LONG", "limits:", "hosts take 100"),
    ],
)
def test_description_that_fails_a_viewer_is_told(
    old: str, new: str, code: str, where: str, says: str
) -> None:
    text = LAMP.replace(old, new, 1)
    (told,) = found(plan_of(text))
    assert told.code == code
    assert where in text.splitlines()[told.at.line - 1]
    assert says in told.message
    assert told.remedy


def test_fourth_line_is_below_the_fold_however_short() -> None:
    goods = "".join(f"  g{n}: {{from: A, what: b{n}}}\n" for n in range(3))
    (told,) = found(lamp("", f"free goods:\n{goods}"))
    assert told.code == "PACK-FOLD"
    assert "line 4" in told.message


def test_plan_writes_the_description_beside_the_chapters(job: JobFolder, run: Callable[..., Run]) -> None:
    assert run("plan", job.root).status == 0
    text = (job.root / "out" / "pack" / "description.txt").read_text(encoding="utf-8")
    assert text.startswith("Ad: paid for by Tallow Tools.\n\nCan this desk lamp be saved?\n\n0:00 ")
    assert (job.root / "out" / "chapters.txt").read_text(encoding="utf-8") in text
