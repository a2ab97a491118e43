"""`proof JOB`: each term of a sponsor's deal, measured in the finished video."""

from __future__ import annotations

from pathlib import Path
from typing import Annotated

import typer

from episodekit.commands.shared import CLEAN, ERRORS, USAGE, Job
from episodekit.outside.errors import MediaError
from episodekit.outside.job_folder import compile_job, open_job, out_folder
from episodekit.outside.proof_files import PACK, write_proofs
from episodekit.outside.terminal import complain, filled, progress_bar, say, show_findings
from episodekit.pack.term import Met


def proof(
    job: Job,
    video: Annotated[
        Path | None,
        typer.Option(help="Your final export; the draft in out/ if left out.", exists=True, dir_okay=False),
    ] = None,
) -> None:
    """Measure the deal in the finished video.

    Looks for each read in the draft, or in your own final export, and writes a sheet to send to the sponsor:
    every term with pass, fail or open, where it is met, the frame and the words.

    \b
    pack/proof-NAME.html   to send or print
    pack/proof-NAME.csv    the same for a spreadsheet

    Another size, frame rate or codec does not matter. Terms that nobody measured stay open; words count as
    heard when your takes are found in the video. The exit status is 1 if a term fails.

    Example: episodekit proof my-job --video final.mp4
    """
    out = out_folder(job)
    episode, findings = compile_job(open_job(job))
    if episode is None:
        show_findings(findings)
        raise typer.Exit(ERRORS)
    if not episode.reads:
        complain("The plan has no read with words, so there is nothing to prove. Write one under `reads`.")
        raise typer.Exit(USAGE)
    file = video or out / "draft.mp4"
    if not file.is_file():
        said = (
            f"There is no draft to measure. Run `episodekit draft {job}`, or name your export with --video."
        )
        raise MediaError(said)
    own = file.resolve() == (out / "draft.mp4").resolve()
    with progress_bar("Watching the video") as progress:
        made = write_proofs(out, episode, job, file, draft=own, progress=progress)
    for sheet in made:
        say(f"{sheet.read}: {sheet.summary}. {out / PACK / f'proof-{sheet.file}.html'}")
        for term in sheet.terms:
            if term.met is Met.FAIL:
                say(filled(f"  failed: {term.name}: {term.asks}: {term.measured}. {term.todo}", "    "))
    raise typer.Exit(ERRORS if any(sheet.count(Met.FAIL) for sheet in made) else CLEAN)
