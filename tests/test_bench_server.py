"""The bench log's server, started as a creator starts it: who gets in, what is refused, what comes back."""

from __future__ import annotations

import asyncio
import json
import re
import shutil
import signal
import socket
import stat
import subprocess
import sys
import time
from collections.abc import Callable, Iterator
from contextlib import suppress
from pathlib import Path

import numpy as np
import pytest
import uvicorn
import zxingcpp
from hypothesis import given, settings
from hypothesis import strategies as st
from uvicorn.server import ServerState

from episodekit.bench.model import Kind
from episodekit.formats.bench_posted import Malformed, read_key, read_marks
from episodekit.outside.bench_server import connections
from episodekit.outside.bench_server.addresses import hosts, local_addresses
from episodekit.outside.bench_server.app import static_files
from episodekit.outside.bench_server.connections import MOST_FROM_ONE, Connection
from episodekit.outside.bench_server.entrance import Entrance, Wait
from episodekit.outside.bench_server.guard import OPEN
from tests.bench_kit import HOST, Device, Server, logged, now
from tests.conftest import LAMP, ROOT, JobFolder, Run
from tests.test_commands import commands_of_readme

pytestmark = pytest.mark.skipif(sys.platform == "win32", reason="signals are of Unix")


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


def mark(name: str, kind: str = "note", **more: object) -> dict[str, object]:
    return {"id": name, "at": now(), "kind": kind, **more}


# --- who gets in ---


ROUTES = ["/", "/job", "/time", "/marks", "/enter", "/favicon.ico", "/docs", "/openapi.json"]


@pytest.mark.parametrize(
    "method", ["GET", "HEAD", "POST", "PUT", "DELETE", "OPTIONS", "PATCH", "TRACE", "FLY"]
)
@pytest.mark.parametrize(
    "path", [*ROUTES, "/static/bench.js", "/static/bench.css", "/static/../job", "//job", "/job/"]
)
def test_no_route_answers_without_the_session(path: str, method: str, stranger: Device) -> None:
    answer = stranger.ask(method, path, {} if method == "POST" else None)
    open_to_all = path == "/enter" and method in {"GET", "HEAD", "POST"}
    assert (
        answer.status == {"POST": 400}.get(method, 200) if open_to_all else answer.status in {401, 403, 405}
    )
    assert b"lamp" not in answer.body
    assert "set-cookie" not in answer.headers


def test_what_is_open_tells_nothing_of_the_job(stranger: Device) -> None:
    for path in sorted(OPEN & {"/enter", *(f"/static/{name}" for name in static_files())}):
        answer = stranger.ask("GET", path)
        assert answer.status == 200
        assert b"lamp" not in answer.body


@pytest.mark.parametrize("cookie", ["x", "", "é", "a" * 5000, "null", "0", "../../etc/passwd"])
def test_wrong_cookie_is_none(cookie: str, phone: Device, stranger: Device) -> None:
    name = phone.cookie.partition("=")[0]
    assert stranger.ask("GET", "/job", headers={"Cookie": f"{name}={cookie}"}).status == 401


def test_cookie_is_out_of_reach_of_scripts_and_other_sites(server: Server) -> None:
    device = Device(server)
    lines = len(server.said)
    answer = device.ask("POST", "/enter", {"key": server.key})
    said = {part.strip().lower() for part in answer.headers["set-cookie"].split(";")}
    assert {"httponly", "samesite=strict", "path=/"} <= said
    assert not [part for part in said if part.startswith("domain")]
    server.wait_for("/enter#", lines)
    device.hang_up()


def test_key_works_once_and_another_is_printed(server: Server, stranger: Device) -> None:
    used, lines = server.key, len(server.said)
    assert stranger.ask("POST", "/enter", {"key": used}).status == 204
    server.wait_for("/enter#", lines)
    assert server.key != used
    assert stranger.ask("POST", "/enter", {"key": used}).status == 401


def test_cookies_are_kept_as_hashes_in_a_file_of_the_owner(lamp: JobFolder, phone: Device) -> None:
    file = lamp.root / "out" / "bench" / "devices.json"
    assert stat.S_IMODE(file.stat().st_mode) == 0o600
    secret = phone.cookie.partition("=")[2]
    assert secret.encode() not in file.read_bytes()
    assert len(secret) >= 43, "256 bits in base64"


def test_restarted_server_knows_its_devices(job: JobFolder) -> None:
    server = Server(job.root).start()
    device = Device(server).enter()
    key = server.key
    server.kill()
    device.hang_up()
    server.start()
    assert device.ask("GET", "/job").status == 200
    assert server.key != key
    device.hang_up()
    server.close()


def test_damaged_list_of_devices_lets_nobody_in(tmp_path: Path) -> None:
    file = tmp_path / "devices.json"
    for text in (
        "",
        "{",
        "[]",
        '{"devices": []}',
        '{"devices": {"": 9e99}}',
        '{"devices": {"x": null}}',
        "[" * 9999,
    ):
        file.write_text(text)
        door = Entrance(file, lambda: 0.0, lambda key: None)
        assert not door.knows("")
        assert not door.knows("x")


def test_wrong_keys_have_to_wait_and_others_do_not(tmp_path: Path) -> None:
    clock = [1000.0]
    door = Entrance(tmp_path / "devices.json", lambda: clock[0], lambda key: None)
    tries = longest = 0
    for _ in range(10_000):  # a try every tenth of a second
        clock[0] += 0.1
        try:
            assert door.enter("abcd-efgh-jkmn-pqrs", "192.0.2.7") is None
            tries += 1
        except Wait as wait:
            longest = max(longest, wait.seconds)
    assert tries < 30
    assert 30 < longest <= 61
    assert door.enter(door.key, "192.0.2.8") is not None
    # An IPv6 household has 2**64 addresses, and counts as one (RFC 6177).
    for number in range(5):
        assert door.enter("wrong", f"2001:db8::{number:x}") is None
    with pytest.raises(Wait):
        door.enter(door.key, "2001:db8::99")


def test_key_may_be_typed_in_capitals_and_without_hyphens(tmp_path: Path) -> None:
    door = Entrance(tmp_path / "devices.json", lambda: 0.0, lambda key: None)
    secret = door.enter(door.key.upper().replace("-", " "), "192.0.2.7")
    assert secret is not None
    assert door.knows(secret)


def test_device_has_to_enter_again_after_a_month(tmp_path: Path) -> None:
    clock = [0.0]
    door = Entrance(tmp_path / "devices.json", lambda: clock[0], lambda key: None)
    secret = door.enter(door.key, "192.0.2.7") or ""
    clock[0] = 29 * 86_400
    assert door.knows(secret)
    clock[0] = 31 * 86_400
    assert not door.knows(secret)


# --- from where ---


@pytest.mark.parametrize(
    "host", ["evil.example", "evil.example:{port}", "127.0.0.1", "127.0.0.1:1", "127.0.0.1.evil.example:{port}",
             "", None, "[::1]:{port}", "0.0.0.0:{port}", "127.0.0.1:{port}/x", "u@127.0.0.1:{port}"],
)  # fmt: skip
def test_wrong_host_is_refused(host: str | None, server: Server, phone: Device) -> None:
    named = None if host is None else host.format(port=server.port)
    origin = {"Origin": f"http://{named}"}
    for method, path in (("GET", "/job"), ("GET", "/enter"), ("POST", "/marks")):
        body = {"marks": []} if method == "POST" else None
        answer = phone.ask(method, path, body, {"Host": named, **origin})
        assert answer.status in {400, 403}  # 400: no Host at all (RFC 9112, 3.2)
    phone.hang_up()


def test_localhost_is_this_machine(server: Server, phone: Device) -> None:
    assert phone.ask("GET", "/job", headers={"Host": f"localhost:{server.port}"}).status == 200


@pytest.mark.parametrize(
    "origin", [None, "null", "", "http://evil.example", "https://{host}", "http://{host}.evil.example",
               "http://127.0.0.1", "http://localhost:{port}", "http://{host}/", "file://"],
)  # fmt: skip
def test_wrong_origin_writes_nothing(
    origin: str | None, server: Server, phone: Device, lamp: JobFolder
) -> None:
    before = len(logged(lamp.root))
    named = None if origin is None else origin.format(host=server.address, port=server.port)
    assert phone.ask("POST", "/marks", {"marks": [mark("x-1")]}, {"Origin": named}).status == 403
    assert phone.ask("POST", "/enter", {"key": server.key}, {"Origin": named}).status == 403
    assert len(logged(lamp.root)) == before


@pytest.mark.parametrize("site", ["cross-site", "same-site"])
def test_other_sites_pages_may_not_ask(site: str, phone: Device) -> None:
    # Fetch Metadata Request Headers (W3C): another port of this host is same-site, and its requests bear cookies.
    assert phone.ask("GET", "/marks", headers={"Sec-Fetch-Site": site}).status == 403
    assert phone.ask("GET", "/enter", headers={"Sec-Fetch-Site": site}).status == 200


@pytest.mark.parametrize("path", ["/job", "/enter", "/nowhere", "/marks", "/static/nowhere.js"])
def test_headers_of_every_answer(path: str, phone: Device) -> None:
    headers = phone.ask("GET", path).headers
    policy = {part.split()[0]: part.split()[1:] for part in headers["content-security-policy"].split(";")}
    assert policy["default-src"] == [
        "'self'"
    ]  # CSP Level 3: no inline script, no eval, nothing from elsewhere
    assert policy["frame-ancestors"] == policy["base-uri"] == policy["object-src"] == ["'none'"]
    assert headers["cache-control"] == "no-store"
    assert headers["x-content-type-options"] == "nosniff"
    assert headers["referrer-policy"] == "no-referrer"
    assert "server" not in headers
    assert "access-control-allow-origin" not in headers


@pytest.mark.parametrize(
    "path",
    ["/static/../job.md", "/static/..%2fjob.md", "/static/%2e%2e/%2e%2e/pyproject.toml", "/static//etc/passwd",
     "/static/%2fetc%2fpasswd", "/static/..\\job.md", "/static/bench.html", "/static/enter.html", "/../job.md",
     "/static/.", "/static/", "/static/bench.js%00", "/job.md", "/footage", "/bench.jsonl", "/out/bench/devices.json"],
)  # fmt: skip
def test_no_path_leads_to_a_file(path: str, phone: Device) -> None:
    answer = phone.ask("GET", path)
    assert answer.status in {400, 404}
    assert len(answer.body) < 200


# --- what is refused ---


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


# --- what comes back ---


def test_marks_are_written_in_the_plans_offset_and_read_back(phone: Device, lamp: JobFolder) -> None:
    at = now() - 5000
    answer = phone.post(
        {"id": "w-1", "at": at, "kind": "start", "step": "screws"},
        {
            "id": "w-2",
            "at": at + 1000.4,
            "kind": "reading",
            "step": "screws",
            "text": "3.2 Ω\nacross\u2028R14 <b>",
        },
        {"id": "w-3", "at": at + 2000, "kind": "undo", "of": "w-1"},
    )
    assert answer.data["taken"] == ["w-1", "w-2", "w-3"]
    lines = {line["id"]: line for line in logged(lamp.root)}
    assert lines["w-1"]["time"].endswith("-05:00")
    assert lines["w-2"]["text"] == "3.2 Ω across R14 <b>"
    sent = {one["id"]: one for one in phone.ask("GET", "/marks").data["marks"]}
    assert (sent["w-2"]["kind"], sent["w-2"]["text"]) == ("reading", "3.2 Ω across R14 <b>")
    assert abs(sent["w-2"]["at"] - (at + 1000.4)) <= 0.5
    assert (sent["w-3"]["of"], sent["w-1"]["of"]) == ("w-1", "")


def test_device_asks_only_for_what_is_new_until_the_log_is_edited(phone: Device, lamp: JobFolder) -> None:
    phone.post(mark("s-1"), mark("s-2"))
    first = phone.ask("GET", "/marks").data
    assert first["since"] == 0
    assert first["count"] == len(first["marks"])
    phone.post(mark("s-3"))
    asked = f"/marks?since={first['count']}&edition={first['edition']}"
    later = phone.ask("GET", asked).data
    assert (later["since"], [one["id"] for one in later["marks"]]) == (first["count"], ["s-3"])
    path = lamp.root / "bench.jsonl"
    path.write_bytes(path.read_bytes() + b'{"time": "x"}\n')
    edited = phone.ask("GET", asked).data
    assert (edited["since"], len(edited["marks"]), edited["unread"]) == (0, edited["count"], 1)
    path.write_bytes(path.read_bytes().removesuffix(b'{"time": "x"}\n'))
    for wrong in ("-1", "x", "9" * 400, "", "٣", "1e3"):
        answer = phone.ask(
            "GET", f"/marks?since={wrong.encode().hex() if not wrong.isascii() else wrong}&edition=1"
        )
        assert answer.data["since"] == 0


def test_clock_is_the_servers(phone: Device) -> None:
    before = now()
    told = phone.ask("GET", "/time").data["now"]
    assert before - 1 <= told <= now() + 1


def test_job_is_the_plan_and_follows_it(phone: Device, lamp: JobFolder) -> None:
    board = phone.ask("GET", "/job").data
    assert board["title"] == "Can this desk lamp be saved?"
    assert [step["id"] for step in board["steps"]] == [
        "open",
        "screws",
        "board",
        "solder",
        "result",
        "tallow-read",
    ]
    solder = board["steps"][3]
    assert solder["no_return"]
    assert solder["after"] == ["board"]
    path = lamp.root / "job.md"
    text = path.read_text()
    path.write_text(text.replace("## Four screws", "## Five screws"))
    changed = phone.ask("GET", "/job").data
    assert (changed["steps"][1]["title"], changed["problem"]) == ("Five screws", "")
    assert changed["edition"] != board["edition"]
    assert phone.ask("GET", "/time").data["job"] == changed["edition"]
    path.unlink()
    gone = phone.ask("GET", "/job").data
    assert gone["steps"] == changed["steps"]
    assert "JOB-MISSING" in gone["problem"]
    assert phone.post(mark("j-1")).data["taken"] == ["j-1"]
    path.write_text(text)
    assert phone.ask("GET", "/job").data["steps"] == board["steps"]


def test_page_and_its_files_are_served_to_a_device(phone: Device) -> None:
    page = phone.ask("GET", "/")
    assert page.status == 200
    assert page.headers["content-type"].startswith("text/html")
    assert "Can this desk lamp be saved?" in page.body.decode()
    assert static_files()
    for name, path in static_files().items():
        answer = phone.ask("GET", f"/static/{name}")
        assert (answer.status, answer.body) == (200, path.read_bytes())


# --- raw bytes on the wire ---


def raw(server: Server, sent: bytes, seconds: float = 5) -> bytes:
    """What the server answers to bytes, until it hangs up or says nothing more for so long."""
    with socket.create_connection((HOST, server.port), timeout=seconds) as sock:
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


# --- the command ---


def test_code_on_the_terminal_is_the_address(server: Server) -> None:
    """The drawn code is read by somebody else's reader: two rows a line, blocks are light."""
    start = max(n for n, line in enumerate(server.said) if "/enter#" in line)
    address = server.said[start].rpartition(" ")[2]
    lines = [line for line in server.said[start + 1 :] if line and not set(line) - set("█▀▄ ")]
    rows = [[sign in light for sign in line] for line in lines for light in ("█▀", "█▄")]
    picture = np.kron(np.array(rows, dtype=np.uint8) * 255, np.ones((8, 8), dtype=np.uint8))
    (found,) = zxingcpp.read_barcodes(picture)
    assert found.text == address
    assert address.startswith(f"http://{server.address}/enter#")


def test_second_server_of_a_job_is_refused_in_one_line(
    server: Server, lamp: JobFolder, run: Callable[..., Run]
) -> None:
    done = run("bench", lamp.root, "--port", "0")
    assert (done.status, done.out) == (2, "")
    assert re.fullmatch(r"The bench log of this job is open already\..*\n", done.err)


def test_port_in_use_is_told_in_one_line(server: Server, job: JobFolder, run: Callable[..., Run]) -> None:
    done = run("bench", job.root, "--port", str(server.port))
    assert (done.status, done.out) == (2, "")
    assert re.fullmatch(rf"Port {server.port} is in use\..*--port\.\n", done.err)


def test_job_without_a_plan_is_a_finding(tmp_path: Path, run: Callable[..., Run]) -> None:
    done = run("bench", tmp_path)
    assert done.status == 1
    assert "JOB-MISSING" in done.err
    assert list(tmp_path.glob("out*")) == []


def test_job_folder_that_leads_elsewhere_is_refused(
    job: JobFolder, tmp_path: Path, run: Callable[..., Run]
) -> None:
    (tmp_path / "elsewhere").mkdir()
    (job.root / "out").symlink_to(tmp_path / "elsewhere")
    done = run("bench", job.root)
    assert done.status == 3
    assert "leads out of the job folder" in done.err
    (job.root / "out").unlink()
    (job.root / "out").write_text("a file")
    done = run("bench", job.root)
    assert done.status == 3
    assert "out" in done.err


def test_command_in_the_readme_runs_until_ctrl_c(tmp_path: Path) -> None:
    (line,) = (line for line in commands_of_readme() if " bench " in line)
    _, _, folder, *options = line.split()
    shutil.copytree(
        ROOT / "sample_jobs" / "clear-shell", tmp_path / "job", ignore=shutil.ignore_patterns("out")
    )
    server = Server(tmp_path / "job", *options).start()
    assert (ROOT / folder / "job.md").is_file()
    assert server.stop() == 0
    server.close()


@pytest.mark.parametrize("how", [signal.SIGINT, signal.SIGTERM])
def test_ctrl_c_ends_cleanly_and_lets_the_job_go(how: signal.Signals, job: JobFolder) -> None:
    server = Server(job.root).start()
    device = Device(server).enter()
    device.post(mark("c-1"))
    assert server.stop(how) == 0
    assert "closed. 1 mark taken" in server.wait_for("closed")
    assert "Traceback" not in "\n".join(server.said)
    device.hang_up()
    server.start()
    assert server.stop() == 0
    server.close()


def test_listening_says_every_address_and_answers_to_each(job: JobFolder) -> None:
    server = Server(job.root, "--listen").start()
    try:
        for address in local_addresses():
            server.wait_for(f"http://{address}:{server.port}/enter#")
            with socket.create_connection((address, server.port), timeout=5) as sock:
                sock.sendall(f"GET /enter HTTP/1.1\r\nHost: {address}:{server.port}\r\n\r\n".encode())
                assert sock.recv(99).startswith(b"HTTP/1.1 200")
    finally:
        server.close()


@pytest.mark.skipif(sys.platform != "linux", reason="`hostname -I` is of Linux")
def test_addresses_are_those_of_the_network_cards() -> None:
    told = subprocess.run(["hostname", "-I"], capture_output=True, text=True, check=True).stdout
    cards = {word for word in told.split() if ":" not in word}
    assert set(local_addresses()) == cards


def test_hosts_are_loopback_and_the_addresses() -> None:
    assert "192.168.1.20:8431" in hosts(["192.168.1.20"], 8431)
    assert "192.168.1.20" not in hosts(["192.168.1.20"], 8431)


def test_full_disk_refuses_with_a_reason_and_loses_nothing(job: JobFolder, run: Callable[..., Run]) -> None:
    """The system stops the log in the middle of a line (a limit on the size of files); later there is room again."""
    import resource

    job.write("bench.jsonl", '{"time": "2026-11-07T10:00:00Z", "kind": "note"}\n' * 40)
    server = Server(job.root).start(lambda: resource.setrlimit(resource.RLIMIT_FSIZE, (2300, 2300)))
    device = Device(server).enter()
    at = now()
    marks = [{"id": f"f-{n}", "at": at + n, "kind": "note", "text": f"press {n}"} for n in range(1, 9)]
    answer = device.post(*marks)
    assert answer.status == 503
    assert "cannot be written" in answer.data["why"]
    assert device.ask("GET", "/time").status == 200, "the page stays"
    server.kill()
    device.hang_up()
    server.start()
    assert device.post(*marks).data["taken"] == [f"f-{n}" for n in range(1, 9)]
    device.hang_up()
    server.close()
    found = re.findall(r'"id": "(f-\d)".*}\n', (job.root / "bench.jsonl").read_text())
    assert found == [f"f-{n}" for n in range(1, 9)]
    told = run("check", job.root)
    assert "LOG-TORN" in told.out
    assert "error" not in told.out
