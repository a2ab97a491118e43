"""No mark is lost: two devices press while the server is killed and the network is cut."""

from __future__ import annotations

import sys
from collections.abc import Iterator

import pytest

from tests.bench.kit import Device, Server
from tests.bench.storm import Presser, Proxy, storm
from tests.conftest import JobFolder

pytestmark = pytest.mark.skipif(sys.platform == "win32", reason="SIGKILL is of Unix")


@pytest.fixture
def server(job: JobFolder) -> Iterator[Server]:
    server = Server(job.root)
    yield server
    server.close()


def test_three_hundred_marks_of_two_devices_through_kills_and_cuts(server: Server) -> None:
    server.start()
    proxy = Proxy(server, seed=1)
    devices = [Device(server, proxy.port).enter() for _ in range(2)]
    pressers = [
        Presser(name, one, seed=len(name)) for name, one in zip(("left", "right"), devices, strict=True)
    ]
    seen = storm(server, proxy, pressers, presses=150, every=0.015, seed=20261107, pause=0.15)
    proxy.close()
    for one in devices:
        one.hang_up()
    assert seen.kills >= 2
    assert seen.cuts + seen.torn >= 4
    assert seen.looked_at
