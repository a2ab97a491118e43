"""A draft cut by a Dask cluster: the same bytes as on one machine, and what is told when something is missing.

The cluster is real: a scheduler and workers in processes of their own, started by Dask's own programs.
"""

from __future__ import annotations

import os
import shutil
import signal
import sys
import threading
import time
from collections.abc import Callable, Iterator
from contextlib import suppress
from fractions import Fraction
from pathlib import Path

import pytest

from episodekit.base.time import Rate
from episodekit.outside.errors import Cancelled, MediaError
from episodekit.outside.media.engine import Rendered, render
from episodekit.outside.media.rendering import cluster as door
from episodekit.timeline.model import Timeline
from tests.conftest import JobFolder, Run
from tests.media import kit
from tests.media.dask_cluster import DaskCluster, dask_cluster
from tests.media.test_cancel import leftovers, long_plan, running_on

RATE = Rate.parse("25")


@pytest.fixture(scope="module")
def cluster(tmp_path_factory: pytest.TempPathFactory) -> Iterator[DaskCluster]:
    """Two workers of one thread."""
    pytest.importorskip("distributed", reason="Dask is not installed")
    with dask_cluster(tmp_path_factory.mktemp("dask"), 2) as made:
        yield made


def short_plan(clips: int = 6) -> Timeline:
    segments = [kit.shot("footage/r25.mp4", Fraction(index), 20, RATE) for index in range(clips)]
    return kit.timeline(RATE, [*segments, kit.slate(25)])


def cut(root: Path, out: Path, plan: Timeline, **more: object) -> Rendered:
    return render(plan, kit.clips_in(root), root, out / "draft.mp4", out / "cache", **more)  # type: ignore[arg-type]


def test_a_cluster_cuts_the_same_bytes_and_tells_its_progress(
    coded_job: Path, tmp_path: Path, cluster: DaskCluster
) -> None:
    seen: list[tuple[int, int]] = []
    far = cut(
        coded_job,
        tmp_path / "far",
        long_plan(),
        cluster=cluster.address,
        progress=lambda done, total: seen.append((done, total)),
    )
    near = cut(coded_job, tmp_path / "near", long_plan(), workers=2)
    assert far == near
    assert (tmp_path / "far" / "draft.mp4").read_bytes() == (tmp_path / "near" / "draft.mp4").read_bytes()
    assert leftovers(tmp_path / "far") == ["draft.mp4"]
    done = [frames for frames, _ in seen]
    assert done == sorted(done)
    assert seen[-1] == (1500, 1500)
    # pieces are of 250 frames: anything else was told by a worker in the middle of one
    assert any(frames % 250 for frames in done)


def test_what_one_machine_cut_a_cluster_does_not_cut_again(
    coded_job: Path, tmp_path: Path, cluster: DaskCluster
) -> None:
    cut(coded_job, tmp_path, short_plan(3), workers=2)
    made = cut(coded_job, tmp_path, short_plan(6), cluster=cluster.address)
    assert (made.segments_rendered, made.segments_reused) == (3, 4)


def test_cancelling_ends_what_the_workers_run(coded_job: Path, tmp_path: Path, cluster: DaskCluster) -> None:
    stop = threading.Event()

    def progress(done: int, total: int) -> None:
        if done > 20:
            stop.set()

    with pytest.raises(Cancelled):
        cut(coded_job, tmp_path, long_plan(), cluster=cluster.address, progress=progress, cancelled=stop)
    assert running_on(tmp_path) == []
    assert leftovers(tmp_path) == []
    made = cut(coded_job, tmp_path, short_plan(), cluster=cluster.address)  # the cluster works on
    assert made.segments_rendered == 7


def runs_told(folder: Path) -> int:
    return len(list((folder / "runs").iterdir()))


def counting_ffmpeg(folder: Path) -> Path:
    """An ffmpeg that leaves a file for each piece that it is asked to cut."""
    import imageio_ffmpeg

    (folder / "runs").mkdir()
    program = folder / "counting-ffmpeg"
    program.write_text(
        f'#!/bin/sh\ncase "$*" in *h264*) mktemp "{folder}/runs/XXXXXXXX" >/dev/null;; esac\n'
        f'exec "{imageio_ffmpeg.get_ffmpeg_exe()}" "$@"\n'
    )
    program.chmod(0o755)
    return program


@pytest.mark.skipif(sys.platform != "linux", reason="the stand-in is a shell script")
def test_a_worker_killed_in_the_middle_costs_only_what_it_had_begun(coded_job: Path, tmp_path: Path) -> None:
    pytest.importorskip("distributed", reason="Dask is not installed")
    program = counting_ffmpeg(tmp_path)
    (tmp_path / "dask").mkdir()
    with dask_cluster(tmp_path / "dask", 2) as two:
        killed = []

        def progress(done: int, total: int) -> None:
            if done > 300 and not killed:
                killed.append(done)
                os.kill(two.workers[0].pid, signal.SIGKILL)

        made = cut(
            coded_job,
            tmp_path / "far",
            long_plan(),
            cluster=two.address,
            ffmpeg=str(program),
            progress=progress,
        )
    assert killed
    assert killed[0] < 1500
    cut(coded_job, tmp_path / "near", long_plan(), workers=2)
    assert (tmp_path / "far" / "draft.mp4").read_bytes() == (tmp_path / "near" / "draft.mp4").read_bytes()
    assert made.segments_rendered == 6
    # six pieces, the joining, and the one piece that was under way on a worker of one thread
    assert runs_told(tmp_path) <= 8


def test_ffmpeg_ended_from_outside_on_a_worker_is_tried_again(
    coded_job: Path, tmp_path: Path, cluster: DaskCluster
) -> None:
    ended: list[int] = []

    def progress(done: int, total: int) -> None:
        if done > 20 and not ended:
            # only what a worker runs: meanwhile this machine encodes the sound
            for running in (child for worker in cluster.workers for child in kit.ffmpeg_children(worker.pid)):
                with suppress(ProcessLookupError):  # it came to its end between the two
                    os.kill(running, signal.SIGKILL)
                    ended.append(running)
                    return

    if sys.platform != "linux":
        pytest.skip("the process table is that of Linux")
    made = cut(coded_job, tmp_path, long_plan(), cluster=cluster.address, progress=progress)
    assert ended
    assert made.findings == ()
    assert made.segments_rendered == 6


def test_a_worker_says_what_it_does_not_see(coded_job: Path, tmp_path: Path) -> None:
    """What runs on each worker before anything is cut, asked here about files that are not what was sent for."""
    clips = kit.clips_in(coded_job)
    site = door.Site("run", "", "", str(tmp_path), str(tmp_path / "run.token"), ())
    said = door.lacking(site, door.__version__)
    assert "does not see" in said
    assert "same path on every worker" in said
    (tmp_path / "run.token").write_text("another run")
    assert "sees another" in door.lacking(site, door.__version__)
    (tmp_path / "run.token").write_text("run")
    some = next(iter(clips))
    odd = door.Site("run", "", "", site.work, site.token, ((str(coded_job / some), 7),))
    assert f"sees another file at {coded_job / some}" in door.lacking(odd, door.__version__)
    gone = door.Site("run", "", "", site.work, site.token, ((str(tmp_path / "gone.mp4"), 7),))
    assert f"does not see {tmp_path / 'gone.mp4'}" in door.lacking(gone, door.__version__)
    assert "has another ffmpeg" in door.lacking(site, door.__version__)
    assert "not 9.9" in door.lacking(site, "9.9")


def test_cluster_without_workers_or_with_one_that_lacks_the_program_is_told(
    coded_job: Path, tmp_path: Path
) -> None:
    pytest.importorskip("distributed", reason="Dask is not installed")
    old, none = tmp_path / "old", tmp_path / "none"
    shutil.copytree(Path(kit.__file__).parents[2] / "episodekit", old / "episodekit")
    init = old / "episodekit" / "__init__.py"
    init.write_text(init.read_text().replace('__version__ = "', '__version__ = "0.0.'))
    (none / "episodekit").mkdir(parents=True)
    (none / "episodekit" / "__init__.py").write_text("raise ModuleNotFoundError(__name__)\n")
    (tmp_path / "dask").mkdir()
    with dask_cluster(tmp_path / "dask", 0) as empty:
        with pytest.raises(
            MediaError, match=r"has no workers\. Start one on each machine: dask worker tcp://"
        ):
            cut(coded_job, tmp_path / "out", short_plan(), cluster=empty.address)
        worker = empty.add_worker(path=str(old))
        with pytest.raises(MediaError, match=r"^Worker tcp://\S+ has episodekit 0\.0\.\S+, not .* Install"):
            cut(coded_job, tmp_path / "out", short_plan(), cluster=empty.address)
        worker.kill()
        worker.wait()
        empty.add_worker(path=str(none))
        with pytest.raises(MediaError, match=r"^Worker tcp://\S+ does not have episodekit \S+\. Install"):
            cut(coded_job, tmp_path / "out", short_plan(), cluster=empty.address)
    assert not (tmp_path / "out" / "draft.mp4").exists()


@pytest.mark.parametrize(
    "address", ["tcp://127.0.0.1:9", "tcp://nowhere.invalid:8786", "nonsense", "no address", "tcp:/", ""]
)
def test_address_without_a_cluster_is_one_line_and_exit_3(
    address: str, job: JobFolder, run: Callable[..., Run]
) -> None:
    pytest.importorskip("distributed", reason="Dask is not installed")
    began = time.monotonic()
    done = run("draft", job.root, "--cluster", address)
    assert done.status == 3, done.text
    assert "dask scheduler" in done.text
    assert "Traceback" not in done.text
    assert time.monotonic() - began < 30
    assert not (job.root / "out" / "draft.mp4").exists()


def test_without_dask_the_message_says_what_to_install(
    job: JobFolder, run: Callable[..., Run], monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setitem(sys.modules, "distributed", None)  # what Python does for a module that is not there
    done = run("draft", job.root, "--cluster", "tcp://127.0.0.1:8786")
    assert done.status == 3
    assert 'pip install "episodekit[cluster]"' in done.text
    assert run("draft", job.root).status == 0


def test_the_command_cuts_on_a_cluster(job: JobFolder, run: Callable[..., Run], cluster: DaskCluster) -> None:
    kit.coded_clip(job.write("footage/top-1.mp4", b""), Fraction(25), 250)
    job.write("bench.csv", "time,kind,step\ntop-1.mp4 @ 0:01,start,screws\ntop-1.mp4 @ 0:08,done,screws\n")
    assert run("draft", job.root, "--cluster", cluster.address).status == 0
    far = (job.root / "out" / "draft.mp4").read_bytes()
    shutil.rmtree(job.root / "out")
    assert run("draft", job.root).status == 0
    assert (job.root / "out" / "draft.mp4").read_bytes() == far
