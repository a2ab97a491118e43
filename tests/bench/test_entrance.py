"""Who gets in: keys, cookies, hosts, origins. Nobody else is told anything."""

from __future__ import annotations

import stat
import sys
from pathlib import Path

import pytest

from episodekit.outside.bench_server.app import static_files
from episodekit.outside.bench_server.entrance import Entrance, Wait
from episodekit.outside.bench_server.guard import OPEN
from tests.bench.kit import Device, Server, logged, mark
from tests.conftest import JobFolder

pytestmark = pytest.mark.skipif(sys.platform == "win32", reason="signals are of Unix")


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


def test_device_enters_when_the_folder_that_remembers_it_was_deleted(tmp_path: Path) -> None:
    file = tmp_path / "out" / "bench" / "devices.json"
    door = Entrance(file, lambda: 0.0, lambda key: None)
    secret = door.enter(door.key, "192.0.2.7") or ""
    assert door.knows(secret)
    assert Entrance(file, lambda: 0.0, lambda key: None).knows(secret)


def test_nobody_enters_while_the_job_folder_is_away_and_it_is_not_made_anew(tmp_path: Path) -> None:
    job = tmp_path / "job"
    door = Entrance(job / "out" / "bench" / "devices.json", lambda: 0.0, lambda key: None)
    with pytest.raises(FileNotFoundError):
        door.enter(door.key, "192.0.2.7")
    assert not job.exists()
    job.mkdir()
    assert door.enter(door.key, "192.0.2.7")


def test_device_has_to_enter_again_after_a_month(tmp_path: Path) -> None:
    clock = [0.0]
    door = Entrance(tmp_path / "devices.json", lambda: clock[0], lambda key: None)
    secret = door.enter(door.key, "192.0.2.7") or ""
    clock[0] = 29 * 86_400
    assert door.knows(secret)
    clock[0] = 31 * 86_400
    assert not door.knows(secret)


@pytest.mark.parametrize(
    "host", ["evil.example", "evil.example:{port}", "127.0.0.1", "127.0.0.1:1", "127.0.0.1.evil.example:{port}",
             "", None, "[::1]:{port}", "0.0.0.0:{port}", "127.0.0.1:{port}/x", "u@127.0.0.1:{port}"],
)  # fmt: skip
def test_wrong_host_is_refused(host: str | None, server: Server, phone: Device) -> None:
    phone.hang_up()  # the server does so after some seconds
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
