"""The commands as a creator meets them: help, exit status, what is written, and what Ctrl-C leaves."""

from __future__ import annotations

import csv
import io
import json
import os
import re
import shutil
import signal
import subprocess
import sys
import time
from collections.abc import Callable
from pathlib import Path
from xml.etree import ElementTree

import av
import jsonschema
import pytest
import yaml
from pymediainfo import MediaInfo

from episodekit import __version__
from episodekit.catalog import rules
from episodekit.formats.plan_document import PlanDocument
from episodekit.job.schema import front_matter_schema
from tests.conftest import LAMP, ROOT, JobFolder, Run
from tests.media import kit

GOLDEN = Path(__file__).parent / "golden"
SAMPLES = sorted(p.parent for p in (ROOT / "sample_jobs").glob("*/job.md"))


@pytest.mark.parametrize("command", ["new", "check", "plan", "bench", "sync", "draft", "proof", "explain"])
def test_help_teaches_by_an_example(command: str, run: Callable[..., Run]) -> None:
    done = run(command, "--help")
    assert done.status == 0
    assert re.search(rf"Example: episodekit {command} ", done.out)


def test_without_a_command_it_helps(run: Callable[..., Run]) -> None:
    done = run()
    assert "episodekit new my-job" in done.text


def test_no_command_is_told_in_half_a_sentence(run: Callable[..., Run]) -> None:
    told = run("--help").out.partition("Commands:\n")[2].strip().splitlines()
    assert len(told) > 8
    assert [line for line in told if line.endswith("...") or not line.endswith(".")] == []


def test_version(run: Callable[..., Run]) -> None:
    assert run("--version").out == f"episodekit {__version__}\n"


@pytest.mark.parametrize(
    "words",
    [["plan"], ["plan", "nowhere"], ["plan", str(Path(__file__))], ["fly"], ["check", ".", "--format", "xml"],
     ["draft", ".", "--workers", "0"], ["draft", ".", "--ffmpeg", "nowhere"], ["explain", "NO-SUCH"], ["new"]],
)  # fmt: skip
def test_usage_errors_exit_with_2_and_one_message(words: list[str], run: Callable[..., Run]) -> None:
    done = run(*words)
    assert done.status == 2
    assert done.err.strip()


@pytest.mark.parametrize("code", sorted(rules()))
def test_every_code_is_explained(code: str, run: Callable[..., Run]) -> None:
    done = run("explain", code.lower())
    assert done.status == 0
    rule = rules()[code]
    assert code in done.out
    assert f"Source: {rule.source}" in done.out
    assert " ".join(rule.why.split()) in " ".join(done.out.split())


def test_explain_without_a_code_lists_them_all(run: Callable[..., Run]) -> None:
    out = run("explain").out
    assert [line.split()[0] for line in out.splitlines()] == sorted(rules())


def test_explain_knows_the_nearest_code(run: Callable[..., Run]) -> None:
    assert "JOB-HAZARD" in run("explain", "JOB-HAZRD").err


def test_new_job_is_clean_but_for_its_length_and_can_be_planned(
    tmp_path: Path, run: Callable[..., Run]
) -> None:
    folder = tmp_path / "my_radio: 2"
    assert run("new", folder).status == 0
    assert sorted(p.name for p in folder.iterdir()) == ["footage", "job.md", "job.schema.json"]
    done = run("check", folder)
    assert done.status == 0
    assert "error" not in done.out
    assert "title: My radio 2" in (folder / "job.md").read_text()
    assert run("plan", folder).status == 0


def test_ctrl_c_while_the_program_is_loading_says_nothing() -> None:
    """Python tells on standard error which modules it loads (-X importtime): the moment is sure to be that."""
    words = [sys.executable, "-X", "importtime", "-m", "episodekit", "--version"]
    with subprocess.Popen(words, cwd=ROOT, stderr=subprocess.PIPE, text=True) as going:
        assert going.stderr is not None
        said = []
        for line in going.stderr:
            said.append(line)
            if line.endswith(" episodekit.base.time\n"):
                going.send_signal(signal.SIGINT)
    assert [line for line in said if not line.startswith("import time:")] == []
    assert going.returncode == -signal.SIGINT


@pytest.mark.parametrize(
    ("name", "title"),
    [
        ("Grinder & kettle's day", "Grinder & kettle's day"),
        ("MP3-player_(2)", "MP3 player (2)"),
        ("'&: #", "My repair"),
    ],
)
def test_new_jobs_title_is_its_folders_name_as_yaml_reads_it(
    name: str, title: str, tmp_path: Path, run: Callable[..., Run]
) -> None:
    assert run("new", tmp_path / name).status == 0
    (front,) = (tmp_path / name / "job.md").read_text(encoding="utf-8").split("---\n")[1:2]
    assert yaml.safe_load(front)["title"] == title


def test_new_never_writes_into_a_folder_that_holds_something(job: JobFolder, run: Callable[..., Run]) -> None:
    done = run("new", job.root)
    assert done.status == 2
    assert "not empty" in done.err
    assert (job.root / "job.md").read_text() == LAMP


def written(job: JobFolder) -> dict[str, bytes]:
    """What lies in out/, by its place there."""
    out = job.root / "out"
    return {p.relative_to(out).as_posix(): p.read_bytes() for p in out.rglob("*") if p.is_file()}


def test_plan_writes_all_and_says_where(job: JobFolder, run: Callable[..., Run]) -> None:
    done = run("plan", job.root)
    assert done.status == 0
    names = [
        "chapters.txt",
        "narration.html",
        "pack/chapters.ffmeta",
        "pack/chapters.json",
        "pack/chapters.vtt",
        "pack/chapters.xml",
        "pack/description.txt",
        "plan.json",
        "shot-list.csv",
        "shot-list.html",
    ]
    assert sorted(written(job)) == names
    assert all(name in done.out for name in names)


def test_same_job_same_bytes(job: JobFolder, run: Callable[..., Run]) -> None:
    run("plan", job.root)
    first = written(job)
    run("plan", job.root)
    assert written(job) == first


@pytest.mark.parametrize("name", ["shot-list.csv", "chapters.txt"])
def test_lamp_job_as_it_was_read_and_found_right(name: str, job: JobFolder, run: Callable[..., Run]) -> None:
    # Golden files of the lamp job. Read the difference before you replace one.
    run("plan", job.root)
    made = (job.root / "out" / name).read_bytes().decode("utf-8")
    assert made == (GOLDEN / f"lamp-{name}").read_bytes().decode("utf-8")


def test_plan_json_keeps_every_field_it_ever_had(job: JobFolder, run: Callable[..., Run]) -> None:
    run("plan", job.root)
    data = json.loads((job.root / "out" / "plan.json").read_text())
    promised = json.loads((GOLDEN / "plan.schema.json").read_text())
    now = PlanDocument.model_json_schema()
    # Fields may be added; one that is gone or changes its type needs a new version.
    for name, part in {**promised["$defs"], "": promised}.items():
        here = now["$defs"][name] if name else now
        for field, shape in part["properties"].items():
            assert field in here["properties"], f"{name or 'plan.json'} lost {field}"
            assert here["properties"][field].get("type") == shape.get("type"), f"{name}.{field} changed"
    # Source: JSON Schema 2020-12, by the general library jsonschema.
    jsonschema.Draft202012Validator(now).validate(data)
    assert data["version"] == 2


def test_shot_list_csv_is_read_by_the_standard_reader(job: JobFolder, run: Callable[..., Run]) -> None:
    job.write("job.md", LAMP.replace("Four screws {", "=SUM(A1) {"))
    run("plan", job.root)
    rows = list(
        csv.DictReader(
            io.StringIO((job.root / "out" / "shot-list.csv").read_bytes().decode("utf-8"), newline="")
        )
    )
    assert [row["shot"] for row in rows] == [str(n) for n in range(1, len(rows) + 1)]
    assert sorted(int(row["filming order"]) for row in rows) == list(range(1, len(rows) + 1))
    # Source: OWASP, "CSV Injection": a cell must not start with =, +, - or @.
    assert not any(cell[:1] in "=+-@" for row in rows for cell in row.values() if cell)


def test_read_with_a_marker_is_told_apart_in_every_chapter_file(
    job: JobFolder, run: Callable[..., Run]
) -> None:
    marked = LAMP.replace("sponsor: Tallow Tools", "sponsor: Tallow Tools\n    marker: yes")
    job.write("job.md", marked.replace("frame rate", "limits: {chapter length: 8 s}\nframe rate"))
    assert run("plan", job.root).status == 0
    out = job.root / "out"
    plan = json.loads((out / "plan.json").read_text(encoding="utf-8"))
    (read,) = plan["reads"]
    wanted = [(c["start_ms"], c["title"]) for c in plan["chapters"]]
    place = wanted.index((read["start_ms"], "From the sponsor"))
    assert wanted[place + 1][0] == read["start_ms"] + read["length_ms"]
    data = json.loads((out / "pack" / "chapters.json").read_text(encoding="utf-8"))
    assert [(round(c["startTime"] * 1000), c["title"]) for c in data["chapters"]] == wanted
    names = ElementTree.parse(out / "pack" / "chapters.xml").getroot().iter("ChapterString")
    assert [name.text for name in names] == [title for _, title in wanted]
    for name in ("chapters.txt", "pack/chapters.vtt", "pack/chapters.ffmeta"):
        assert "From the sponsor\n" in (out / name).read_text(encoding="utf-8")


def test_chapters_in_the_file_are_the_plans_to_the_millisecond(
    job: JobFolder, run: Callable[..., Run]
) -> None:
    run("plan", job.root)
    assert run("draft", job.root).status == 0
    plan = json.loads((job.root / "out" / "plan.json").read_text())
    wanted = [(c["start_ms"], c["title"]) for c in plan["chapters"]]
    assert len(wanted) >= 3
    draft = str(job.root / "out" / "draft.mp4")
    with av.open(draft) as container:
        chapters = container.chapters()
        assert [
            (round(c["start"] * c["time_base"] * 1000), c["metadata"]["title"]) for c in chapters
        ] == wanted
    menus = [track for track in MediaInfo.parse(draft).tracks if track.track_type == "Menu"]
    seen = []
    for key, title in menus[0].to_data().items():
        stamp = re.fullmatch(r"(\d\d)_(\d\d)_(\d\d)(\d\d\d)", key)
        if stamp:
            hours, minutes, seconds, ms = (int(part) for part in stamp.groups())
            seen.append((((hours * 60 + minutes) * 60 + seconds) * 1000 + ms, title.lstrip(":")))
    assert seen == wanted


@pytest.mark.parametrize("folder", SAMPLES, ids=lambda p: p.name)
def test_samples_are_without_errors_and_fit_their_target(folder: Path, run: Callable[..., Run]) -> None:
    done = run("check", folder, "--format", "json")
    assert done.status == 0
    found = {f["code"] for f in json.loads(done.out)["findings"]}
    assert "FIT-RUNTIME" not in found
    assert found <= {
        "FIT-UNFILMED",
        "LOG-UNLOGGED",
        "CHAP-MERGED",
        "FIT-LEFT-OUT",
        "FIT-LONGER",
        "CLIP-JOINED",
    }


@pytest.mark.parametrize("folder", [*SAMPLES, None], ids=lambda p: p.name if p else "lamp")
def test_published_schema_accepts_what_the_reader_accepts(folder: Path | None) -> None:
    text = (folder / "job.md").read_text(encoding="utf-8") if folder else LAMP
    front = yaml.safe_load(text.split("---\n", 2)[1])
    # YAML 1.2 has no dates, so editors' checkers see text; this reader follows 1.1.
    front = json.loads(json.dumps(front, default=str))
    # Source: JSON Schema 2020-12, by the general library jsonschema.
    validator = jsonschema.Draft202012Validator(front_matter_schema())
    validator.check_schema(front_matter_schema())
    assert not list(validator.iter_errors(front))


@pytest.mark.parametrize(
    ("key", "value"),
    [
        ("runtme", "1:00-2:00"),
        ("size", "large"),
        ("runtime", "long"),
        ("frame rate", "fast"),
        ("reads", {"a": {}}),
    ],
)
def test_published_schema_refuses_what_the_reader_refuses(key: str, value: object) -> None:
    front = {"title": "A", key: value}
    assert list(jsonschema.Draft202012Validator(front_matter_schema()).iter_errors(front))


def test_out_that_cannot_be_written_is_one_message(job: JobFolder, run: Callable[..., Run]) -> None:
    job.write("out", "I am a file.")
    for command in ("plan", "draft"):
        done = run(command, job.root)
        assert done.status == 3
        assert "written" in done.err


def test_another_ffmpeg_that_is_none_is_one_message(job: JobFolder, run: Callable[..., Run]) -> None:
    fake = job.write("ffmpeg", "#!/bin/sh\nexit 7\n")
    fake.chmod(0o755)
    done = run("draft", job.root, "--ffmpeg", fake)
    assert done.status == 3
    assert not (job.root / "out" / "draft.mp4").exists()


@pytest.mark.skipif(sys.platform == "win32", reason="sends a Unix signal")
def test_ctrl_c_leaves_nothing_half_written_and_the_next_run_goes_on(job: JobFolder) -> None:
    text = LAMP.replace("320x180", "1280x720").replace("0:45-1:30", "0:45-9:30")
    job.write(
        "job.md",
        text + "\n".join(f"\n## More {n}\n> {'Many more words, and then some. ' * 12}\n" for n in range(5)),
    )
    command = [sys.executable, "-m", "episodekit", "draft", str(job.root), "--workers", "1"]
    environment = {**os.environ, "PYTHONPATH": str(ROOT)}
    going = subprocess.Popen(
        command, stdout=subprocess.PIPE, stderr=subprocess.PIPE, text=True, env=environment, cwd=job.root
    )
    cache = job.root / "out" / "cache"
    deadline = time.monotonic() + 60
    while time.monotonic() < deadline and len(list(cache.glob("*.h264"))) < 2:
        time.sleep(0.05)
    going.send_signal(signal.SIGINT)
    out, err = going.communicate(timeout=60)
    assert going.returncode == 130, (out, err)
    assert "Traceback" not in err
    assert "Nothing half-written" in err
    assert not kit.ffmpeg_children()
    assert [p.name for p in (job.root / "out").iterdir()] == ["cache"]
    assert not [p for p in cache.iterdir() if p.is_dir() or p.name.startswith(".") or p.suffix == ".part"]
    kept = {path: path.stat().st_mtime_ns for path in cache.glob("*.h264")}
    assert kept
    done = subprocess.run(command, capture_output=True, text=True, env=environment, check=False, cwd=job.root)
    assert done.returncode == 0, done.stderr
    assert {path: path.stat().st_mtime_ns for path in kept} == kept, "a finished piece was rendered again"


def commands_of_readme() -> list[str]:
    """The lines that README shows as commands, outside its two set-up blocks."""
    text = re.sub(
        r"<!-- command.*?```\n.*?```", "", (ROOT / "README.md").read_text(encoding="utf-8"), flags=re.S
    )
    blocks = re.findall(r"^```\w*\n(.*?)^```$", text, flags=re.S | re.M)
    return [line for block in blocks for line in block.splitlines() if line.startswith("episodekit ")]


# `bench` runs until Ctrl-C, so tests/bench/test_server.py tries it in a process of its own; whole drafts of the
# samples take a minute, and .ci/run cuts one.
QUICK = [line for line in commands_of_readme() if not re.search(" (bench|draft) ", line)]


@pytest.mark.parametrize("line", QUICK)
def test_commands_in_the_readme_run(
    line: str, tmp_path: Path, monkeypatch: pytest.MonkeyPatch, run: Callable[..., Run]
) -> None:
    copy = tmp_path / "checkout"
    shutil.copytree(ROOT / "sample_jobs", copy / "sample_jobs", ignore=shutil.ignore_patterns("out"))
    monkeypatch.chdir(copy)
    done = run(*line.split()[1:])
    assert done.status == 0, done.text


def test_readme_set_up_is_one_line_each_and_ci_runs_both() -> None:
    text = (ROOT / "README.md").read_text(encoding="utf-8")
    found = re.findall(r"<!-- command: (.*?) -->\n```\n(.*?)\n```", text)
    assert [name for name, _ in found] == ["main job", "tests"]
    assert all(" && " in line and "\n" not in line for _, line in found)
    assert "episodekit draft sample_jobs/" in found[0][1]
    assert found[1][1].endswith("&& .venv/bin/pytest -n 2 --dist loadfile")  # all of them
    ci = (ROOT / ".ci" / "run").read_text(encoding="utf-8")
    assert "command: main job" in ci
    assert "command: tests" in ci


def test_wheel_carries_the_templates_and_works_from_any_folder(tmp_path: Path) -> None:
    from hatchling.builders.wheel import WheelBuilder

    (wheel,) = WheelBuilder(str(ROOT)).build(directory=str(tmp_path / "dist"), versions=["standard"])
    site = tmp_path / "site"
    shutil.unpack_archive(wheel, site, "zip")
    assert (site / "episodekit" / "templates" / "fonts" / "OFL.txt").is_file()
    elsewhere = tmp_path / "elsewhere"
    elsewhere.mkdir()
    environment = {**os.environ, "PYTHONPATH": str(site)}
    for words in (["new", "radio"], ["plan", "radio"], ["draft", "radio"]):
        command = [sys.executable, "-P", "-m", "episodekit", *words]
        done = subprocess.run(
            command, cwd=elsewhere, env=environment, capture_output=True, text=True, check=False
        )
        assert done.returncode == 0, done.stderr
    where = "import episodekit; print(episodekit.__file__)"
    told = subprocess.run(
        [sys.executable, "-P", "-c", where],
        cwd=elsewhere,
        env=environment,
        capture_output=True,
        text=True,
        check=True,
    )
    assert str(site) in told.stdout
    assert (elsewhere / "radio" / "out" / "draft.mp4").stat().st_size > 10_000
