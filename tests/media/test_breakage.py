"""Breakage under a draft: a damaged cache, a full disk, a killed ffmpeg, two drafts at once.

Sources: the frames' own numbers, and the system's own refusals (`/dev/full`, a signal).
"""

from __future__ import annotations

import sys
import threading
from fractions import Fraction
from io import BytesIO
from pathlib import Path

import imageio_ffmpeg
import pytest

from episodekit.base.time import Rate
from episodekit.outside.errors import MediaError
from episodekit.outside.media.engine import render
from episodekit.outside.media.recipes.sound import BYTES_A_SAMPLE, SAMPLE_RATE, copy_sound
from episodekit.timeline.model import Timeline
from tests.media import kit

RATE = Rate.parse("25")
POSIX = pytest.mark.skipif(sys.platform == "win32", reason="a shell script stands before ffmpeg")


@pytest.fixture(scope="module")
def job(tmp_path_factory: pytest.TempPathFactory) -> Path:
    root = tmp_path_factory.mktemp("breakage")
    (root / "footage").mkdir()
    for name in ("a", "b"):
        kit.flash_and_beep(root / "footage" / f"{name}.mp4", Fraction(25), 8, Fraction(2), Fraction(1, 5))
    kit.coded_clip(root / "footage" / "coded.mp4", Fraction(25), 100)
    return root


def plan() -> Timeline:
    shots = [kit.shot("footage/coded.mp4", Fraction(1), 40, RATE), kit.slate(25)]
    return kit.timeline(RATE, [*shots, kit.shot("footage/a.mp4", Fraction(1), 50, RATE)])


def wrapped(folder: Path, script: str) -> str:
    """A program that is ffmpeg until the script says otherwise; `$ffmpeg` and `$last` are at hand."""
    program = folder / "ffmpeg"
    real = imageio_ffmpeg.get_ffmpeg_exe()
    told = f'[ "$1" = -version ] && exec "{real}" -version\n'
    program.write_text(f'#!/bin/sh\n{told}ffmpeg="{real}"\nfor last; do :; done\n{script}\n')
    program.chmod(0o755)
    return str(program)


@pytest.mark.parametrize("harm", ["emptied", "shortened", "blanked", "half there"])
def test_damaged_cache_entries_are_rendered_again(job: Path, tmp_path: Path, harm: str) -> None:
    clips, cache, target = kit.clips_in(job), tmp_path / "cache", tmp_path / "draft.mp4"
    render(plan(), clips, job, target, cache)
    first = target.read_bytes()
    entries = [*cache.glob("*.h264"), *cache.glob("*.s16")]
    assert len(entries) == 4
    for entry in entries:
        data = entry.read_bytes()
        match harm:
            case "emptied":
                entry.write_bytes(b"")
            case "shortened":
                entry.write_bytes(data[: len(data) // 2])
            case "blanked":
                entry.write_bytes(bytes(len(data)))
            case "half there":
                entry.with_name(f"{entry.name}.sum").unlink()
    again = render(plan(), clips, job, target, cache)
    assert (again.segments_rendered, again.segments_reused) == (3, 0)
    assert target.read_bytes() == first
    assert render(plan(), clips, job, target, cache).segments_rendered == 0


def test_two_drafts_of_one_job_at_once_are_both_whole(job: Path, tmp_path: Path) -> None:
    clips, made, faults = kit.clips_in(job), [], []

    def run() -> None:
        try:
            made.append(render(plan(), clips, job, tmp_path / "draft.mp4", tmp_path / "cache", workers=1))
        except BaseException as fault:
            faults.append(fault)

    for _ in range(2):
        threads = [threading.Thread(target=run) for _ in range(3)]
        for thread in threads:
            thread.start()
        for thread in threads:
            thread.join()
        assert faults == []
    assert len(made) == 6
    assert kit.numbers_in(tmp_path / "draft.mp4")[:40] == list(range(25, 65))
    assert sorted(path.name for path in tmp_path.iterdir()) == ["cache", "draft.mp4"]


@POSIX
@pytest.mark.parametrize("what", ["*.h264", "*.s16"])
@pytest.mark.parametrize(
    ("script", "says"),
    [
        ('set -- "$@" /dev/full; exec "$ffmpeg" "$@"', "No space left"),
        ("kill -9 $$", "ended from outside"),
    ],
)
def test_full_disk_and_killed_ffmpeg_are_not_blamed_on_the_footage(
    job: Path, tmp_path: Path, what: str, script: str, says: str
) -> None:
    # the target is the word before the options for the whole run; the join writes neither kind
    find = 'for word; do [ "$word" = -hide_banner ] && break; last="$word"; done'
    full = 'n=$#; for w; do [ "$w" = "$last" ] && w=/dev/full; set -- "$@" "$w"; done; shift $n'
    script = script.replace('set -- "$@" /dev/full', full)
    harmed = f'case "$last" in {what}) {{ {script}; }};; *) exec "$ffmpeg" "$@";; esac'
    program = wrapped(tmp_path, f"{find}\n{harmed}")
    with pytest.raises(MediaError, match=says) as caught:
        render(plan(), kit.clips_in(job), job, tmp_path / "draft.mp4", tmp_path / "cache", ffmpeg=program)
    assert caught.value.command
    assert not (tmp_path / "draft.mp4").exists()


@POSIX
def test_another_failure_of_ffmpeg_is_told_in_its_own_words(job: Path, tmp_path: Path) -> None:
    """A filter that does not exist stands for whatever ffmpeg may refuse one day."""
    script = 'case "$*" in *coded.mp4*) exec "$ffmpeg" -nostdin -v error -i "$0.mp4";; *) exec "$ffmpeg" "$@";; esac'
    program = wrapped(tmp_path, script)
    made = render(plan(), kit.clips_in(job), job, tmp_path / "draft.mp4", tmp_path / "cache", ffmpeg=program)
    (found,) = made.findings
    assert (found.code, str(found.at)) == ("DRAFT-UNREADABLE", "footage/coded.mp4")
    assert "No such file" in found.message
    assert "decoded" not in found.message


@POSIX
def test_colours_that_cannot_be_converted_are_shown_as_they_are(job: Path, tmp_path: Path) -> None:
    """The conversion fails when a filter graph names the matrix of Rec. 601; the plain one does not."""
    script = 'case "$*" in *in_color_matrix=bt470bg*) echo "no path between colorspaces" >&2; exit 187;; esac'
    program = wrapped(tmp_path, f'{script}\nexec "$ffmpeg" "$@"')
    target = tmp_path / "draft.mp4"
    made = render(plan(), kit.clips_in(job), job, target, tmp_path / "cache", ffmpeg=program)
    assert made.findings == ()
    assert kit.numbers_in(target)[:40] == list(range(25, 65))


class Counting(BytesIO):
    """A file that keeps lengths only."""

    total = largest = 0

    def write(self, data: object) -> int:
        size = len(data)  # type: ignore[arg-type]
        self.total, self.largest = self.total + size, max(self.largest, size)
        return size


def test_two_hours_of_silence_are_written_in_blocks(tmp_path: Path) -> None:
    track, samples = Counting(), 2 * 3600 * SAMPLE_RATE + 7
    copy_sound(None, samples, track)
    assert track.total == samples * BYTES_A_SAMPLE
    assert track.largest <= 1 << 20
    (tmp_path / "sound.s16").write_bytes(bytes(range(250)) * 40_000)  # 10 MB
    for wanted in (1_000_000, 2_500_000, 2_500_001, 3_000_000):
        whole, counted = BytesIO(), Counting()
        for sink in (whole, counted):
            copy_sound(tmp_path / "sound.s16", wanted, sink)
        size = wanted * BYTES_A_SAMPLE
        assert whole.getvalue() == (bytes(range(250)) * 40_000)[:size].ljust(size, b"\0")
        assert counted.largest <= 1 << 20
