"""The proof sheets: a finished video is measured, and each read gets a page and a table in out/pack/."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from pathlib import Path

from episodekit.base.time import Ms, ms_to_seconds, seconds_to_ms
from episodekit.formats.proof_csv import write_proof_csv
from episodekit.outside.files import remove, write_whole
from episodekit.outside.measure import measure
from episodekit.outside.media.proving.thumbnail import data_uri
from episodekit.outside.media.proving.watch import Film, stills
from episodekit.outside.pages import proof_page
from episodekit.pack.sheet import Sheet, sheets
from episodekit.timeline.episode import Episode

PACK = "pack"


def write_proofs(
    out: Path,
    episode: Episode,
    root: Path,
    video: Path,
    *,
    draft: bool,
    progress: Callable[[int, int], None] = lambda done, total: None,
) -> tuple[Sheet, ...]:
    """Measure `video` and write `pack/proof-NAME.html` and `.csv` for each read; what an earlier plan left is removed.

    `progress` hears how many milliseconds of how many were scanned. Raises MediaError for what is no video, and from
    the disk.
    """
    measured, film = measure(video, episode, root, draft=draft, progress=progress)
    made = sheets(episode, measured, _description(out))
    frames = _frames(film, made)
    kept = {f"proof-{sheet.file}{end}" for sheet in made for end in (".html", ".csv")}
    for sheet in made:
        write_whole(out / PACK / f"proof-{sheet.file}.html", proof_page(sheet, frames))
        write_whole(out / PACK / f"proof-{sheet.file}.csv", write_proof_csv(sheet))
    for old in (out / PACK).glob("proof-*.*"):
        if old.suffix in {".html", ".csv"} and old.name not in kept:
            remove(old)
    return made


def _description(out: Path) -> str | None:
    """The text that goes under the video, None if it is not written."""
    try:
        return (out / PACK / "description.txt").read_text(encoding="utf-8", errors="replace")
    except OSError:
        return None


def _frames(film: Film, made: Sequence[Sheet]) -> dict[Ms, str]:
    """The frame of each term, once a time; a millisecond later, since a time rounded down names the frame before."""
    times = sorted({term.frame for sheet in made for term in sheet.terms if term.frame is not None})
    pictures = stills(film, [ms_to_seconds(Ms(at + 1)) for at in times])
    return {Ms(seconds_to_ms(at) - 1): data_uri(picture) for at, picture in pictures.items()}
