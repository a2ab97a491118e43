"""A network that fails, pages without a browser, and the storm: marks pressed while everything breaks."""

from __future__ import annotations

import http.client
import random
import socket
import threading
import time
from collections.abc import Sequence
from contextlib import suppress
from dataclasses import dataclass, field
from datetime import datetime
from pathlib import Path

from tests.bench.kit import HOST, Device, Server, free_port, logged, now


class Proxy:
    """A network that fails: it passes bytes on, and cuts any connection at any byte.

    It says the server's port where a client says its own, so that a browser may be led through it.
    """

    def __init__(self, server: Server, seed: int) -> None:
        self.server = server
        self.chance = random.Random(seed)
        self.port = free_port()
        self.away = False
        self.tears = False  # whether what passes may be torn in the middle: a message, or the answer to one
        self.cuts = self.torn = 0
        self._open: set[socket.socket] = set()
        self._lock = threading.Lock()
        self._sock = socket.create_server((HOST, self.port))
        threading.Thread(target=self._accept, daemon=True).start()

    def _accept(self) -> None:
        while True:
            try:
                near, _ = self._sock.accept()
            except OSError:
                return
            if self.away:
                near.close()
                continue
            try:
                far = socket.create_connection((HOST, self.server.port), timeout=5)
            except OSError:
                near.close()
                continue
            for sock in (near, far):
                sock.setsockopt(socket.IPPROTO_TCP, socket.TCP_NODELAY, 1)
            with self._lock:
                self._open |= {near, far}
            ours, theirs = str(self.port).encode(), str(self.server.port).encode()
            threading.Thread(target=self._pass_on, args=(near, far, ours, theirs), daemon=True).start()
            threading.Thread(target=self._pass_on, args=(far, near, b"", b""), daemon=True).start()

    def _pass_on(self, here: socket.socket, there: socket.socket, old: bytes, new: bytes) -> None:
        with suppress(OSError):
            while data := here.recv(65536):
                if old:
                    data = data.replace(HOST.encode() + b":" + old, HOST.encode() + b":" + new)
                if self.tears and self.chance.random() < 1 / 40:
                    there.sendall(data[: self.chance.randrange(len(data))])
                    self.torn += 1
                    break
                there.sendall(data)
        self._end(here, there)

    def _end(self, *socks: socket.socket) -> None:
        with self._lock:
            self._open -= set(socks)
        for sock in socks:
            with suppress(OSError):
                sock.shutdown(socket.SHUT_RDWR)
            sock.close()

    def cut(self) -> None:
        """Cut all that is open now, wherever it is."""
        with self._lock:
            some = list(self._open)
        self.cuts += len(some) // 2
        self._end(*some)

    def close(self) -> None:
        self._sock.close()
        self.cut()


class Presser:
    """A page without a browser: presses are queued, and delivered in order until each is acknowledged.

    Any client may stand in its place that has these names: the storm asks for no more.
    """

    def __init__(self, name: str, device: Device, seed: int) -> None:
        self.name = name
        self.pressed: list[tuple[str, float]] = []
        self.acknowledged: list[str] = []
        self.refused: list[object] = []
        self.waits: list[float] = []
        self._device = device
        self._chance = random.Random(seed)

    def run(self, presses: int, every: float) -> None:
        """Press so often, a press every so many seconds at least, and deliver until nothing waits."""
        queue: list[dict[str, object]] = []
        next_press = time.monotonic()
        while queue or len(self.pressed) < presses:
            while len(self.pressed) < presses and time.monotonic() >= next_press:
                number = len(self.pressed) + 1
                at, name = now(), f"{self.name}-{number}"
                queue.append({"id": name, "at": at, "kind": "note", "text": f"press {number}"})
                self.pressed.append((name, at))
                next_press += every
            if not queue:
                time.sleep(max(0.0, next_press - time.monotonic()))
                continue
            some = queue[: self._chance.randint(1, 5) if len(queue) < 50 else 100]
            begun = time.perf_counter()
            try:
                answer = self._device.post(*some)
                told = answer.data  # an answer torn in its headers may look like one without a body
            except (OSError, http.client.HTTPException, ValueError):
                time.sleep(self._chance.uniform(0.0, 0.05))
                continue
            if answer.status != 200:
                time.sleep(0.05)
                continue
            self.waits.append(time.perf_counter() - begun)
            done = set(told["taken"])
            self.refused += told["refused"]
            self.acknowledged += [str(one["id"]) for one in some if one["id"] in done]
            queue = [one for one in queue if one["id"] not in done]


@dataclass
class Storm:
    """What happened in a storm."""

    seconds: float = 0.0
    kills: int = 0
    cuts: int = 0
    torn: int = 0
    away: int = 0
    looked_at: int = 0
    waits: list[float] = field(default_factory=list)


def storm(
    server: Server,
    proxy: Proxy,
    pressers: Sequence[Presser],
    presses: int,
    every: float,
    seed: int,
    pause: float,
) -> Storm:
    """Let all press at once while the server is killed and the network fails; what must hold is asserted.

    At each kill, before the server is started again, all that was acknowledged is in the file exactly once.
    """
    chance = random.Random(seed)
    seen = Storm()
    begun = time.monotonic()
    proxy.tears = True
    threads = [
        threading.Thread(target=one.run, args=(presses, every), daemon=True, name=one.name)
        for one in pressers
    ]
    for thread in threads:
        thread.start()
    while any(thread.is_alive() for thread in threads):
        time.sleep(chance.expovariate(1 / pause))
        what = chance.random()
        if what < 0.4:
            server.kill()
            seen.kills += 1
            seen.looked_at += acknowledged_are_there(server.job, pressers)
            time.sleep(chance.uniform(0, 0.1))
            server.start()
        elif what < 0.85:
            proxy.cut()
        else:
            proxy.away = True
            proxy.cut()
            seen.away += 1
            time.sleep(chance.uniform(0, 0.3))
            proxy.away = False
        assert time.monotonic() - begun < 900, [len(one.acknowledged) for one in pressers]
    for thread in threads:
        thread.join()
    seen.seconds = time.monotonic() - begun
    seen.cuts, seen.torn = proxy.cuts, proxy.torn
    seen.waits = sorted(wait for one in pressers for wait in one.waits)
    server.kill()
    acknowledged_are_there(server.job, pressers)
    lines = logged(server.job)
    names = [str(line["id"]) for line in lines]
    assert len(names) == len(set(names)) == presses * len(pressers)
    for one in pressers:
        assert not one.refused
        own = [name for name in names if name.startswith(f"{one.name}-")]
        assert own == [name for name, _ in one.pressed] == one.acknowledged
        times = {str(line["id"]): datetime.fromisoformat(line["time"]).timestamp() * 1000 for line in lines}
        assert all(abs(times[name] - at) < 0.51 for name, at in one.pressed), "not the time of the press"
    return seen


def acknowledged_are_there(job: Path, pressers: Sequence[Presser]) -> int:
    """Each acknowledged mark is in the log exactly once; how many were looked at."""
    known = [list(one.acknowledged) for one in pressers]  # before the file is read
    names = [str(line["id"]) for line in logged(job)]
    assert len(names) == len(set(names)), "a mark is there twice"
    there = set(names)
    for some in known:
        assert not [name for name in some if name not in there]
    return sum(len(some) for some in known)
