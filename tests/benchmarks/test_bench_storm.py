"""Ten thousand marks of two devices through kills and cuts; then how long a mark takes when nothing goes wrong."""

from __future__ import annotations

import sys
import threading
import time
from collections.abc import Iterator

import pytest

from tests.bench.kit import Device, Server, now
from tests.bench.storm import Presser, Proxy, storm
from tests.conftest import JobFolder

pytestmark = [
    pytest.mark.benchmark,
    pytest.mark.skipif(sys.platform == "win32", reason="SIGKILL is of Unix"),
]


@pytest.fixture
def server(job: JobFolder) -> Iterator[Server]:
    server = Server(job.root)
    yield server
    server.close()


def share(waits: list[float], of: float) -> float:
    """The wait in ms that so many of a hundred do not exceed."""
    return sorted(waits)[min(len(waits) - 1, int(len(waits) * of / 100))] * 1000


def test_ten_thousand_marks_through_kills_and_cuts(server: Server) -> None:
    server.start()
    proxy = Proxy(server, seed=1)
    devices = [Device(server, proxy.port).enter() for _ in range(2)]
    pressers = [
        Presser(name, one, seed=len(name)) for name, one in zip(("left", "right"), devices, strict=True)
    ]
    seen = storm(server, proxy, pressers, presses=5000, every=0.012, seed=20261107, pause=0.4)
    proxy.close()
    for one in devices:
        one.hang_up()
    print(
        f"\n10,000 marks in {seen.seconds:.0f} s through {seen.kills} kills, {seen.cuts} cut connections, "
        f"{seen.torn} torn messages and answers and {seen.away} times without a network; acknowledged marks looked "
        f"for at kills: {seen.looked_at}; batches acknowledged in {share(seen.waits, 50):.1f} ms (median), "
        f"{share(seen.waits, 99):.1f} ms (99 of 100)"
    )
    assert seen.kills >= 30
    assert seen.cuts >= 30
    assert seen.torn >= 30


def test_how_long_a_mark_takes_and_how_many_a_second(server: Server) -> None:
    server.start()
    devices = [Device(server).enter() for _ in range(2)]
    waits: list[list[float]] = [[], []]

    def press(number: int) -> None:
        for count in range(2500):
            begun = time.perf_counter()
            mark = {"id": f"d{number}-{count}", "at": now(), "kind": "note"}
            assert devices[number].post(mark).data["taken"]
            waits[number].append(time.perf_counter() - begun)

    press(0)
    alone, waits[0] = waits[0], []
    server.kill()
    (server.job / "bench.jsonl").unlink()
    for one in devices:
        one.hang_up()
    server.start()
    begun = time.perf_counter()
    threads = [threading.Thread(target=press, args=(number,)) for number in range(2)]
    for thread in threads:
        thread.start()
    for thread in threads:
        thread.join()
    rate = 5000 / (time.perf_counter() - begun)
    at_once = [*waits[0], *waits[1]]
    print(
        f"\none device: {share(alone, 50):.2f} ms (median), {share(alone, 99):.2f} ms (99 of 100); two at once: "
        f"{share(at_once, 50):.2f} and {share(at_once, 99):.2f} ms, {rate:.0f} marks a second"
    )
    for one in devices:
        one.hang_up()
    # Source: Nielsen, Usability Engineering (1993), ch. 5: up to 0.1 s an answer is felt to be at once.
    assert share(alone, 99) < 100
