"""What is refused: malformed messages and marks, bytes that are no request, strangers who hold the line."""

from __future__ import annotations

import asyncio
import json
import re
import socket
import sys
import time
from contextlib import suppress

import pytest
import uvicorn
from hypothesis import given, settings
from hypothesis import strategies as st
from uvicorn.server import ServerState

from episodekit.bench.model import Kind
from episodekit.formats.bench_posted import Malformed, read_key, read_marks
from episodekit.outside.bench_server import connections
from episodekit.outside.bench_server.connections import MOST_FROM_ONE, Connection
from tests.bench.kit import HOST, Device, Server, logged, mark, now
from tests.conftest import JobFolder

pytestmark = pytest.mark.skipif(sys.platform == "win32", reason="signals are of Unix")


BODIES: dict[str, tuple[object, int]] = {
    "nothing": (b"", 400),
    "no JSON": (b"{", 400),
    "no UTF-8": (b'{"marks": ["\xff"]}', 400),
    "another encoding": ('{"marks": []}'.encode("utf-16"), 400),
    "deeply nested": (b"[" * 60_000, 400),
    "deeply nested objects": (b'{"a":' * 10_000, 400),
    "a number without end": (
        b'{"marks": [{"id": "n-1", "kind": "note", "at": ' + b"9" * 60_000 + b"}]}",
        400,
    ),
    "not a number": (b'{"marks": [{"id": "n-1", "kind": "note", "at": NaN}]}', 400),
    "endless": (b'{"marks": [{"id": "n-1", "kind": "note", "at": -Infinity}]}', 400),
    "a list": ([], 400),
    "a word": ("marks", 400),
    "null": (None, 400),
    "other keys": ({"marks": [], "more": 1}, 400),
    "marks that are none": ({"marks": {}}, 400),
    "too many": ({"marks": [{}] * 501}, 400),
    "too large": (b'{"marks": [' + b" " * 70_000 + b"]}", 413),
}


@pytest.mark.parametrize("name", BODIES)
def test_malformed_body_is_refused_with_a_reason(name: str, phone: Device, lamp: JobFolder) -> None:
    body, status = BODIES[name]
    raw = body if isinstance(body, bytes) else json.dumps(body).encode()
    before = len(logged(lamp.root))
    answer = phone.ask("POST", "/marks", raw)
    assert (answer.status, bool(answer.data["why"])) == (status, True)
    phone.hang_up()
    assert phone.ask("POST", "/enter", raw).status == status
    phone.hang_up()
    assert len(logged(lamp.root)) == before


@pytest.mark.parametrize(
    "kind", ["text/plain", "application/x-www-form-urlencoded", "multipart/form-data", "", None]
)
def test_other_content_types_are_refused(kind: str | None, phone: Device) -> None:
    assert phone.ask("POST", "/marks", {"marks": []}, {"Content-Type": kind}).status == 415
    assert (
        phone.ask("POST", "/marks", {"marks": []}, {"Content-Type": "application/json; charset=utf-8"}).status
        == 200
    )


BAD_MARKS: dict[str, dict[str, object]] = {
    "no id": {"id": None},
    "an id with a slash": {"id": "a/1"},
    "a huge id": {"id": "a" * 60_000},
    "half a character as id": {"id": "\ud800"},
    "no time": {"at": None},
    "text for a time": {"at": "2026-11-07"},
    "truth for a time": {"at": True},
    "a huge time": {"at": 10**300},
    "1970": {"at": 0},
    "next year": {"at": now() + 366 * 86_400_000},
    "no kind": {"kind": None},
    "an unknown kind": {"kind": "begin"},
    "a kind that needs a box": {"kind": "private"},
    "a list for a kind": {"kind": ["start"]},
    "a start without step": {"kind": "start", "step": " \n"},
    "a number for a text": {"text": 7},
    "half a character": {"text": "a\udfff"},
    "a long text": {"text": "x" * 2001},
    "a long step": {"kind": "start", "step": "x" * 201},
    "an undo of nothing": {"kind": "undo"},
    "an undo of no id": {"kind": "undo", "of": "a b"},
    "a note that withdraws": {"of": "a-1"},
    "another field": {"box": "whole picture"},
}


@pytest.mark.parametrize("name", BAD_MARKS)
def test_bad_mark_is_refused_for_itself_and_the_others_are_taken(
    name: str, phone: Device, lamp: JobFolder
) -> None:
    good = f"good-{list(BAD_MARKS).index(name)}"
    answer = phone.post({**mark("bad-1"), **BAD_MARKS[name]}, mark(good))
    assert answer.status == 200
    assert answer.data["taken"] == [good]
    (refused,) = answer.data["refused"]
    assert len(refused["why"]) > 10
    assert len(refused["id"]) <= 64
    assert [line["id"] for line in logged(lamp.root)][-1] == good


@given(st.binary(max_size=200) | st.text(max_size=80).map(lambda text: text.encode("utf-8", "surrogatepass")))
def test_any_bytes_are_a_message_or_malformed(raw: bytes) -> None:
    for reader in (lambda: read_marks(raw, 0.0), lambda: read_key(raw)):
        with suppress(Malformed):
            reader()


anything = st.recursive(
    st.none() | st.booleans() | st.integers() | st.floats() | st.text(max_size=8),
    lambda inner: st.lists(inner, max_size=3) | st.dictionaries(st.text(max_size=5), inner, max_size=3),
    max_leaves=8,
)
fields = st.fixed_dictionaries(
    {},
    optional={
        "id": st.from_regex(r"[a-z]-[0-9]", fullmatch=True) | anything,
        "at": st.integers(-(10**18), 10**18) | st.just(0) | anything,
        "kind": st.sampled_from([kind.value for kind in Kind]) | anything,
        "step": st.text(max_size=20) | anything,
        "text": st.text(max_size=20) | anything,
        "of": st.from_regex(r"[a-z]-[0-9]", fullmatch=True) | anything,
    },
)


@settings(max_examples=300)
@given(st.lists(fields, max_size=4))
def test_any_marks_are_taken_or_refused_and_what_is_taken_is_one_line(marks: list[dict[str, object]]) -> None:
    raw = json.dumps({"marks": marks}).encode()
    try:
        taken, refused = read_marks(raw, 0.0)
    except Malformed:  # not a number
        return
    assert len(taken) + len(refused) == len(marks)
    for one in taken:
        assert not set(one.step + one.text) & set("\n\r\x00\x85\u2028\u2029")


def raw(server: Server, sent: bytes, seconds: float = 5) -> bytes:
    """What the server answers to bytes, until it hangs up or says nothing more for so long."""
    with socket.create_connection((HOST, server.port), timeout=seconds) as sock:
        with suppress(OSError):  # it may have hung up on us in the middle
            sock.sendall(sent)
            sock.shutdown(socket.SHUT_WR)
        found = b""
        try:
            while part := sock.recv(65536):
                found += part
        except (TimeoutError, ConnectionResetError):
            pass
        return found


@pytest.mark.parametrize(
    "sent",
    [b"\x16\x03\x01\x02\x00", b"GARBAGE\r\n\r\n", b"GET / HTTP/9.9\r\n\r\n", b"GET /job\r\n\r\n", b"\r\n" * 50,
     b"GET / HTTP/1.1\r\nHost: a\r\nHost: b\r\n\r\n",
     b"GET http://evil.example/job HTTP/1.1\r\nHost: evil.example\r\n\r\n",
     b"POST /marks HTTP/1.1\r\nHost: %(host)b\r\nContent-Length: -1\r\n\r\n",
     b"POST /marks HTTP/1.1\r\nHost: %(host)b\r\nContent-Length: 5\r\nTransfer-Encoding: chunked\r\n\r\n0\r\n\r\n",
     b"GET /" + b"a" * 100_000 + b" HTTP/1.1\r\nHost: %(host)b\r\n\r\n",
     b"GET /job HTTP/1.1\r\nHost: %(host)b\r\nConnection: Upgrade\r\nUpgrade: websocket\r\n"
     b"Sec-WebSocket-Version: 13\r\nSec-WebSocket-Key: dGhlIHNhbXBsZSBub25jZQ==\r\n\r\n"],
)  # fmt: skip
def test_bytes_that_are_no_request_get_nothing(sent: bytes, server: Server, phone: Device) -> None:
    answer = raw(server, sent.replace(b"%(host)b", server.address.encode()))
    assert b"lamp" not in answer
    assert not answer or re.match(rb"HTTP/1\.1 (400|401|403|404|431|501)", answer), answer[:200]
    phone.hang_up()  # a connection that idled on a busy machine may be closed by now
    assert phone.ask("GET", "/time").status == 200


def test_body_larger_than_it_says_is_cut_off(server: Server, phone: Device, lamp: JobFolder) -> None:
    head = (
        f"POST /marks HTTP/1.1\r\nHost: {server.address}\r\nOrigin: http://{server.address}\r\n"
        f"Content-Type: application/json\r\nCookie: {phone.cookie}\r\n"
    )
    before = len(logged(lamp.root))
    chunk = b"10000\r\n" + b" " * 65536 + b"\r\n"
    chunked = head.encode() + b"Transfer-Encoding: chunked\r\n\r\n" + chunk * 3
    assert raw(server, chunked).startswith(b"HTTP/1.1 413")
    # One that hangs up in the middle has sent nothing.
    body = json.dumps({"marks": [mark("half-1")]}).encode()
    raw(server, head.encode() + f"Content-Length: {len(body)}\r\n\r\n".encode() + body[:-3], 0.3)
    phone.hang_up()  # a connection that idled on a busy machine may be closed by now
    assert phone.ask("GET", "/time").status == 200
    assert len(logged(lamp.root)) == before


def test_one_address_cannot_shut_the_others_out(server: Server, phone: Device) -> None:
    """A stranger opens hundreds of connections and asks nothing; a device at another address works on."""
    phone.hang_up()
    silent = [
        socket.create_connection((HOST, server.port), 5, source_address=("127.0.0.2", 0)) for _ in range(250)
    ]
    try:
        assert phone.ask("GET", "/time").status == 200
        still = 0
        for sock in silent:
            sock.settimeout(0.01)
            try:
                still += bool(sock.recv(1))
            except TimeoutError:
                still += 1
            except ConnectionResetError:
                pass
        assert still <= MOST_FROM_ONE
    finally:
        for sock in silent:
            sock.close()


def test_connection_that_asks_nothing_is_hung_up() -> None:
    async def stranger() -> float:
        app = uvicorn.Config(lambda *_: None, http=Connection, ws="none", lifespan="off", log_config=None)
        app.load()
        loop = asyncio.get_running_loop()
        state = ServerState()
        made = await loop.create_server(lambda: Connection(app, state, {}), HOST, 0)
        reader, writer = await asyncio.open_connection(*made.sockets[0].getsockname())
        begun = loop.time()
        with suppress(ConnectionResetError):
            await asyncio.wait_for(reader.read(), 5)
        waited = loop.time() - begun
        writer.close()
        made.close()
        return waited

    with pytest.MonkeyPatch.context() as patch:
        patch.setattr(connections, "FIRST_WORD", 0.3)
        assert 0.2 < asyncio.run(stranger()) < 2


def test_server_says_nothing_of_what_strangers_do(server: Server, stranger: Device) -> None:
    lines = len(server.said)
    raw(server, b"GARBAGE\r\n\r\n")
    stranger.ask("GET", "/job")
    stranger.ask("POST", "/enter", {"key": "wrong"})
    time.sleep(0.1)
    assert server.said[lines:] == []
