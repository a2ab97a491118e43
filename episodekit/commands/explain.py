"""`explain CODE`: the rule behind a finding."""

from __future__ import annotations

from typing import Annotated

import typer

from episodekit.base.findings import did_you_mean
from episodekit.catalog import rules
from episodekit.commands.shared import USAGE
from episodekit.outside.terminal import complain, filled, say


def explain(
    code: Annotated[
        str | None, typer.Argument(metavar="CODE", help="The code of a finding; all codes if left out.")
    ] = None,
) -> None:
    """Explain a finding.

    The rule, why it is there, its source, and the threshold you can change.

    Without a code it lists them all.

    Example: episodekit explain JOB-KEY
    """
    known = rules()
    if code is None:
        for rule in known.values():
            say(f"{rule.code:22} {rule.severity.value:8} {rule.title}")
        return
    found = known.get(code.upper())
    if found is None:
        near = did_you_mean(code.upper(), known)
        hint = near if near.startswith("Did you") else "`episodekit explain` lists them all."
        complain(f"There is no finding {code!r}. {hint}")
        raise typer.Exit(USAGE)
    say(f"{found.code} ({found.severity.value}): {found.title}")
    say()
    say(filled(found.why))
    say()
    say(f"Source: {found.source}")
    if found.default:
        say(f"Default: {found.default}")
