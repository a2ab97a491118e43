"""The cluster's door: the same runs of ffmpeg, handed to the workers of a Dask cluster. The only importer of Dask.

Dask plans, retries what a lost worker had begun, and carries progress back. What is cut, how entries of the
cache come to be and how parts are joined stays as it is on one machine: a worker does no more than run ffmpeg
and put the file where it was told to. So job folder and cache must lie at the same path on every worker.
"""

from __future__ import annotations

import socket
import threading
import time
import uuid
from collections.abc import Callable, Iterator, Mapping
from concurrent.futures import CancelledError
from contextlib import contextmanager, suppress
from dataclasses import dataclass, replace
from functools import cache
from pathlib import Path
from typing import Any

from episodekit import __version__
from episodekit.outside.errors import Cancelled, MediaError
from episodekit.outside.media.ffmpeg_door import (
    Children,
    Command,
    Outcome,
    bundled_ffmpeg,
    target_of,
    version,
)

INSTALL = 'pip install "episodekit[cluster]"'
_CONNECT_SECONDS = 10
_RETRIES = 2
"""How often Dask runs again what failed on a worker that is still there. Lost workers count apart: by Dask's
own setting `distributed.scheduler.allowed-failures`, three for each piece."""

_LEAST_AT_ONCE = 32
"""Pieces handed over before the first comes back, at least: there is work for workers that join later."""

_REST_SECONDS = 5


@dataclass(frozen=True)
class Site:
    """What every worker must find as it is here.

    `program` is a path, or empty for the ffmpeg that comes along with the package; `stamp` is its version line.
    `work` is this run's work folder, where `token` holds `run`; `footage` is each file's path and its bytes.
    """

    run: str
    program: str
    stamp: str
    work: str
    token: str
    footage: tuple[tuple[str, int], ...]


@contextmanager
def joined(
    address: str, work: Path, footage: Mapping[Path, int], program: str | None, stamp: str
) -> Iterator[Cluster]:
    """A cluster that was checked, to be used in place of this machine's `Children`.

    Raises MediaError when Dask is not installed, nobody answers at `address`, there are no workers, or one of
    them does not see the same files and programs.
    """
    try:
        from distributed import Client
        from distributed.comm import get_address_host_port
    except ImportError as error:
        raise MediaError(
            f"--cluster needs Dask, which is not installed. Install it with: {INSTALL}"
        ) from error
    run = uuid.uuid4().hex
    token = work / f"{run}.token"
    token.write_text(run, encoding="ascii")
    files = tuple(sorted((str(path), size) for path, size in footage.items()))
    site = Site(run, program or "", stamp, str(work), str(token), files)
    try:
        # asked here, since a client that cannot find its scheduler's name hangs when it is thrown away
        socket.getaddrinfo(*get_address_host_port(address, strict=True))
        client = Client(address, timeout=_CONNECT_SECONDS, set_as_default=False)
    except (OSError, ValueError) as error:
        said = f"Nobody answers at {address}. Start a scheduler with `dask scheduler`, or check the address."
        raise MediaError(said) from error
    with client:
        yield Cluster(client, site, _checked(client, address, site))


def _checked(client: Any, address: str, site: Site) -> int:
    """How many threads the workers have. Raises MediaError for the first worker that lacks something."""
    try:
        client.wait_for_workers(1, timeout=_CONNECT_SECONDS)
    except TimeoutError as error:
        said = f"The cluster at {address} has no workers. Start one on each machine: dask worker {address}"
        raise MediaError(said) from error
    told = client.run(lacking, site, __version__, on_error="return")
    for worker in sorted(told):
        if told[worker]:
            # a worker without the package cannot even unpack the question
            lacks = told[worker] if isinstance(told[worker], str) else _unasked(told[worker])
            raise MediaError(f"Worker {worker} {lacks}")
    return sum(client.nthreads().values())


def _unasked(error: BaseException) -> str:
    if isinstance(error, ImportError) or "ModuleNotFoundError" in str(error):  # as Dask hands it on
        return f"does not have episodekit {__version__}. Install the same there: {INSTALL}"
    return f"cannot be asked: {error or type(error).__name__}."


def lacking(site: Site, ours: str) -> str:
    """What this worker lacks to cut the draft, as the end of a sentence; empty if nothing. Runs on a worker."""
    if ours != __version__:
        return f"has episodekit {__version__}, not {ours}. Install the same there: {INSTALL}"
    same = "Job folder and cache must lie at the same path on every worker, on shared storage."
    try:
        if Path(site.token).read_text(encoding="ascii") != site.run:
            return f"sees another {site.work}. {same}"
        trial = Path(site.token).with_suffix(f".{uuid.uuid4().hex}")
        trial.touch()
        trial.unlink()
    except FileNotFoundError:
        return f"does not see {site.work}. {same}"
    except OSError as error:
        return f"may not write into {site.work}: {error.strerror or error}. {same}"
    for path, size in site.footage:
        try:
            if Path(path).stat().st_size != size:
                return f"sees another file at {path}. {same}"
        except OSError:
            return f"does not see {path}. {same}"
    return _other_ffmpeg(site)


def _other_ffmpeg(site: Site) -> str:
    try:
        has = _version(site.program or bundled_ffmpeg())
    except MediaError as error:
        return f"has no ffmpeg that runs: {error.message}"
    return (
        "" if has == site.stamp else f"has another ffmpeg ({has}, not {site.stamp}). Install the same there."
    )


@cache
def _version(program: str) -> str:
    return version(program)


class Cluster(Children):
    """Runs of ffmpeg on a cluster. `at_once` is how many to ask for side by side."""

    here = False

    def __init__(self, client: Any, site: Site, threads: int) -> None:
        super().__init__()
        self.at_once = max(_LEAST_AT_ONCE, 2 * threads)
        self._client, self._site = client, site
        self._topic = f"draft-{site.run}"
        self._futures: dict[str, Any] = {}
        self._hear: dict[str, Callable[[int], None]] = {}
        self._guard = threading.Lock()
        client.subscribe_topic(self._topic, self._heard)

    def run(self, words: Command, progress: Callable[[int], None] | None = None) -> Outcome:
        """Run to the end on some worker. `progress` hears the frames written so far.

        What a lost worker had begun is run again elsewhere. Raises MediaError when that fails time and
        again or the cluster is gone, Cancelled after `end_all`.
        """
        name = f"cut-{uuid.uuid4().hex}"
        with self._guard:
            if self._closed:
                raise Cancelled("stopped before the draft was complete")
            if progress is not None:
                self._hear[name] = progress
            future = self._client.submit(
                run_there, self._site, words, name, self._topic, key=name, pure=False, retries=_RETRIES
            )
            self._futures[name] = future
        try:
            outcome: Outcome = future.result()
        except CancelledError as error:
            if self._closed:
                raise Cancelled("stopped before the draft was complete") from error
            raise MediaError("The cluster is gone: its scheduler does not answer any more.", words) from error
        except (Cancelled, MediaError):
            raise
        except Exception as error:  # whatever Dask, the network or a worker's disk says
            said = f"The cluster gave up on a piece after several tries: {error or type(error).__name__}"
            raise MediaError(said, words) from error
        finally:
            with self._guard:
                self._futures.pop(name, None)
                self._hear.pop(name, None)
        return outcome

    def end_all(self) -> None:
        """End every run on every worker and let none start afterwards."""
        with self._guard:
            self._closed = True
            futures = list(self._futures.values())
        with suppress(Exception):  # a cluster that is gone has nothing left to end
            self._client.cancel(futures, force=True)
            self._client.run(end_there, self._site.run, on_error="ignore")

    def _heard(self, event: tuple[float, Any]) -> None:
        told = event[1]
        if isinstance(told, dict):
            with self._guard:
                hear = self._hear.get(str(told.get("name")))
            if hear is not None:
                hear(int(told["frames"]))


_HERE: dict[str, _Bench] = {}
_HERE_GUARD = threading.Lock()


class _Bench:
    """What a worker runs for one draft, so that it can be ended from the client's side."""

    def __init__(self) -> None:
        self.children = Children()
        self.busy = 0


class NotAsItWas(Exception):
    """A worker that joined later lacks something, or its ffmpeg was ended from outside. Dask tries again."""


def run_there(site: Site, words: Command, name: str, topic: str) -> Outcome:
    """Run ffmpeg on this worker; the file appears under its name when it is whole. Runs on a worker.

    A worker that was given up for lost may still be writing: so each try has a file of its own.
    """
    from distributed import get_worker

    lacks = lacking(replace(site, footage=()), __version__)
    if lacks:
        raise NotAsItWas(f"a worker {lacks}")
    at = target_of(words)
    target = Path(words[at])
    draft = target.with_name(f"{target.name}.{uuid.uuid4().hex}")
    worker = get_worker()

    def progress(frames: int) -> None:
        worker.log_event(topic, {"name": name, "frames": frames})

    with _HERE_GUARD:
        bench = _HERE.setdefault(site.run, _Bench())
        bench.busy += 1
    try:
        here = (site.program or bundled_ffmpeg(), *words[1:at], str(draft), *words[at + 1 :])
        outcome = bench.children.run(here, progress)
        if outcome.status < 0:
            raise NotAsItWas(f"ffmpeg was ended from outside by signal {-outcome.status} on {worker.address}")
        if draft.exists():
            draft.replace(target)
        return outcome
    finally:
        draft.unlink(missing_ok=True)
        with _HERE_GUARD:
            bench.busy -= 1


def end_there(run: str) -> None:
    """End what this worker runs for a draft, and wait until it has come to rest. Runs on a worker."""
    with _HERE_GUARD:
        bench = _HERE.setdefault(run, _Bench())
    bench.children.end_all()
    until = time.monotonic() + _REST_SECONDS
    while bench.busy and time.monotonic() < until:
        time.sleep(0.01)
