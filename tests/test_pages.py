"""The HTML pages as html5lib parses them, strictly (the WHATWG parsing algorithm): any parse error fails."""

from __future__ import annotations

import re
from itertools import pairwise
from xml.etree.ElementTree import Element

import html5lib
import pytest

from episodekit.formats.plan_document import PlanDocument
from episodekit.outside.pages import page
from tests.page_jobs import JOBS, PAGES, docs, squeezed

__all__ = ["docs"]


def parsed(html: str) -> Element:
    """The tree of a page; raises on the first parse error."""
    root: Element = html5lib.HTMLParser(strict=True, namespaceHTMLElements=False).parse(html)
    return root


def words_of(element: Element) -> str:
    """What stands in an element."""
    return squeezed("".join(element.itertext()))


def body_words(html: str) -> str:
    """What stands in the body."""
    body = parsed(html).find("body")
    assert body is not None
    return words_of(body)


each_page = pytest.mark.parametrize("name", PAGES)
each_job = pytest.mark.parametrize("job", list(JOBS))


@each_page
@each_job
def test_page_is_valid_and_stands_alone(docs: dict[str, PlanDocument], job: str, name: str) -> None:
    html = page(name, docs[job])
    root = parsed(html)
    assert root.get("lang") == "en"
    metas = [meta.attrib for meta in root.iter("meta")]
    assert {"charset": "utf-8"} in metas
    assert {"name": "viewport", "content": "width=device-width, initial-scale=1"} in metas
    ids = [element.get("id") for element in root.iter() if element.get("id")]
    assert len(ids) == len(set(ids))
    for element in root.iter():
        for key, value in element.attrib.items():
            if "href" in str(key):
                assert value.startswith("#"), value
                assert value[1:] in ids, value
            assert not str(key).startswith("on")
            assert str(key) not in {"src", "srcset"}
        for key in ("aria-labelledby", "aria-describedby"):
            assert set(element.get(key, "").split()) <= set(ids)
    style = "".join(element.text or "" for element in root.iter("style"))
    assert "@import" not in style
    assert set(re.findall(r"url\(([^)]*)\)", style)) <= {"#hatch"}


@each_page
@each_job
def test_headings_start_at_one_and_skip_no_level(docs: dict[str, PlanDocument], job: str, name: str) -> None:
    root = parsed(page(name, docs[job]))
    levels = [int(str(e.tag)[1]) for e in root.iter() if re.fullmatch("h[1-6]", str(e.tag))]
    assert levels[0] == 1
    assert levels.count(1) == 1
    assert all(after <= before + 1 for before, after in pairwise(levels)), levels


@pytest.mark.parametrize("job", ["lamp", "long"])
def test_shot_list_says_everything_the_plan_holds(docs: dict[str, PlanDocument], job: str) -> None:
    doc = docs[job]
    html = page("shot-list.html", doc)
    root, text = parsed(html), body_words(html)
    rows = {e.get("id"): e for e in root.iter("tr") if e.get("id")}
    beats = {beat.id: beat for step in doc.steps for beat in step.beats}
    titles = {step.id: step.title for step in doc.steps}
    assert list(rows) == [f"shot-{shot.number}" for shot in doc.shots]
    for shot in doc.shots:
        row = words_of(rows[f"shot-{shot.number}"])
        assert row.startswith(f"{shot.number} ")
        if shot.what != titles[shot.step] or not shot.beats:
            assert squeezed(shot.what) in row
        for beat in shot.beats:
            assert squeezed(beats[beat].text[:40]) in row
        assert squeezed(shot.camera) in row
        assert ("filmed" if shot.filmed else "to film") in row
    for step in doc.steps:
        assert squeezed(step.title) in text
        for said in (*step.cautions, *step.takes_off, *step.notes):
            assert squeezed(said) in text
    block = next(e for e in root.iter("pre"))
    assert (block.text or "").splitlines() == [f"{c.stamp} {c.title}" for c in doc.chapters]
    for read in doc.reads:
        assert f"Ad · paid for by {read.sponsor}" in text
        assert squeezed(read.why) in text
    findings = [words_of(e) for e in root.iter("li") if e.get("class") == "finding"]
    severities = [kind for kind in ("error", "warning", "note") for f in doc.findings if f.severity == kind]
    in_turn = [f for kind in dict.fromkeys(severities) for f in doc.findings if f.severity == kind]
    assert len(findings) == len(doc.findings)
    for shown, found in zip(findings, in_turn, strict=True):
        assert squeezed(f"{found.message} {found.remedy}").replace("`", "") in shown
        assert found.code in shown
        assert found.line == 0 or f"{found.file}:{found.line}:{found.column}" in shown


@pytest.mark.parametrize("job", ["lamp", "long"])
def test_filming_order_lists_each_shot_once_with_its_cautions(
    docs: dict[str, PlanDocument], job: str
) -> None:
    doc = docs[job]
    root = parsed(page("shot-list.html", doc))
    (part,) = [e for e in root.iter("section") if e.get("id") == "filming-order"]
    boxes = [e for e in part.iter("input") if e.get("type") == "checkbox"]
    numbers = [n for set_up in doc.set_ups for n in set_up.shots]
    jumps = [e.get("href") for e in part.iter("a")]
    assert sorted(numbers) == [shot.number for shot in doc.shots]
    assert jumps == [f"#shot-{n}" for n in numbers]
    assert [b.get("checked") is not None for b in boxes] == [doc.shots[n - 1].filmed for n in numbers]
    # The cautions of a shot stand in its own list item, or at the head of its once-only round.
    holders = [e for e in part.iter() if e.tag == "li" or e.get("class") == "once-only"]
    for shot in doc.shots:
        holder = [e for e in holders if any(a.get("href") == f"#shot-{shot.number}" for a in e.iter("a"))]
        assert all(any(squeezed(said) in words_of(e) for e in holder) for said in shot.cautions)
        assert any(e.get("class") == "once-only" for e in holder) == shot.no_return


@pytest.mark.parametrize("job", ["lamp", "long"])
def test_narration_holds_every_word_in_screen_order(docs: dict[str, PlanDocument], job: str) -> None:
    doc = docs[job]
    html = page("narration.html", doc)
    said = [words_of(e) for e in parsed(html).iter("div") if e.get("class") == "said"]
    beats = [beat for step in doc.steps for beat in step.beats]
    assert len(said) == len(beats)
    for shown, beat in zip(said, beats, strict=True):
        assert shown.replace(" ", "") == squeezed(beat.text).replace(" ", "")
    text = body_words(html)
    words = sum(beat.words for beat in beats)
    assert f"So far {words} words" in text
    assert f"{round(words * 60_000 / doc.spoken_ms)} wpm" in text
    for step in doc.steps:
        for caution in step.cautions:
            assert squeezed(caution) in text
    for read in doc.reads:
        assert f"Ad · paid for by {read.sponsor}" in text
        assert "Disclosure: heard and seen" in text
        for phrase in read.must_say:
            assert all(way in text for way in phrase.split(" | "))


@each_page
def test_hostile_text_stays_text(docs: dict[str, PlanDocument], name: str) -> None:
    root = parsed(page(name, docs["long"]))
    tags = {str(element.tag) for element in root.iter()}
    assert not tags & {"img", "em", "i", "u", "iframe", "note", "edge", "tri-wing"}
    scripts = ["".join(e.itertext()) for e in root.iter("script")]
    assert len(scripts) == (1 if name == "shot-list.html" else 0)
    assert not any("owned" in script for script in scripts)
    title = root.find("head/title")
    assert title is not None
    assert "<script>document.title='owned'</script>" in words_of(title)
