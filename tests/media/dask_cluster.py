"""A small Dask cluster of real processes on this machine: a scheduler, and workers of one thread each."""

from __future__ import annotations

import json
import os
import subprocess
import sys
import time
from collections.abc import Iterator
from contextlib import contextmanager
from dataclasses import dataclass, field
from pathlib import Path

PATIENCE_SECONDS = 60


@dataclass
class DaskCluster:
    """`address` is the scheduler's; workers come and go."""

    folder: Path
    address: str
    workers: list[subprocess.Popen[bytes]] = field(default_factory=list)

    def add_worker(self, *, path: str | None = None) -> subprocess.Popen[bytes]:
        """One more worker process of one thread; `path` is its PYTHONPATH."""
        words = ["dask_worker", self.address, "--nthreads", "1", "--no-nanny", "--no-dashboard"]
        words += ["--local-directory", str(self.folder), "--name", f"worker-{len(self.workers)}"]
        worker = _start(words, self.folder / f"worker-{len(self.workers)}.log", path)
        self.workers.append(worker)
        return worker


@contextmanager
def dask_cluster(folder: Path, workers: int) -> Iterator[DaskCluster]:
    """A cluster with so many workers, gone afterwards."""
    told = folder / "scheduler.json"
    words = ["dask_scheduler", "--host", "127.0.0.1", "--port", "0", "--no-dashboard"]
    scheduler = _start([*words, "--scheduler-file", str(told)], folder / "scheduler.log", None)
    cluster = None
    try:
        cluster = DaskCluster(folder, _address(told))
        for _ in range(workers):
            cluster.add_worker()
        if workers:
            _wait_for(cluster.address, workers)
        yield cluster
    finally:
        for process in [*(cluster.workers if cluster else ()), scheduler]:
            process.kill()
            process.wait()


def _start(words: list[str], log: Path, path: str | None) -> subprocess.Popen[bytes]:
    here = str(Path(__file__).resolve().parents[2])
    env = os.environ | {"PYTHONPATH": here if path is None else path}
    module, *rest = words
    with log.open("wb") as file:
        return subprocess.Popen(
            [sys.executable, "-m", f"distributed.cli.{module}", *rest],
            env=env,
            cwd=log.parent,
            stdout=file,
            stderr=file,
            stdin=subprocess.DEVNULL,
        )


def _address(told: Path) -> str:
    until = time.monotonic() + PATIENCE_SECONDS
    while time.monotonic() < until:
        try:
            return str(json.loads(told.read_text())["address"])
        except (OSError, ValueError):
            time.sleep(0.05)
    raise TimeoutError("the scheduler did not start")


def _wait_for(address: str, workers: int) -> None:
    from distributed import Client

    with Client(address, set_as_default=False) as client:
        client.wait_for_workers(workers, timeout=PATIENCE_SECONDS)
