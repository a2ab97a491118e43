"""The program's front door: commands by name, and every way a run can end as an exit code.

0 clean or warnings, 1 errors in the job, 2 usage, 3 an outside tool or a media file, 4 our bug (with a
traceback), 130 interrupted.
"""

from __future__ import annotations

import io
import signal
import sys
import traceback
from typing import Annotated

import typer

from episodekit import __version__
from episodekit.commands import bench, check, draft, explain, new, plan, proof, sync, voice
from episodekit.commands.shared import BUG, CLEAN, INTERRUPTED, OUTSIDE
from episodekit.outside.errors import Cancelled, MediaError
from episodekit.outside.terminal import complain, say

_STOPPED = "Stopped. Nothing half-written was left; run it again to go on."

app = typer.Typer(
    name="episodekit",
    no_args_is_help=True,
    add_completion=False,
    rich_markup_mode=None,
    pretty_exceptions_enable=False,
    help="Compile a job folder into an episode: plan it, list its shots, cut its draft.\n\n"
    "Start with `episodekit new my-job`, write job.md, and run `episodekit plan my-job`.",
)


def _version(asked: bool) -> None:
    if asked:
        say(f"episodekit {__version__}")
        raise typer.Exit


@app.callback()
def _options(
    version: Annotated[
        bool, typer.Option("--version", help="Print the version.", callback=_version, is_eager=True)
    ] = False,
) -> None:
    pass


for _command in (
    new.new,
    check.check,
    plan.plan,
    bench.bench,
    sync.sync,
    draft.draft,
    proof.proof,
    explain.explain,
):
    app.command()(_command)
app.add_typer(voice.app, name="voice")


def run(arguments: list[str] | None = None) -> int:
    """Run one command and return its exit status; never a traceback for something a user can cause."""
    for stream in (sys.stdout, sys.stderr):  # a console that cannot show a character shows its number
        if isinstance(stream, io.TextIOWrapper):
            stream.reconfigure(errors="backslashreplace")
    try:
        app(args=arguments, prog_name="episodekit")
    except SystemExit as done:  # how Typer ends a command, usage errors included
        code = done.code if isinstance(done.code, int) else CLEAN
        if code == INTERRUPTED:
            complain(_STOPPED)
        return code
    except (KeyboardInterrupt, Cancelled):
        complain(_STOPPED)
        return INTERRUPTED
    except MediaError as error:
        complain(str(error))
        return OUTSIDE
    except Exception:
        traceback.print_exc()
        complain("This is a bug of episodekit, not of your job. Your files are as they were.")
        return BUG
    return CLEAN


def _stop(signum: int, frame: object) -> None:
    raise KeyboardInterrupt


def main() -> None:
    """The console script. A closed terminal and a polite kill clean up as Ctrl-C does."""
    for name in ("SIGTERM", "SIGHUP"):
        if hasattr(signal, name):
            signal.signal(getattr(signal, name), _stop)
    sys.exit(run())
