"""The proof sheet as its reader meets it: in a browser, on a phone, on paper, sent without any other file."""

from __future__ import annotations

from pathlib import Path

import html5lib
import pytest
from PIL import Image

from episodekit.base.time import Ms
from episodekit.outside.media.proving.thumbnail import data_uri
from episodekit.outside.pages import proof_page
from episodekit.pack.measured import Seen, Span
from episodekit.pack.sheet import Sheet, sheets
from episodekit.pack.term import Met
from tests.browser import PAPERS, Browser, browser
from tests.media import kit
from tests.proof_kit import JOB
from tests.test_proof_terms import DESCRIPTION, as_planned, compiled, with_read

__all__ = ["browser"]

ATTACK = "Tallow <script>document.title='owned'</script> Tools"


def sheet_of(text: str = JOB) -> Sheet:
    """A sheet with terms of all three kinds: the read was covered for a second."""
    episode = compiled(text)
    start, end = episode.reads[0].start, episode.reads[0].start + episode.reads[0].length
    covered = Seen((Span(start, Ms(end - 3000)), Span(Ms(end - 2000), Ms(end))), 22.5, 12.0)
    return sheets(episode, with_read(as_planned(episode), ad=covered), DESCRIPTION)[0]


def write(folder: Path, sheet: Sheet) -> Path:
    frame = Image.fromarray(kit.coded_frame(7, 1920, 1080))
    times = {term.frame for term in sheet.terms if term.frame is not None}
    page = folder / "proof.html"
    page.write_text(proof_page(sheet, {at: data_uri(frame) for at in times}), encoding="utf-8")
    return page


def test_page_is_valid_and_needs_nothing_else(tmp_path: Path) -> None:
    page = write(tmp_path, sheet_of())
    text = page.read_text(encoding="utf-8")
    parser = html5lib.HTMLParser(strict=True)
    parser.parse(text)
    assert 'src="http' not in text
    assert "<link" not in text
    assert text.count('src="data:image/jpeg;base64,') >= 5
    assert page.stat().st_size < 2_000_000, "small enough for a mail"


@pytest.mark.parametrize("width", [1280, 390])
@pytest.mark.parametrize("scheme", ["light", "dark"])
def test_page_tells_results_in_words_and_fits(
    width: int, scheme: str, tmp_path: Path, browser: Browser
) -> None:
    sheet = sheet_of(JOB.replace("sponsor: Tallow Tools", f'sponsor: "{ATTACK}"'))
    page = write(tmp_path, sheet)
    browser.open(page, width=width, scheme=scheme)
    assert browser.console() == []
    assert browser.ask("return document.documentElement.scrollWidth") <= width
    assert browser.ask("return document.title").startswith("Proof for Tallow <script>")
    shown = browser.ask("return [...document.querySelectorAll('.result')].map(e => e.innerText)")
    assert shown == [term.met.value for term in sheet.terms]
    assert set(shown) == {met.value for met in Met}
    broken = browser.ask("return [...document.images].filter(i => !i.naturalWidth || !i.alt).length")
    assert broken == 0


@pytest.mark.parametrize("paper", sorted(PAPERS))
def test_page_prints_on_two_pages_with_each_term_whole(paper: str, tmp_path: Path, browser: Browser) -> None:
    sheet = sheet_of()
    browser.open(write(tmp_path, sheet))
    printed = browser.printed(paper)
    assert len(printed.pages) <= 2
    text = " ".join(" ".join(page.extract_text().split()) for page in printed.pages)
    assert f"Proof for {sheet.sponsor}" in text
    for term in sheet.terms:
        assert f"{term.name}: " in text
    assert "gone for 1.00" in text
