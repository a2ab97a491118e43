"""The bench log from its start to Ctrl-C: the lock, the port, the code on the terminal."""

from __future__ import annotations

import contextlib
import hashlib
import io
import logging
import socket
import sys
import time
from pathlib import Path

import segno
import uvicorn

from episodekit.base.text import counted
from episodekit.outside.bench_server.addresses import LOOPBACK, hosts, listening, local_addresses
from episodekit.outside.bench_server.app import Bench, application
from episodekit.outside.bench_server.connections import Connection
from episodekit.outside.bench_server.disk import InUse, Lock
from episodekit.outside.bench_server.entrance import Entrance
from episodekit.outside.bench_server.log_file import LOG, LogFile, LogUnwritable
from episodekit.outside.bench_server.plan_watch import PlanWatch
from episodekit.outside.errors import MediaError
from episodekit.outside.job_folder import out_folder
from episodekit.outside.terminal import on_one_line, say

STATE = "bench"
"""The folder in out/ that remembers which devices were let in."""


class Served(Exception):
    """Another server keeps the log of this job."""


def serve(root: Path, port: int, *, listen: bool) -> None:
    """Serve a job's bench log until Ctrl-C.

    Raises NoPlan; Served and PortTaken if it cannot begin; MediaError from the disk.
    """
    plan = PlanWatch(root)
    state = _state_folder(root)
    try:
        lock = Lock(state / "lock")
    except InUse as error:
        said = "The bench log of this job is open already. Close it first, or use its page."
        raise Served(said) from error
    except OSError as error:
        raise _unusable(state, error) from error
    try:
        log = LogFile(root, state / "missing-marks.jsonl", say)
        try:
            unread = log.look(plan.last.offset).unread
            log.try_to_open()
        except LogUnwritable as error:
            raise MediaError(str(error), (), str(root / LOG)) from error
        # uvicorn ends first, then passes Ctrl-C on
        with (
            listening("0.0.0.0" if listen else LOOPBACK, port) as sock,
            contextlib.suppress(KeyboardInterrupt),
        ):
            _run(root, plan, log, unread, state, sock, listen=listen)
        taken = counted(log.marks, "mark") + (f" and {counted(log.chirps, 'chirp')}" if log.chirps else "")
        say(f"The bench log is closed. {taken} taken into {on_one_line(str(root / LOG))}.")
    finally:
        lock.free()


def _run(
    root: Path, plan: PlanWatch, log: LogFile, unread: int, state: Path, sock: socket.socket, *, listen: bool
) -> None:
    port = sock.getsockname()[1]
    addresses = local_addresses() if listen else ()
    found = [f"http://{address}:{port}" for address in (*addresses, LOOPBACK)]
    say(f"The bench log of '{on_one_line(plan.last.sheet.title)}' is open; Ctrl-C closes it.")
    if plan.errors:
        say(f"job.md has {counted(plan.errors, 'error')}; `episodekit check` lists them.")
    if unread:
        say(f"{counted(unread, 'line')} of {LOG} cannot be read; `episodekit check` says why.")
    if (root / "bench.csv").exists():
        say(
            "There is a bench.csv too: its marks count, but the page does not show them. Keep one of the two."
        )
    if listen and not addresses:
        say("This machine has no network that a phone could reach it by.")
    elif listen:
        say("Whoever is on your network can reach it, and nobody enters without the key.")
    else:
        say("Only this machine reaches it. For a phone or tablet, close it and add --listen.")
    scanned = bool(addresses)
    entrance = Entrance(state / "devices.json", time.time, lambda key: _invite(found, key, scanned=scanned))
    _invite(found, entrance.key, scanned=scanned)
    # Cookies do not tell ports apart, so each job has its own.
    name = hashlib.sha256(str(root.resolve()).encode("utf-8", "surrogateescape")).hexdigest()[:12]
    bench = Bench(plan, log, entrance, f"bench-{name}")
    config = uvicorn.Config(
        application(bench, hosts(addresses, port)),
        http=Connection,
        ws="none",
        lifespan="off",
        log_config=None,
        access_log=False,
        server_header=False,
        proxy_headers=False,  # else anybody may claim another's address
        limit_concurrency=200,
        timeout_graceful_shutdown=2,
    )
    logging.getLogger("uvicorn.error").setLevel(logging.ERROR)  # a stranger's broken request is no news
    uvicorn.Server(config).run(sockets=[sock])


def _state_folder(root: Path) -> Path:
    """The folder for the lock and the devices, made if it is not there. Raises MediaError."""
    state = out_folder(root) / STATE
    try:
        state.mkdir(parents=True, exist_ok=True)
        if not state.resolve().is_relative_to(root.resolve()):
            said = f"{state} leads out of the job folder. Make it a folder of its own."
            raise MediaError(said, (), str(state))
    except OSError as error:
        raise _unusable(state, error) from error
    return state


def _unusable(state: Path, error: OSError) -> MediaError:
    why = (error.strerror or str(error)).lower()
    return MediaError(f"{state} cannot be used: {why}. Check the folder and the free space.", (), str(state))


def _invite(addresses: list[str], key: str, *, scanned: bool) -> None:
    """Print the address that lets the next device in, and its code where a phone that scans it comes here."""
    say()
    say(f"The next device enters here, once: {addresses[0]}/enter#{key}")
    for other in addresses[1:]:
        say(f"                             or: {other}/enter#{key}")
    if not scanned:
        return
    drawn = code(f"{addresses[0]}/enter#{key}")
    if _can_show(drawn):
        on_screen = sys.stdout.isatty()  # white on black whatever the terminal's own colours are
        say("\n".join(f"\x1b[97;40m{line}\x1b[0m" if on_screen else line for line in drawn.splitlines()))


def code(text: str) -> str:
    """A QR code as lines of half blocks; blocks are light, spaces dark."""
    lines = io.StringIO()
    segno.make(text, error="m", micro=False).terminal(lines, border=4, compact=True)
    return lines.getvalue().rstrip("\n")


def _can_show(text: str) -> bool:
    try:
        text.encode(sys.stdout.encoding or "ascii")
    except (UnicodeEncodeError, LookupError):
        return False
    return True
