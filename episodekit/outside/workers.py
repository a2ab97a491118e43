"""Run independent tasks side by side, longest first, and stop them all at once when asked to."""

from __future__ import annotations

import threading
from collections.abc import Callable, Sequence
from concurrent.futures import FIRST_EXCEPTION, Future, ThreadPoolExecutor, wait
from dataclasses import dataclass
from typing import Generic, TypeVar

from episodekit.outside.errors import Cancelled

T = TypeVar("T")
_LOOK_EVERY_SECONDS = 0.1


@dataclass(frozen=True)
class Task(Generic[T]):
    """One thing to do. `cost` is any measure of its length, the same for all tasks of a run."""

    cost: int
    run: Callable[[], T]


def run_all(
    tasks: Sequence[Task[T]],
    workers: int,
    cancelled: threading.Event,
    watch: Callable[[], None],
    stop: Callable[[], None],
) -> list[T]:
    """The results, in the order of the tasks.

    Longest first, because a long task begun last leaves the other workers idle. `watch` is called on
    the caller's thread about ten times a second. On the first failure, on `cancelled`, and on Ctrl-C,
    tasks not yet begun are dropped, `stop` is called to end those under way, and the exception leaves
    only after every worker has come to rest. Raises Cancelled when `cancelled` is set.
    """
    order = sorted(range(len(tasks)), key=lambda index: (-tasks[index].cost, index))
    results: dict[int, T] = {}
    with ThreadPoolExecutor(max_workers=max(1, workers), thread_name_prefix="draft") as pool:
        futures: dict[Future[T], int] = {pool.submit(tasks[index].run): index for index in order}
        pending: set[Future[T]] = set(futures)
        try:
            while pending:
                done, pending = wait(pending, timeout=_LOOK_EVERY_SECONDS, return_when=FIRST_EXCEPTION)
                if cancelled.is_set():
                    raise Cancelled("stopped before the draft was complete")
                for future in done:
                    results[futures[future]] = future.result()
                watch()
        except BaseException:
            for future in pending:
                future.cancel()
            stop()
            raise
    return [results[index] for index in range(len(tasks))]
