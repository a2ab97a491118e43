"""The bench log's server and its command, started as a creator starts it: what comes back, and how it ends."""

from __future__ import annotations

import ctypes
import os
import re
import shutil
import signal
import socket
import subprocess
import sys
from collections.abc import Callable
from pathlib import Path

import numpy as np
import pytest
import zxingcpp

from episodekit.outside.bench_server.addresses import hosts, local_addresses
from episodekit.outside.bench_server.app import static_files
from tests.bench.kit import Device, Server, logged, mark, now
from tests.conftest import ROOT, JobFolder, Run
from tests.test_commands import commands_of_readme

pytestmark = pytest.mark.skipif(sys.platform == "win32", reason="signals are of Unix")


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


def drawn(said: list[str]) -> np.ndarray[tuple[int, ...], np.dtype[np.uint8]]:
    """The code on the terminal as a picture: two rows a line, blocks are light."""
    lines = [line for line in said if line and not set(line) - set("█▀▄ ")]
    rows = [[sign in light for sign in line] for line in lines for light in ("█▀", "█▄")]
    return np.kron(np.array(rows, dtype=np.uint8) * 255, np.ones((8, 8), dtype=np.uint8))


def test_no_code_is_drawn_where_no_phone_could_come(job: JobFolder) -> None:
    server = Server(job.root).start()
    try:
        told = server.wait_for("/enter#").rpartition(" ")[2]
        assert told.startswith(f"http://{server.address}/enter#")
        with socket.create_connection(("127.0.0.1", server.port), timeout=5) as sock:
            sock.sendall(f"GET /enter HTTP/1.1\r\nHost: {server.address}\r\n\r\n".encode())
            assert sock.recv(99).startswith(b"HTTP/1.1 200"), "all is said that is said at the start"
        assert server.stop() == 0
        assert not drawn(server.said).size
    finally:
        server.close()


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


def test_what_of_the_log_the_page_does_not_show_is_told(job: JobFolder) -> None:
    job.write(
        "bench.jsonl", '{"time": "2026-11-07T10:04:03Z", "kind": "start", "step": "base"}\n{"time": "2026\n'
    )
    job.write("bench.csv", "time,kind,step,text\n")
    server = Server(job.root).start()
    device = Device(server).enter()
    device.post(mark("c-1"), mark("c-2", "chirp"), mark("c-3", "chirp"))
    device.hang_up()
    assert server.stop() == 0
    assert "1 line of bench.jsonl cannot be read; `episodekit check` says why." in server.said
    assert server.wait_for("bench.csv").startswith("There is a bench.csv too")
    assert "1 mark and 2 chirps taken" in server.wait_for("closed")
    server.close()


def test_no_title_or_folder_breaks_or_turns_a_line_of_the_terminal(job: JobFolder) -> None:
    """U+202E turns the order of what follows (Unicode Standard Annex 9)."""
    turned = job.root.rename(job.root.with_name("two\nlines"))
    plan = turned / "job.md"
    plan.write_text(plan.read_text().replace("title: ", "title: \u202e", 1), encoding="utf-8")
    server = Server(turned).start()
    assert server.stop() == 0
    assert server.said[0].startswith(r"The bench log of '\u202e")
    assert server.said[-1].endswith(r"two\nlines/bench.jsonl.")
    server.close()


def test_listening_says_and_draws_every_address_and_answers_to_each(job: JobFolder) -> None:
    server = Server(job.root, "--listen").start()
    try:
        if not local_addresses():
            server.wait_for("no network that a phone could reach it by")
            assert server.stop() == 0
            assert not drawn(server.said).size
            return
        server.wait_for("▀" * 30)  # the last line of the code
        (found,) = zxingcpp.read_barcodes(drawn(server.said))
        assert found.text == f"http://{local_addresses()[0]}:{server.port}/enter#{server.key}"
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


def _plain_user() -> None:
    """What root may do all the same, this process may not: capabilities(7), prctl(2)."""
    if os.geteuid() == 0:
        drop_from_bounding_set, overrides_modes = 24, 1
        ctypes.CDLL(None).prctl(drop_from_bounding_set, overrides_modes, 0, 0, 0)


@pytest.mark.parametrize("locked", ["bench.jsonl", "."])
def test_log_that_may_not_be_written_is_told_before_anything_is_pressed(locked: str, job: JobFolder) -> None:
    (job.root / "out").mkdir(exist_ok=True)
    if locked != ".":
        job.write("bench.jsonl", "")
    (job.root / locked).chmod(0o555)
    try:
        words = [sys.executable, "-m", "episodekit", "bench", str(job.root), "--port", "0"]
        done = subprocess.run(
            words,
            env=os.environ | {"PYTHONPATH": str(ROOT)},
            capture_output=True,
            text=True,
            timeout=30,
            preexec_fn=_plain_user,
        )
    finally:
        (job.root / locked).chmod(0o755)
    assert done.returncode == 3
    assert done.stderr.startswith("bench.jsonl cannot be written: permission denied.")


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
