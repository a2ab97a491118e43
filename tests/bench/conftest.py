"""One server for all tests of a file, a device that was let in, and one that was not."""

from __future__ import annotations

from collections.abc import Iterator

import pytest

from tests.bench.kit import Device, Server
from tests.conftest import LAMP, JobFolder


@pytest.fixture(scope="module")
def lamp(tmp_path_factory: pytest.TempPathFactory) -> JobFolder:
    folder = JobFolder(tmp_path_factory.mktemp("bench") / "lamp")
    folder.write("job.md", LAMP.replace("frame rate: 25", "frame rate: 25\nutc offset: -05:00"))
    return folder


@pytest.fixture(scope="module")
def server(lamp: JobFolder) -> Iterator[Server]:
    server = Server(lamp.root).start()
    yield server
    server.close()


@pytest.fixture(scope="module")
def phone(server: Server) -> Iterator[Device]:
    phone = Device(server).enter()
    yield phone
    phone.hang_up()


@pytest.fixture
def stranger(server: Server) -> Iterator[Device]:
    stranger = Device(server)
    yield stranger
    stranger.hang_up()
