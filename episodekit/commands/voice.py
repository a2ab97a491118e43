"""`voice fit JOB`: how fast you speak and how long you pause, learned from your takes."""

from __future__ import annotations

from typing import Annotated

import typer

from episodekit.base.findings import in_order
from episodekit.commands.shared import ERRORS, USAGE, Job, exit_code
from episodekit.formats.voice_profile import NAME
from episodekit.outside.job_folder import open_job
from episodekit.outside.terminal import complain, say, show_findings
from episodekit.outside.voice_fit import fit_job, report
from episodekit.outside.voices import save_voice

app = typer.Typer(
    no_args_is_help=True,
    rich_markup_mode=None,
    help="Teach it your voice.\n\nLearns pace and pauses from recorded takes, so that planned lengths are yours.",
)


@app.callback()
def _group() -> None:
    pass


@app.command()
def fit(
    job: Job,
    save: Annotated[
        str | None,
        typer.Option(
            metavar="NAME", help="Keep the voice in your voices.yaml, for `voice: {profile: NAME}`."
        ),
    ] = None,
) -> None:
    """Learn your voice from recorded takes, and say how well it predicts beats it has not heard.

    Read some beats aloud and put the recordings into takes/, one file a beat, each named after its beat:
    screen.2.wav is the second beat of the step {#screen}; screen.2-take3.m4a is another take of it. Leave
    the pauses in; silence before and after does not matter. Five beats teach your pace, twelve teach your
    pauses too. Your takes are only ever read.

    \b
    pace    words a minute over ordinary narration, pauses included
    stop    pause at a full stop inside a beat
    comma   pause at a comma, colon or dash
    spread  nine beats in ten come within so much of what is planned

    The error it reports is honest: each beat is predicted by a voice learned from the others.

    Exit status: 0 if a voice was learned, 1 if not.

    Example: episodekit voice fit my-job --save ana
    """
    if save is not None and not NAME.fullmatch(save):
        complain(f"{save!r} is no name for a voice. Use letters, digits, spaces and hyphens, such as ana.")
        raise typer.Exit(USAGE)
    opened = open_job(job)
    if opened.plan is None:
        show_findings(opened.findings)
        raise typer.Exit(ERRORS)
    learned, told, findings = fit_job(job, opened.plan)
    findings = in_order(findings)
    show_findings(findings)
    for line in report(learned, told, opened.plan):
        say(line)
    if learned is None:
        raise typer.Exit(ERRORS)
    if save is not None:
        say(
            f"Saved as '{save}' in {save_voice(save, learned.voice)}. Use it with `voice: {{profile: {save}}}`."
        )
    raise typer.Exit(exit_code(findings))
