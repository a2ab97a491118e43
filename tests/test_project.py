"""The project keeps its own rules: rooms, codes, types, lint, top level, nothing of a machine in it."""

from __future__ import annotations

import ast
import doctest
import importlib
import pkgutil
import re
import subprocess
import sys
from pathlib import Path

import pytest

import episodekit
from episodekit.catalog import ROOMS, rules

ROOT = Path(__file__).resolve().parent.parent
PACKAGE = ROOT / "episodekit"

# Imports point down this list, never up. Rooms on one line do not import one another.
ORDER = (
    ("__main__",),
    ("cli",),
    ("commands",),
    ("outside",),
    ("pipeline", "catalog"),
    ("formats",),
    ("pack",),
    ("timeline",),
    ("fit",),
    ("sync",),
    ("footage",),
    ("bench",),
    ("chapters", "slots", "shots"),
    ("timing",),
    ("job",),
    ("base",),
)
LEVEL = {room: level for level, rooms in enumerate(ORDER) for room in rooms}


def modules(folder: str = ".") -> list[Path]:
    return sorted((PACKAGE / folder).rglob("*.py"))


def room_of(path: Path) -> str:
    return path.relative_to(PACKAGE).parts[0].removesuffix(".py")


def imported(path: Path) -> set[str]:
    names: set[str] = set()
    for node in ast.walk(ast.parse(path.read_text(encoding="utf-8"))):
        if isinstance(node, ast.Import):
            names |= {alias.name for alias in node.names}
        elif isinstance(node, ast.ImportFrom):
            assert node.level == 0, f"{path}: relative import"
            names.add(node.module or "")
            names |= {f"{node.module}.{alias.name}" for alias in node.names}
    return names


@pytest.mark.parametrize("path", modules(), ids=lambda p: str(p.relative_to(PACKAGE)))
def test_imports_point_down(path: Path) -> None:
    room = room_of(path)
    if room == "__init__":
        assert not any(name.startswith("episodekit") for name in imported(path))
        return
    for name in imported(path):
        parts = name.split(".")
        if parts[0] != "episodekit" or len(parts) == 1 or parts[1] not in LEVEL:
            continue
        other = parts[1]
        assert other == room or LEVEL[other] > LEVEL[room], f"{path} imports {name}, which lies above {room}"


# The rooms of outside/media, from the top down; engine.py and ffmpeg_door.py stand above and below them all.
MEDIA = (
    "engine",
    "checks",
    "rendering",
    "recipes",
    "proving",
    "flashes",
    "drawing",
    "probing",
    "ffmpeg_door",
)


@pytest.mark.parametrize("path", modules("outside/media"), ids=lambda p: str(p.relative_to(PACKAGE)))
def test_imports_of_the_media_door_point_down(path: Path) -> None:
    room = path.relative_to(PACKAGE / "outside/media").parts[0].removesuffix(".py")
    for name in imported(path):
        other = name.removeprefix("episodekit.outside.media.").split(".")[0]
        if name.startswith("episodekit.outside.media.") and other != room:
            assert MEDIA.index(other) > MEDIA.index(room), f"{path} imports {name}, which lies above {room}"


# One door a foreign library: who else wants it asks the door.
DOORS: dict[str, str | tuple[str, ...]] = {
    "av": ("outside/media", "outside/clocks"),
    "ffmpeg": "outside/media/ffmpeg_door.py",
    "imageio_ffmpeg": "outside/media/ffmpeg_door.py",
    "PIL": "outside/media",
    "numpy": "outside",
    "fontTools": "outside/media",
    "jinja2": "outside/pages.py",
    "markdown_it": "job/markdown.py",
    "yaml": "job/front_matter.py",
    "num2words": "timing/number_words.py",
    "rich": "outside/terminal.py",
    "icalendar": "formats/calendar.py",
    "distributed": "outside/media/rendering/cluster.py",
    "dask": "outside/media/rendering/cluster.py",
    "opentimelineio": "formats/otio_timeline.py",
    "starlette": "outside/bench_server",
    "uvicorn": "outside/bench_server",
    "segno": "outside/bench_server",
    "zxingcpp": "outside/clocks/sightings.py",
}


@pytest.mark.parametrize("path", modules(), ids=lambda p: str(p.relative_to(PACKAGE)))
def test_foreign_libraries_come_in_by_their_door(path: Path) -> None:
    here = path.relative_to(PACKAGE).as_posix()
    for name in imported(path):
        door = DOORS.get(name.split(".")[0])
        assert door is None or here.startswith(door), f"{here} imports {name}; its door is {door}"


WORLD = {
    "os",
    "pathlib",
    "subprocess",
    "shutil",
    "tempfile",
    "socket",
    "random",
    "threading",
    "io.open",
    "glob",
}


@pytest.mark.parametrize("path", modules(), ids=lambda p: str(p.relative_to(PACKAGE)))
def test_rooms_do_not_touch_the_world(path: Path) -> None:
    if room_of(path) in {"cli", "__main__", "commands", "outside"}:
        return
    assert not imported(path) & WORLD
    text = path.read_text(encoding="utf-8")
    assert not re.search(r"(?<![.\w])open\(|\.now\(|\.today\(|time\.time\(|os\.environ", text), (
        f"{path} touches the world"
    )


def test_every_room_says_what_it_is_for() -> None:
    for folder in sorted(p for p in PACKAGE.iterdir() if (p / "__init__.py").is_file()):
        text = ast.get_docstring(ast.parse((folder / "__init__.py").read_text(encoding="utf-8"))) or ""
        assert len(text) > 40, f"{folder.name} has no docstring"


def test_public_functions_and_classes_have_docstrings() -> None:
    for path in modules():
        for node in ast.parse(path.read_text(encoding="utf-8")).body:
            if isinstance(node, ast.FunctionDef | ast.ClassDef) and not node.name.startswith("_"):
                assert ast.get_docstring(node), f"{path.relative_to(ROOT)}: {node.name} has no docstring"


PREFIX = {
    "job": "JOB-",
    "timing": "TIME-",
    "slots": "SLOT-",
    "chapters": "CHAP-",
    "bench": "LOG-",
    "fit": "FIT-",
    "footage": "CLIP-",
    "timeline": "DRAFT-",
    "pack": "PACK-",
    "sync": "SYNC-",
}


def test_codes_are_prefixed_by_their_room_and_explained() -> None:
    for room in ROOMS:
        prefix = PREFIX[room.__name__.split(".")[-2]]
        for value in vars(room).values():
            if hasattr(value, "code"):
                assert re.fullmatch(rf"{prefix}[A-Z][A-Z-]+", value.code)
    for rule in rules().values():
        assert len(rule.title) > 15, rule.code
        assert len(rule.why) > 40, rule.code
        assert rule.source, rule.code


def test_every_room_with_rules_is_in_the_catalogue() -> None:
    listed = {Path(str(room.__file__)) for room in ROOMS}
    assert listed == set(PACKAGE.rglob("rules.py"))


@pytest.mark.parametrize("code", sorted(rules()))
def test_every_code_is_made_by_the_program_and_shown_by_a_test(code: str) -> None:
    name = next(n for room in ROOMS for n, v in vars(room).items() if getattr(v, "code", None) == code)
    used = [
        path
        for path in modules()
        if path.name != "rules.py" and re.search(rf"\b{name}\b", path.read_text(encoding="utf-8"))
    ]
    assert used, f"no code makes {code}"
    tests = [p for p in (ROOT / "tests").rglob("test_*.py") if f'"{code}"' in p.read_text(encoding="utf-8")]
    assert tests, f"no test shows {code}"


def test_examples_in_docstrings_run() -> None:
    tried = 0
    for info in pkgutil.walk_packages(episodekit.__path__, "episodekit."):
        if info.name.endswith("__main__"):
            continue
        result = doctest.testmod(importlib.import_module(info.name))
        assert result.failed == 0, info.name
        tried += result.attempted
    assert tried > 20


def test_types_hold() -> None:
    done = subprocess.run(
        [sys.executable, "-m", "mypy"], cwd=ROOT, capture_output=True, text=True, check=False
    )
    assert done.returncode == 0, done.stdout + done.stderr


@pytest.mark.parametrize("words", [("check",), ("format", "--check")], ids=lambda w: w[0])
def test_lint_is_clean(words: tuple[str, ...]) -> None:
    command = [sys.executable, "-m", "ruff", *words, "."]
    done = subprocess.run(command, cwd=ROOT, capture_output=True, text=True, check=False)
    assert done.returncode == 0, done.stdout + done.stderr


def tracked() -> list[Path]:
    """The files of the project; in a checkout the ones git knows."""
    done = subprocess.run(["git", "ls-files", "-z"], cwd=ROOT, capture_output=True, text=True, check=True)
    return [ROOT / name for name in done.stdout.split("\0") if name and (ROOT / name).is_file()]


def test_top_level_holds_only_what_belongs_there() -> None:
    allowed = {
        "README.md",
        "DEVELOPERS.md",
        "LICENSE",
        "pyproject.toml",
        "episodekit",
        "templates",
        "tests",
        "sample_jobs",
    }
    top = {path.relative_to(ROOT).parts[0] for path in tracked()}
    assert {name for name in top if not name.startswith(".")} <= allowed


def test_no_file_names_a_machine_or_a_package_registry() -> None:
    # Spelled in pieces, so that this file does not hold what it looks for.
    words = [
        "py" + "pi.org",
        "pythonhosted" + ".org",
        "npmjs" + ".org",
        "deb.debian" + ".org",
        "/ro" + "ot/",
        "/ho" + "me/",
    ]
    for path in tracked():
        if path.suffix in {".mp4", ".png", ".otf", ".jpg"}:
            continue
        text = path.read_text(encoding="utf-8", errors="replace")
        assert not [word for word in words if word in text], path
