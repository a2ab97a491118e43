"""`bench JOB`: the bench log as a page for a phone, a tablet or a laptop."""

from __future__ import annotations

from typing import Annotated

import typer

from episodekit.commands.shared import ERRORS, USAGE, Job
from episodekit.outside.bench_server.addresses import PortTaken
from episodekit.outside.bench_server.plan_watch import NoPlan
from episodekit.outside.bench_server.serve import Served, serve
from episodekit.outside.terminal import complain, show_findings


def bench(
    job: Job,
    listen: Annotated[
        bool, typer.Option("--listen", help="Let other devices on your network in, such as a phone.")
    ] = False,
    port: Annotated[
        int, typer.Option(metavar="N", min=0, max=65535, help="Port of the page; 0 takes any.")
    ] = 8431,
) -> None:
    """Keep the bench log on a page.

    Serves a page for a phone, tablet or laptop beside the bench, with the steps, their cautions and what
    to film, and large buttons for the marks. Each mark goes to bench.jsonl and is told to be safe only when it is
    on disk. While the network or this program is away the page keeps its marks and delivers them later.
    Its clock, filmed by each camera, tells `episodekit sync` when each clip rolled.

    Prints an address and, with --listen, a code to scan; they let one device in, then new ones the next.
    Nobody else reads or writes anything. Without --listen only this machine reaches it. Ctrl-C closes it.

    Example: episodekit bench my-job --listen
    """
    try:
        serve(job, port, listen=listen)
    except NoPlan as error:
        show_findings(error.findings)
        raise typer.Exit(ERRORS) from None
    except (PortTaken, Served) as error:
        complain(str(error))
        raise typer.Exit(USAGE) from None
