"""The bench log's server as a creator starts it, and devices that speak with it."""

from __future__ import annotations

import http.client
import json
import os
import re
import signal
import socket
import subprocess
import sys
import threading
import time
from collections.abc import Callable, Mapping
from dataclasses import dataclass
from pathlib import Path
from typing import Any

HOST = "127.0.0.1"
ROOT = Path(__file__).resolve().parents[2]


def free_port() -> int:
    """A port of five digits that nobody has now."""
    while True:
        with socket.socket() as sock:
            sock.bind((HOST, 0))
            port = int(sock.getsockname()[1])
        if port >= 10_000:
            return port


LATER = """
import runpy, sys, time
ahead, own, finely = float(sys.argv.pop(1)), time.time, time.time_ns
time.time, time.time_ns = lambda: own() + ahead, lambda: finely() + int(ahead * 1e9)
runpy.run_module("episodekit", run_name="__main__", alter_sys=True)
"""
"""The program on a machine whose clock is set ahead: how an afternoon passes in a minute."""


class Server:
    """`episodekit bench` in a process of its own, on one port through all its lives.

    `ahead` is by how many seconds its machine's clock is set ahead at the next start.
    """

    ahead = 0.0

    def __init__(self, job: Path, *options: str, port: int | None = None) -> None:
        self.job = job
        self.port = port or free_port()
        self.options = options
        self.said: list[str] = []
        self.starts = 0
        self.process: subprocess.Popen[str] | None = None

    def start(self, before: Callable[[], None] | None = None) -> Server:
        """Start it and wait until it says where it is reached. `before` runs in the new process."""
        program = ["-c", LATER, str(self.ahead)] if self.ahead else ["-m", "episodekit"]
        words = [sys.executable, *program, "bench", str(self.job), "--port", str(self.port)]
        self.process = subprocess.Popen(
            [*words, *self.options],
            env=os.environ | {"PYTHONPATH": str(ROOT), "PYTHONIOENCODING": "utf-8"},
            stdout=subprocess.PIPE,
            stderr=subprocess.STDOUT,
            text=True,
            encoding="utf-8",
            preexec_fn=before,
        )
        seen = len(self.said)
        self._reader = threading.Thread(target=self._read, args=(self.process,), daemon=True)
        self._reader.start()
        self.wait_for("/enter#", seen)
        self.starts += 1
        return self

    def _read(self, process: subprocess.Popen[str]) -> None:
        assert process.stdout is not None
        for line in process.stdout:
            self.said.append(line.rstrip("\n"))

    def wait_for(self, words: str, after: int = 0) -> str:
        """The first line after so many that holds the words."""
        until = time.monotonic() + 30
        while time.monotonic() < until:
            for line in self.said[after:]:
                if words in line:
                    return line
            assert self.process is not None
            if self.process.poll() is not None:
                break
            time.sleep(0.01)
        raise AssertionError(f"'{words}' was not said:\n" + "\n".join(self.said[after:]))

    @property
    def key(self) -> str:
        """The key that was printed last."""
        return re.findall(r"/enter#([a-z0-9-]+)", "\n".join(self.said))[-1]

    @property
    def address(self) -> str:
        return f"{HOST}:{self.port}"

    def kill(self) -> None:
        """SIGKILL: what was not written is lost."""
        assert self.process is not None
        self.process.kill()
        self.process.wait()
        self._reader.join(5)
        assert self.process.stdout is not None
        self.process.stdout.close()

    def stop(self, how: signal.Signals = signal.SIGINT) -> int:
        """Ctrl-C, or another polite signal; the exit status."""
        assert self.process is not None
        assert self.process.stdout is not None
        self.process.send_signal(how)
        status = self.process.wait(timeout=20)
        self._reader.join(5)
        self.process.stdout.close()
        return status

    def close(self) -> None:
        """End it whatever it does."""
        if self.process is not None and self.process.poll() is None:
            self.kill()
        if self.process is not None and self.process.stdout is not None:
            self.process.stdout.close()


@dataclass(frozen=True)
class Answer:
    """What came back."""

    status: int
    headers: Mapping[str, str]
    body: bytes

    @property
    def data(self) -> Any:
        return json.loads(self.body)


@dataclass
class Device:
    """A client with a cookie, at an address of the server or of a proxy before it."""

    server: Server
    at: int = 0
    cookie: str = ""
    connection: http.client.HTTPConnection | None = None

    def ask(
        self,
        method: str,
        path: str,
        body: object = None,
        headers: Mapping[str, str | None] | None = None,
        timeout: float = 10,
    ) -> Answer:
        """One request with what a browser sends; `headers` change that, None leaves one out."""
        address = f"{HOST}:{self.at or self.server.port}"
        sent: dict[str, str | None] = {"Host": address}
        if self.cookie:
            sent["Cookie"] = self.cookie
        if method == "POST":
            sent |= {"Origin": f"http://{address}", "Content-Type": "application/json"}
        sent |= headers or {}
        raw = body if body is None or isinstance(body, bytes) else json.dumps(body).encode()
        if self.connection is None:
            self.connection = http.client.HTTPConnection(HOST, self.at or self.server.port, timeout=timeout)
        try:
            self.connection.putrequest(method, path, skip_host=True, skip_accept_encoding=True)
            for name, value in sent.items():
                if value is not None:
                    self.connection.putheader(name, value)
            if isinstance(raw, bytes) and "Content-Length" not in sent:
                self.connection.putheader("Content-Length", str(len(raw)))
            self.connection.endheaders(raw if isinstance(raw, bytes) else None)
            answer = self.connection.getresponse()
            found = Answer(answer.status, {k.lower(): v for k, v in answer.getheaders()}, answer.read())
        except (OSError, http.client.HTTPException):
            self.hang_up()
            raise
        if found.headers.get("connection") == "close":
            self.hang_up()
        return found

    def hang_up(self) -> None:
        if self.connection is not None:
            self.connection.close()
        self.connection = None

    def enter(self) -> Device:
        """Come in with the key on the terminal."""
        before, lines = self.server.key, len(self.server.said)
        answer = self.ask("POST", "/enter", {"key": before})
        assert answer.status == 204, answer
        self.cookie = answer.headers["set-cookie"].partition(";")[0]
        self.server.wait_for("/enter#", lines)
        return self

    def post(self, *marks: Mapping[str, object]) -> Answer:
        return self.ask("POST", "/marks", {"marks": list(marks)})


def now() -> float:
    """The clock of the server, which is this machine's, in ms."""
    return time.time() * 1000


def mark(name: str, kind: str = "note", **more: object) -> dict[str, object]:
    """A mark as a page sends it, of this moment."""
    return {"id": name, "at": now(), "kind": kind, **more}


def logged(job: Path) -> list[dict[str, str]]:
    """The log as any reader of JSON Lines has it."""
    path = job / "bench.jsonl"
    return [json.loads(line) for line in path.read_bytes().splitlines()] if path.exists() else []
