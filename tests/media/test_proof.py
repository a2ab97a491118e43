"""The proof sheet of finished videos: drafts, other exports, and what was cut, covered or silenced."""

from __future__ import annotations

import csv
import io
import subprocess
import sys
import wave
from collections.abc import Callable
from fractions import Fraction
from pathlib import Path

import numpy as np
import pytest
from coloraide import Color

from episodekit import cli
from episodekit.base.time import Frames
from episodekit.outside.measure import measure
from episodekit.outside.media.drawing.fonts import shipped_fonts
from episodekit.outside.media.drawing.legible import legibility, luminance, ratio
from episodekit.outside.media.drawing.overlays import draw_overlay
from episodekit.pack.measured import Measured
from episodekit.timeline.model import Overlay, OverlayKind
from tests import proof_kit
from tests.media import kit
from tests.proof_kit import again, ffmpeg

RATE = Fraction(25)


@pytest.fixture(scope="module")
def root(tmp_path_factory: pytest.TempPathFactory) -> Path:
    folder = tmp_path_factory.mktemp("proof") / "lamp"
    proof_kit.make(folder)
    return folder


@pytest.fixture(scope="module")
def draft(root: Path) -> Path:
    return root / "out" / "draft.mp4"


def measured(video: Path, root: Path, *, own: bool = False) -> Measured:
    return measure(video, proof_kit.compiled(root), root, draft=own)[0]


def box_of(overlay: Overlay) -> tuple[int, int, int, int]:
    image, x, y = draw_overlay(overlay, 640, 360, shipped_fonts())
    return x, y, x + image.width, y + image.height


def ms(at: Fraction) -> int:
    return round(at * 1000)


def proved(root: Path, video: Path | None = None) -> int:
    more = [] if video is None else ["--video", str(video)]
    return cli.run(["proof", str(root), *more])


def test_draft_is_measured_to_the_frame_on_slates_and_over_footage(root: Path, draft: Path) -> None:
    found = measured(draft, root, own=True)
    episode = proof_kit.compiled(root)
    for name, words in (("tallow", "by Tallow"), ("willow", "by Willow")):
        overlay = proof_kit.board(episode, OverlayKind.DISCLOSURE, words)
        (run,) = found.reads[name].ad.runs
        assert (run.start, run.end) == (ms(overlay.start / RATE), ms(overlay.end / RATE))
        seen = proof_kit.frames_with(draft, draft, (overlay.start + overlay.end) // 2, box_of(overlay))
        assert [(ms(a), ms(b)) for a, b in seen] == [(run.start, run.end)]
    code = proof_kit.board(episode, OverlayKind.CODE, "LAMP")
    (run,) = found.reads["tallow"].code.runs
    assert (run.start, run.end) == (ms(code.start / RATE), ms(code.end / RATE))
    assert found.runtime == episode.runtime


def test_draft_passes_what_can_be_measured_and_leaves_the_words_open(root: Path, draft: Path) -> None:
    assert proved(root) == 0
    told = {name: row["result"] for name, row in proof_kit.rows(root, "tallow").items()}
    passed = {
        "Length",
        "Start",
        "Disclosure seen",
        "Disclosure readable",
        "Shows the code",
        "Goods disclosed",
    }
    assert {name for name, result in told.items() if result == "pass"} >= passed | {"Link"}
    opened = {"Disclosure heard", "Says", "Says the code", "Never says", "Approval", "Link stays"}
    assert {name for name, result in told.items() if result == "open"} >= opened
    assert "by Fri 11 Dec 2026" in proof_kit.rows(root, "tallow")["Approval"]["measured"]


@pytest.mark.parametrize(
    ("name", "options"),
    [
        ("small.mp4", ["-vf", "fps=24,scale=854:480", "-b:v", "150k", "-c:v", "libx264"]),
        ("large.mkv", ["-vf", "fps=60,scale=960:540", "-crf", "32", "-c:v", "libx264", "-g", "600"]),
        ("tiny.mp4", ["-vf", "fps=30000/1001,scale=426:240", "-b:v", "250k", "-c:v", "libx264", "-bf", "3"]),
        ("wide.mp4", ["-vf", "pad=960:360:160:0", "-crf", "28", "-c:v", "libx264"]),
        ("late.ts", ["-vf", "fps=50", "-crf", "30", "-c:v", "libx264", "-output_ts_offset", "7"]),
    ],
    ids=lambda value: value if isinstance(value, str) else "",
)
def test_export_of_another_size_rate_and_codec_is_measured_to_its_frame(
    name: str, options: list[str], root: Path, draft: Path, tmp_path: Path
) -> None:
    export = again(draft, tmp_path / name, *options)
    found = measured(export, root)
    episode = proof_kit.compiled(root)
    for read, words in (("tallow", "by Tallow"), ("willow", "by Willow")):
        overlay = proof_kit.board(episode, OverlayKind.DISCLOSURE, words)
        (run,) = found.reads[read].ad.runs
        if name != "wide.mp4":  # the second way knows no bars at the sides
            known = (overlay.start + overlay.end) // 2
            ((start, end),) = proof_kit.frames_with(export, draft, known, box_of(overlay))
            assert (run.start, run.end) == (ms(start), ms(end))
        assert abs(run.start - ms(overlay.start / RATE)) <= 90
        assert abs(run.end - ms(overlay.end / RATE)) <= 90
        assert 15 <= (found.reads[read].ad.arc_minutes or 0) <= 25
        assert (found.reads[read].ad.contrast or 0) >= 7
    assert set(found.steps) == {"solder"}


def cut(draft: Path, target: Path, first: float, last: float) -> Path:
    """The draft without a stretch, as somebody would cut it by hand."""
    keep = f"trim=0:{first},setpts=PTS-STARTPTS[a];[0:v]trim={last},setpts=PTS-STARTPTS[b];[a][b]concat=n=2"
    ffmpeg(
        "-i",
        draft,
        "-filter_complex",
        f"[0:v]{keep}",
        "-an",
        "-preset",
        "ultrafast",
        "-c:v",
        "libx264",
        target,
    )
    return target


def test_read_cut_short_by_hand_fails_with_its_numbers(root: Path, draft: Path, tmp_path: Path) -> None:
    ad = proof_kit.board(proof_kit.compiled(root), OverlayKind.DISCLOSURE, "by Tallow")
    middle = ad.start / 25 + 3
    assert proved(root, cut(draft, tmp_path / "short.mp4", middle, middle + 2)) == 1
    row = proof_kit.rows(root, "tallow")["Disclosure seen"]
    assert row["result"] == "fail"
    assert "2.00 s are missing" in row["measured"]
    planned = (ad.end - ad.start) / 25
    assert f"{planned - 2:.2f} s of {planned:.2f} s planned" in row["measured"]
    assert proof_kit.rows(root, "willow")["Disclosure seen"]["result"] == "pass"


def test_draft_itself_cut_short_by_hand_fails(root: Path, draft: Path, tmp_path: Path) -> None:
    ad = proof_kit.board(proof_kit.compiled(root), OverlayKind.DISCLOSURE, "by Willow")
    kept = tmp_path / "kept.mp4"
    draft.rename(kept)
    try:
        cut(kept, draft, ad.end / 25 - 1, ad.end / 25)
        assert proved(root) == 1
        assert "1.00 s are missing" in proof_kit.rows(root, "willow")["Disclosure seen"]["measured"]
    finally:
        draft.unlink(missing_ok=True)
        kept.rename(draft)


@pytest.mark.parametrize(
    ("picture", "said"),
    [
        ("drawbox=x=320:y=0:w=320:h=180:color=gray:t=fill:enable='between(n,{a},{b})'", "gone for 1.00 s"),
        ("drawbox=x=500:y=0:w=60:h=180:color=black:t=fill:enable='between(n,{a},{b})'", "gone for 1.00 s"),
        ("drawbox=x=320:y=0:w=320:h=180:color=gray:t=fill", "not found"),
        ("boxblur=4", "not found"),
    ],
    ids=["covered", "half covered", "never there", "blurred"],
)
def test_board_that_is_covered_or_blurred_fails(
    picture: str, said: str, root: Path, draft: Path, tmp_path: Path
) -> None:
    ad = proof_kit.board(proof_kit.compiled(root), OverlayKind.DISCLOSURE, "by Tallow")
    filters = picture.format(a=ad.start + 50, b=ad.start + 74)
    export = again(draft, tmp_path / "export.mp4", "-vf", filters, "-c:v", "libx264", "-crf", "20")
    assert proved(root, export) == 1
    row = proof_kit.rows(root, "tallow")["Disclosure seen"]
    assert row["result"] == "fail"
    assert said in row["measured"]


def test_read_moved_behind_its_window_fails(root: Path, draft: Path, tmp_path: Path) -> None:
    ad = proof_kit.board(proof_kit.compiled(root), OverlayKind.DISCLOSURE, "by Tallow")
    a, b = ad.start / 25, ad.end / 25
    parts = f"[0:v]trim=0:{a},setpts=PTS-STARTPTS[x];[0:v]trim={b},setpts=PTS-STARTPTS[y];"
    parts += f"[0:v]trim={a}:{b},setpts=PTS-STARTPTS[z];[x][y][z]concat=n=3"
    moved = tmp_path / "moved.mp4"
    ffmpeg("-i", draft, "-filter_complex", parts, "-an", "-preset", "ultrafast", "-c:v", "libx264", moved)
    assert proved(root, moved) == 1
    row = proof_kit.rows(root, "tallow")
    assert row["Start"]["result"] == "fail"
    assert row["Length"]["result"] == "pass"
    assert row["Disclosure seen"]["result"] == "pass"


def test_boards_that_differ_in_one_word_are_told_apart(root: Path, draft: Path, tmp_path: Path) -> None:
    episode = proof_kit.compiled(root)
    willow = proof_kit.board(episode, OverlayKind.DISCLOSURE, "by Willow")
    export = cut(draft, tmp_path / "one.mp4", willow.start / 25, willow.end / 25)
    found = measured(export, root)
    assert found.reads["willow"].ad.runs == ()
    assert len(found.reads["tallow"].ad.runs) == 1


# --- sound ---------------------------------------------------------------------------------------------------


LINES = (
    "This part is paid for by Tallow Tools, who sent me the long driver free.",
    "It reaches the deep screws, and code LAMP takes off a tenth of it.",
    "An hour later it still burns, and it cost me nothing but an evening.",
)


@pytest.fixture(scope="module")
def takes(tmp_path_factory: pytest.TempPathFactory) -> list[Path]:
    """A machine voice that reads three lines."""
    folder = tmp_path_factory.mktemp("takes")
    say = Path(__file__).parent.parent / "voices" / "say.py"
    words = [sys.executable, str(say), "pico", "en-US", "1.0", str(folder)]
    done = subprocess.run(words, input="\n".join(LINES), text=True, capture_output=True, check=False)
    if done.returncode:
        pytest.skip("no machine voice on this system")
    return sorted(folder.glob("*.wav"))


def samples(path: Path) -> np.ndarray:
    with wave.open(str(path)) as file:
        return np.frombuffer(file.readframes(file.getnframes()), np.int16).astype(float) / 32768


def narrated(draft: Path, target: Path, takes: list[Path], starts: list[float], bed: float = 0.02) -> Path:
    """The draft with takes laid in at their times, over noise that swells as music does; AAC at 96k."""
    track = np.random.default_rng(5).normal(0, bed, 16_000 * 44)
    track *= 1 + 0.5 * np.sin(np.arange(len(track)) / 16_000 * 7)
    for path, start in zip(takes, starts, strict=True):
        voice = samples(path)
        first = round(start * 16_000)
        track[first : first + len(voice)] += voice
    sound = target.with_suffix(".wav")
    with wave.open(str(sound), "wb") as file:
        file.setnchannels(1)
        file.setsampwidth(2)
        file.setframerate(16_000)
        file.writeframes((np.clip(track, -1, 1) * 32767).astype(np.int16).tobytes())
    ffmpeg(
        "-i",
        draft,
        "-i",
        sound,
        "-map",
        "0:v",
        "-map",
        "1:a",
        "-c:v",
        "copy",
        "-c:a",
        "aac",
        "-b:a",
        "96k",
        target,
    )
    return target


def with_takes(root: Path, takes: list[Path], tmp_path: Path) -> Path:
    """A copy of the job, recorded, with a new draft."""
    copy = tmp_path / "recorded"
    (copy / "takes").mkdir(parents=True)
    for name in ("job.md", "bench.csv", "footage"):
        (copy / name).symlink_to(root / name)
    for path, beat in zip(takes, ("tallow-read.1", "tallow-read.2"), strict=False):
        (copy / "takes" / f"{beat}.wav").write_bytes(path.read_bytes())
    assert cli.run(["draft", str(copy)]) == 0
    return copy


def test_takes_are_heard_where_they_were_laid(root: Path, takes: list[Path], tmp_path: Path) -> None:
    job = with_takes(root, takes, tmp_path)
    draft = job / "out" / "draft.mp4"
    assert proved(job) == 0, "the draft speaks with the takes"
    assert proof_kit.rows(job, "tallow")["Says the code"]["result"] == "pass"
    ad = proof_kit.board(proof_kit.compiled(job), OverlayKind.DISCLOSURE, "by Tallow")
    starts = [ad.start / 25 + 0.4, ad.start / 25 + 5.5]
    final = narrated(draft, tmp_path / "final.mp4", takes[:2], starts)
    assert proved(job, final) == 0
    told = proof_kit.rows(job, "tallow")
    for term in ("Disclosure heard", "Says", "Says the code", "Says what was free"):
        assert told[term]["result"] == "pass", told[term]
    heard = measured(final, job).takes
    for path, beat, start in zip(takes, ("tallow-read.1", "tallow-read.2"), starts, strict=False):
        voice = abs(samples(path)) > 0.02  # where the recording's first sound lies, by its samples
        take = heard[beat]
        assert take is not None
        assert abs(take.start - 1000 * (start + voice.argmax() / 16_000)) <= 60
    assert told["Never says"]["result"] == "open", "the other beats are not recorded"

    gone = narrated(draft, tmp_path / "gone.mp4", [takes[0], takes[2]], starts)
    assert proved(job, gone) == 1
    told = proof_kit.rows(job, "tallow")
    assert told["Disclosure heard"]["result"] == "pass"
    assert told["Says the code"]["result"] == "fail"
    assert "not heard" in told["Says the code"]["measured"]

    moved = narrated(draft, tmp_path / "moved.mp4", takes[:2], [ad.end / 25 + 4, starts[1]])
    assert proved(job, moved) == 1
    assert "outside the read" in proof_kit.rows(job, "tallow")["Disclosure heard"]["measured"]


def test_silent_read_fails_and_one_without_takes_stays_open(
    root: Path, draft: Path, takes: list[Path], tmp_path: Path
) -> None:
    ad = proof_kit.board(proof_kit.compiled(root), OverlayKind.DISCLOSURE, "by Tallow")
    voiced = narrated(draft, tmp_path / "voiced.mp4", takes[:1], [ad.start / 25 + 0.4])
    assert proved(root, voiced) == 0
    row = proof_kit.rows(root, "tallow")["Disclosure heard"]
    assert (row["result"], "no take" in row["measured"]) == ("open", True)
    mute = tmp_path / "mute.mp4"
    volume = f"volume=0:enable='between(t,{ad.start / 25},{ad.end / 25})'"
    ffmpeg("-i", voiced, "-c:v", "copy", "-af", volume, mute)
    assert proved(root, mute) == 1
    row = proof_kit.rows(root, "tallow")["Disclosure heard"]
    assert row["result"] == "fail"
    assert "silent" in row["measured"]
    ffmpeg("-i", voiced, "-c:v", "copy", "-an", tmp_path / "none.mp4")
    assert proved(root, tmp_path / "none.mp4") == 1
    assert "no sound" in proof_kit.rows(root, "tallow")["Disclosure heard"]["measured"]


# --- what is no video ------------------------------------------------------------------------------------------


def cut_off(path: Path, draft: Path) -> None:
    path.write_bytes(draft.read_bytes()[:3000])


def half_copied(path: Path, draft: Path) -> None:
    """A file whose index stands first and whose second half is missing: it plays, up to there."""
    ffmpeg("-i", draft, "-c", "copy", "-movflags", "+faststart", path)
    path.write_bytes(path.read_bytes()[: path.stat().st_size * 6 // 10])


FOREIGN: dict[str, Callable[[Path, Path], object]] = {
    "empty.mp4": lambda path, _: path.write_bytes(b""),
    "words.mp4": lambda path, _: path.write_text("not a video\n" * 90),
    "noise.mkv": lambda path, _: path.write_bytes(
        bytes(np.random.default_rng(3).integers(0, 256, 9000, np.uint8))
    ),
    "cut.mp4": cut_off,
    "half.mp4": half_copied,
    "sound.mp4": lambda path, draft: ffmpeg("-i", draft, "-vn", "-c:a", "copy", path),
    "still.png": lambda path, draft: ffmpeg("-i", draft, "-frames:v", "1", path),
}


@pytest.mark.parametrize("name", sorted(FOREIGN))
def test_what_is_no_video_is_refused_in_one_line(
    name: str, root: Path, draft: Path, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    FOREIGN[name](tmp_path / name, draft)
    assert proved(root, tmp_path / name) == 3
    said = capsys.readouterr()
    assert "Traceback" not in said.err
    lines = [line for line in said.err.splitlines() if not line.startswith("File: ")]
    assert len(lines) == 1
    assert lines[0].startswith("The video cannot be measured: ")


def test_another_video_altogether_fails_each_disclosure(root: Path, tmp_path: Path) -> None:
    other = kit.coded_clip(tmp_path / "other.mp4", Fraction(25), 100)
    assert proved(root, other) == 1
    assert "not found" in proof_kit.rows(root, "willow")["Disclosure seen"]["measured"]


def test_no_draft_yet_says_what_to_run(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    (tmp_path / "job.md").write_text(proof_kit.JOB)
    assert proved(tmp_path) == 3
    assert "Run `episodekit draft" in capsys.readouterr().err


def test_job_without_a_read_has_nothing_to_prove(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    (tmp_path / "job.md").write_text("---\ntitle: A lamp\n---\n# Start\n> Words.\n")
    assert proved(tmp_path) == 2
    assert "no read" in capsys.readouterr().err


# --- numbers ---------------------------------------------------------------------------------------------------


@pytest.mark.parametrize(
    "pair", ["#777 #fff", "#000 #fff", "#0e1217 #f4f3ee", "#f7be45 #0e1217", "#123456 #fedcba"]
)
def test_contrast_is_that_of_wcag(pair: str) -> None:
    # ColorAide, a general-purpose colour library, computes the contrast ratio of WCAG 2.
    one, other = (Color(name).convert("srgb") for name in pair.split())
    ours = ratio(*(luminance(*(255 * part for part in colour.coords())) for colour in (one, other)))
    assert ours == pytest.approx(one.contrast(other, method="wcag21"), abs=0.01)


def test_contrast_of_the_grey_that_just_fails() -> None:
    # WCAG 2.2, Understanding 1.4.3: #777777 on white is 4.47:1 and must not be rounded up to 4.5 (from memory).
    assert 4.47 <= ratio(luminance(119, 119, 119), luminance(255, 255, 255)) < 4.5


@pytest.mark.parametrize("size", [(640, 360), (1280, 720), (720, 1280)])
@pytest.mark.parametrize("kind", [OverlayKind.DISCLOSURE, OverlayKind.CODE])
def test_drawn_boards_are_legible_over_any_footage(kind: OverlayKind, size: tuple[int, int]) -> None:
    overlay = Overlay(kind, "Ad · paid for by Tallow Tools", Frames(0), Frames(9))
    told = legibility(overlay, *size, shipped_fonts())
    assert told.arc_minutes >= 20  # the lower end of what NUREG-0700, 1.3.1-4, prefers
    assert told.contrast >= 4.5  # WCAG 2.2, 1.4.3


def test_table_is_read_by_a_spreadsheet_reader(root: Path, draft: Path) -> None:
    assert proved(root) == 0
    text = (root / "out" / "pack" / "proof-tallow.csv").read_text(encoding="utf-8")
    rows = list(csv.reader(io.StringIO(text)))
    assert rows[0] == ["term", "asks", "result", "where", "measured", "words", "to do"]
    assert {len(row) for row in rows} == {7}
    assert {row[2] for row in rows[1:]} == {"pass", "open"}
