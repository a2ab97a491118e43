"""Each chapter format, read back by a reader that is not ours: the same stamps to the millisecond, the same titles."""

from __future__ import annotations

import json
import random
import shutil
import subprocess
from collections.abc import Callable
from pathlib import Path
from typing import Any
from urllib.parse import quote
from xml.etree import ElementTree

import av
import imageio_ffmpeg
import jsonschema
import pytest
from pymediainfo import MediaInfo

from episodekit.base.text import one_line
from episodekit.base.time import Ms
from episodekit.formats.chapters_text import write_chapters_text
from episodekit.formats.ffmetadata import ffmetadata
from episodekit.formats.json_chapters import write_json_chapters
from episodekit.formats.matroska_chapters import write_matroska_chapters
from episodekit.formats.webvtt_chapters import write_webvtt_chapters
from episodekit.timeline.model import ChapterMark
from tests.browser import Browser, browser

__all__ = ["browser"]

# What breaks writers: each format's own signs, other scripts, both directions, controls, the longest title.
HARD = [
    "Cold open",
    "Flux & wick <b>, &amp; &lt;",
    "In --> out",
    "Schräg → 修理 \\ back; = #1, 100 %",
    "\"Quotes\" and 'more' ]]>",
    "NOTE",
    "WEBVTT",
    "[CHAPTER]",
    ";a title",
    "# \N{ARABIC LETTER MEEM}\N{HEBREW LETTER ALEF} \N{ADHESIVE BANDAGE}\N{ZERO WIDTH JOINER}",
    "{\\an8}drawn",
    "bell\x07, escape\x1b[1m and\nbreak\x85 \N{LINE SEPARATOR}",
    "not a character: \N{NO-BREAK SPACE}\ufffe\uffff.",
    "C:\\",
    "ж" * 127,
]
DICE = random.Random(20261125)
ALPHABET = "aB1 &<>;=#\\\"'-:/.,{}[]|%~é修ж🔧\t\r"
TITLES = HARD + ["x" + "".join(DICE.choices(ALPHABET, k=DICE.randint(1, 40))) for _ in range(255 - len(HARD))]
STARTS = [0, 1, 999, 1000, 59_999, 60_000, 3_599_999, 3_600_000]
STARTS += [3_600_001 + n * 61_003 for n in range(255 - len(STARTS))]
LENGTH = Ms(STARTS[-1] + 86_399_999)
MARKS = [ChapterMark(Ms(at), title) for at, title in zip(STARTS, TITLES, strict=True)]
# As a player is to show them: on one line, without controls.
WANTED = [
    (at, end, one_line(title))
    for at, end, title in zip(STARTS, [*STARTS[1:], int(LENGTH)], TITLES, strict=True)
]
FFMPEG = imageio_ffmpeg.get_ffmpeg_exe()


def done(*command: str | Path) -> str:
    """What a program says; its complaint if it fails."""
    ran = subprocess.run([str(word) for word in command], capture_output=True, check=False)
    text = ran.stdout.decode("utf-8", "replace")
    assert ran.returncode == 0, text + ran.stderr.decode("utf-8", "replace")
    return text


def needed(*names: str) -> None:
    for name in names:
        if shutil.which(name) is None:
            pytest.skip(f"no {name} on PATH")


@pytest.fixture(scope="module")
def clip(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """A second of picture to hang chapters on."""
    path = tmp_path_factory.mktemp("clip") / "clip.mkv"
    done(FFMPEG, "-v", "error", "-f", "lavfi", "-i", "color=s=64x64:d=1", "-c:v", "libx264", path)
    return path


def milliseconds(stamp: str) -> int:
    hours, minutes, seconds = stamp.split(":")
    whole, fraction = seconds.split(".")
    assert fraction[3:].strip("0") == ""
    return ((int(hours) * 60 + int(minutes)) * 60 + int(whole)) * 1000 + int(fraction[:3])


def test_matroska_chapters_as_mkvmerge_and_pyav_read_them(clip: Path, tmp_path: Path) -> None:
    needed("mkvmerge", "mkvextract")
    xml, video = tmp_path / "chapters.xml", tmp_path / "with.mkv"
    xml.write_text(write_matroska_chapters(MARKS, LENGTH), encoding="utf-8", newline="")
    # mkvmerge is the strict reader: it refuses an unknown or malformed element with its position.
    said = done("mkvmerge", "--ui-language", "en_US", "-o", video, "--chapters", xml, clip)
    assert "Warning" not in said
    made = tmp_path / "extracted.xml"
    done("mkvextract", video, "chapters", made)
    atoms = list(ElementTree.parse(made).getroot().iter("ChapterAtom"))
    assert [
        (
            milliseconds(atom.findtext("ChapterTimeStart", "")),
            milliseconds(atom.findtext("ChapterTimeEnd", "")),
            atom.findtext("ChapterDisplay/ChapterString"),
        )
        for atom in atoms
    ] == WANTED
    assert [atom.findtext("ChapterUID") for atom in atoms] == [str(n + 1) for n in range(len(MARKS))]
    with av.open(str(video)) as container:
        read = [
            (c["start"] * c["time_base"] * 1000, c["end"] * c["time_base"] * 1000, c["metadata"]["title"])
            for c in container.chapters()
        ]
    assert read == WANTED


def test_mkvmerge_takes_an_episode_without_chapters(clip: Path, tmp_path: Path) -> None:
    needed("mkvmerge")
    xml = tmp_path / "none.xml"
    xml.write_text(write_matroska_chapters([], Ms(1000)), encoding="utf-8")
    done("mkvmerge", "-o", tmp_path / "none.mkv", "--chapters", xml, clip)


READ_VTT = """
const { WebVTTParser } = require('webvtt-parser');
const entities = require('webvtt-parser/html-entities.json');
const text = require('fs').readFileSync(process.argv[2], 'utf8');
const read = new WebVTTParser(entities).parse(text, 'chapters');
const flat = (node) => node.type === 'text' ? node.value : (node.children || []).map(flat).join('');
console.log(JSON.stringify({
  errors: read.errors, cues: read.cues.map((c) => [c.startTime, c.endTime, flat(c.tree)]) }));
"""


@pytest.fixture(scope="module")
def webvtt_reader(tmp_path_factory: pytest.TempPathFactory) -> Callable[[Path], Any]:
    """The W3C community's strict WebVTT parser, installed for this run into a folder of its own."""
    needed("node", "npm")
    folder = tmp_path_factory.mktemp("webvtt")
    install = ("npm", "install", "--silent", "--no-audit", "--no-fund", "webvtt-parser@2.2.0")
    ran = subprocess.run(install, cwd=folder, capture_output=True, text=True, check=False)
    if ran.returncode != 0:
        pytest.skip(f"npm cannot install webvtt-parser: {(ran.stderr or ran.stdout)[-200:]}")
    script = folder / "read.js"
    script.write_text(READ_VTT, encoding="utf-8")
    return lambda path: json.loads(done("node", script, path))


def test_webvtt_chapters_as_the_w3c_parser_reads_them(
    webvtt_reader: Callable[[Path], Any], tmp_path: Path
) -> None:
    path = tmp_path / "chapters.vtt"
    path.write_text(write_webvtt_chapters(MARKS, LENGTH), encoding="utf-8", newline="")
    read = webvtt_reader(path)
    assert read["errors"] == []
    assert [(round(a * 1000), round(b * 1000), title) for a, b, title in read["cues"]] == WANTED
    # The reader is strict: what a careless writer would make is found.
    path.write_text("WEBVTT\n\n00:00:02.000 --> 00:00:01.000\nA & B <\n", encoding="utf-8")
    assert webvtt_reader(path)["errors"]


def test_webvtt_chapters_as_chromiums_track_element_reads_them(browser: Browser, tmp_path: Path) -> None:
    """Source: HTML Standard, the track element, kind=chapters."""
    page = tmp_path / "page.html"
    source = "data:text/vtt;charset=utf-8," + quote(write_webvtt_chapters(MARKS, LENGTH))
    page.write_text(
        '<!doctype html><meta charset="utf-8"><title>Chapters</title>'
        f'<video><track kind="chapters" src="{source}"></video>'
        "<script>const t = document.querySelector('track');"
        "window.read = new Promise((yes, no) => { t.onload = yes; t.onerror = no; });"
        "t.track.mode = 'hidden';</script>",
        encoding="utf-8",
    )
    browser.open(page)
    cues = browser.ask(
        "return read.then(() => [...document.querySelector('track').track.cues].map("
        "c => [c.startTime, c.endTime, c.getCueAsHTML().textContent]))"
    )
    assert [(round(a * 1000), round(b * 1000), title) for a, b, title in cues] == WANTED
    assert browser.ask("return document.querySelector('track').track.kind") == "chapters"
    assert browser.console() == []


# Source: Podcasting 2.0, "JSON Chapters Format", version 1.2 of 2021-04-15, its text put into JSON Schema. The text
# does not forbid other fields; here they are forbidden, so that a misspelt one is found.
LOCATION = {
    "type": "object",
    "required": ["name", "geo"],
    "properties": {
        "name": {"type": "string"},
        "geo": {"type": "string", "pattern": "^geo:"},
        "osm": {"type": "string"},
    },
    "additionalProperties": False,
}
CHAPTER = {
    "type": "object",
    "required": ["startTime"],
    "properties": {
        "startTime": {"type": "number", "minimum": 0},
        "endTime": {"type": "number", "minimum": 0},
        "title": {"type": "string"},
        "img": {"type": "string"},
        "url": {"type": "string"},
        "toc": {"type": "boolean"},
        "location": LOCATION,
    },
    "additionalProperties": False,
}
JSON_CHAPTERS = {
    "$schema": "https://json-schema.org/draft/2020-12/schema",
    "type": "object",
    "required": ["version", "chapters"],
    "properties": {
        "version": {"type": "string", "pattern": r"^1\.2(\.\d+)?$"},
        "chapters": {"type": "array", "items": CHAPTER},
        "author": {"type": "string"},
        "title": {"type": "string"},
        "podcastName": {"type": "string"},
        "description": {"type": "string"},
        "fileName": {"type": "string"},
        "waypoints": {"type": "boolean"},
    },
    "additionalProperties": False,
}
JSON_SCHEMA = jsonschema.Draft202012Validator(JSON_CHAPTERS)


def test_json_chapters_keep_the_open_formats_schema() -> None:
    JSON_SCHEMA.check_schema(JSON_CHAPTERS)
    data = json.loads(write_json_chapters("Lamp & co", MARKS, LENGTH))
    JSON_SCHEMA.validate(data)
    assert data["title"] == "Lamp & co"
    read = [(round(c["startTime"] * 1000), round(c["endTime"] * 1000), c["title"]) for c in data["chapters"]]
    assert read == WANTED
    starts = [c["startTime"] for c in data["chapters"]]
    assert starts == sorted(set(starts))
    del data["version"]
    assert not JSON_SCHEMA.is_valid(data)


def test_ffmetadata_as_ffmpeg_reads_it_and_both_lists_of_an_mp4_show_it(clip: Path, tmp_path: Path) -> None:
    facts, video = tmp_path / "chapters.ffmeta", tmp_path / "with.mp4"
    facts.write_text(ffmetadata("Lamp; & = #", MARKS, LENGTH), encoding="utf-8", newline="")
    mapped = ("-map", "0", "-map_metadata", "1", "-map_chapters", "1", "-c", "copy")
    done(FFMPEG, "-v", "error", "-i", clip, "-f", "ffmetadata", "-i", facts, *mapped, video)
    tracks = [track.to_data() for track in MediaInfo.parse(video).tracks]
    menus = [track for track in tracks if track["track_type"] == "Menu"]
    # The chapter track is a track of its own, the older list is not.
    assert [menu.get("format") for menu in menus] == ["Timed Text", None]
    assert tracks[0]["title"] == "Lamp; & = #"
    stamps = [
        f"{at // 3_600_000:02d}_{at // 60_000 % 60:02d}_{at // 1000 % 60:02d}{at % 1000:03d}" for at in STARTS
    ]
    written = [title + " " * title.endswith("\\") for _, _, title in WANTED]
    for menu in menus:
        shown = [(name, title) for name, title in menu.items() if name[:2].isdigit() and name[2] == "_"]
        assert [name for name, _ in shown] == stamps
        # A title that ends with a backslash has a space after it (see ffmetadata.py); no other may.
        assert [title for _, title in shown] == written
    with av.open(str(video)) as container:
        read = [(c["start"] * c["time_base"] * 1000, c["metadata"]["title"]) for c in container.chapters()]
    assert read == list(zip(STARTS, written, strict=True))


def test_description_stamps_are_whole_seconds_rounded_down() -> None:
    # Source: YouTube Help, "Video chapters" (quoted): a line begins with its stamp, the first with 0:00.
    marks = [ChapterMark(Ms(at), t) for at, t in ((0, "A"), (59_999, "B\nC"), (3_661_000, "D"))]
    assert write_chapters_text(marks, Ms(3_700_000)) == "0:00 A\n0:59 B C\n1:01:01 D\n"


Writer = Callable[[list[ChapterMark], Ms], str]
WRITERS: dict[str, Writer] = {
    "text": write_chapters_text,
    "matroska": write_matroska_chapters,
    "webvtt": write_webvtt_chapters,
    "json": lambda marks, length: write_json_chapters("A", marks, length),
    "ffmetadata": lambda marks, length: ffmetadata("A", marks, length),
}


def marks(*rows: tuple[int, str]) -> list[ChapterMark]:
    return [ChapterMark(Ms(at), title) for at, title in rows]


@pytest.mark.parametrize("writer", WRITERS.values(), ids=WRITERS)
@pytest.mark.parametrize(
    ("bad", "says"),
    [
        (marks((5, "Late")), "players need one at 0"),
        (marks((0, "A"), (900, "B"), (300, "C")), "does not come after"),
        (marks((0, "A"), (0, "B")), "does not come after"),
        (marks((0, "A"), (1000, "B")), "after the end"),
        (marks((0, "A"), (500, " \x07\n")), "has no title"),
    ],
)
def test_every_writer_refuses_a_bad_list(writer: Writer, bad: list[ChapterMark], says: str) -> None:
    with pytest.raises(ValueError, match=says):
        writer(bad, Ms(1000))
    assert writer([], Ms(1000)) is not None


@pytest.mark.parametrize(
    ("bad", "says"),
    [
        (marks(*((n, "x") for n in range(256))), "256 chapters; the file holds 255"),
        (marks((0, "ж" * 128)), "longer than 255 bytes"),
    ],
)
def test_what_an_mp4_cannot_hold_is_refused_before_ffmpeg_sees_it(bad: list[ChapterMark], says: str) -> None:
    with pytest.raises(ValueError, match=says):
        ffmetadata("A", bad, Ms(1000))
    for name in WRITERS.keys() - {"ffmetadata"}:
        assert WRITERS[name](bad, Ms(1000))
