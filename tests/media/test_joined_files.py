"""Recordings that the camera split into several files play as the one they are.

What is compared with: the same recording in one file. The files are split between two packets, by PyAV, as
cameras do it: no frame and no packet of sound is in both or in neither.
"""

from __future__ import annotations

import json
from collections.abc import Callable, Sequence
from dataclasses import replace
from datetime import UTC, datetime, timedelta
from fractions import Fraction
from itertools import pairwise
from pathlib import Path

import av
import numpy as np
import pytest
from timecode import Timecode

from episodekit.base.time import Rate
from episodekit.footage.joins import joined
from episodekit.footage.model import Clip, PlacedClip
from tests.conftest import JobFolder, Run
from tests.media import kit

BEGAN = datetime(2026, 11, 7, 15, 0, 0, 400_000, tzinfo=UTC)
FRAMES = 510


def tune(seconds: int) -> np.ndarray:
    """A tone that never repeats itself, with noise, so that a lost sample cannot hide."""
    at = np.arange(seconds * kit.SAMPLE_RATE) / kit.SAMPLE_RATE
    noise = np.random.default_rng(7).normal(0, 0.02, len(at))
    return (0.3 * np.sin(2 * np.pi * (200 * at + 15 * at**2)) + noise).astype(np.float32)


def split(
    source: Path, targets: Sequence[Path], at: Sequence[Fraction], tags: Sequence[dict[str, str]]
) -> None:
    """Copy the packets of a recording into files that begin at these seconds.

    Packets of AAC lie across the joints, and as in many cameras' files each file's sound is stamped from 0 on.
    """
    has_b_frames = source.suffix == ".mov"
    options = {} if has_b_frames else {"use_editlist": "0"}
    edges = [Fraction(0), *at, Fraction(10**6)]
    with av.open(str(source)) as whole:
        packets = [packet for packet in whole.demux() if packet.dts is not None]
        for number, (path, told) in enumerate(zip(targets, tags, strict=True)):
            first, last = edges[number], edges[number + 1]
            with av.open(str(path), "w", options=options) as part:
                label = told.pop("timecode", None)
                part.metadata.update(told)
                streams = {
                    s.index: part.add_stream_from_template(s)
                    for s in whole.streams
                    if s.type in "video audio"
                }
                if label:
                    streams[0].metadata["timecode"] = label
                inside, began = False, None
                for packet in packets:
                    if packet.stream.type == "video":
                        # a group of pictures is stored whole: its key frame says which file it belongs to
                        if packet.is_keyframe:
                            inside = first <= packet.pts * packet.time_base < last
                        mine = inside
                    else:
                        mine = first <= packet.pts * packet.time_base < last
                    if not mine:
                        continue
                    copy = av.Packet(bytes(packet))
                    since = round(first / packet.time_base)
                    if packet.stream.type == "audio" and not has_b_frames:
                        began = packet.pts if began is None else began
                        since = began
                    copy.pts, copy.dts, copy.duration = (
                        packet.pts - since,
                        packet.dts - since,
                        packet.duration,
                    )
                    copy.time_base, copy.is_keyframe = packet.time_base, packet.is_keyframe
                    copy.stream = streams[packet.stream.index]
                    part.mux(copy)


def stamp(when: datetime) -> str:
    return when.isoformat().replace("+00:00", "Z")


def told_by(how: str, at: Sequence[Fraction], rate: Fraction) -> list[dict[str, str]]:
    """What the camera writes into each file: whole seconds, or timecode, or the recording's beginning."""
    found = []
    for start in (Fraction(0), *at):
        when = BEGAN if how == "name" else BEGAN + timedelta(microseconds=int(start * 10**6))
        tags = {"creation_time": stamp(when.replace(microsecond=0))}
        if how == "timecode":
            first = Timecode("29.97", "00:59:58;10", force_non_drop_frame=False)
            label = first + int(start * rate) if start else first
            tags = {"creation_time": stamp(BEGAN.replace(microsecond=0)), "timecode": str(label)}
        found.append(tags)
    return found


def job_md(rate: str) -> str:
    return (
        f"---\ntitle: Two files\nframe rate: {rate}\nsize: 320x180\nlimits: {{lower third: 0 s, chapters: 1}}\n"
        "cameras:\n  top: {view: overhead}\n---\n# All\n## Look at it {#look}\n- camera: top\n> A line.\n"
    )


CASES = {
    "by creation time": ("creation time", Fraction(25), "25", ".mp4", "aac"),
    "by timecode": ("timecode", Fraction(30000, 1001), "29.97", ".mov", "pcm_s16le"),
    "by name": ("name", Fraction(25), "25", ".mp4", "aac"),
    "uncompressed sound": ("creation time", Fraction(25), "25", ".mov", "pcm_s16le"),
    "into another rate": ("creation time", Fraction(25), "30", ".mp4", "aac"),
    "into a lower rate": ("creation time", Fraction(50), "30", ".mp4", "aac"),
}


@pytest.mark.parametrize("case", CASES)
def test_a_step_over_two_joints_shows_each_frame_and_plays_each_sample(
    case: str, job: JobFolder, run: Callable[..., Run], tmp_path: Path
) -> None:
    how, rate, draft_rate, suffix, codec = CASES[case]
    whole = tmp_path / f"whole{suffix}"
    tags = {"creation_time": stamp(BEGAN.replace(microsecond=0))}
    more = {"sound": tune(int(FRAMES / rate)), "tags": tags, "sound_codec": codec}
    kit.coded_clip(whole, rate, FRAMES, key_every=15, b_frames=2 if suffix == ".mov" else 0, **more)
    at = [Fraction(165) / rate, Fraction(345) / rate]
    folder = job.write("footage/top-0001.mp4", b"").parent
    (folder / "top-0001.mp4").unlink()
    parts = [folder / f"top-000{number}{suffix}" for number in (1, 2, 3)]
    split(whole, parts, at, told_by(how, at, rate))
    job.write("job.md", job_md(draft_rate))
    begin, end = Fraction(93) / rate, Fraction(453) / rate
    log = [(0, "start"), (begin, "keep"), (end, "done")]
    start = BEGAN.replace(microsecond=0)
    job.write(
        "bench.jsonl",
        "".join(
            json.dumps(
                {
                    "time": stamp(start + timedelta(microseconds=round(s * 10**6))),
                    "kind": kind,
                    "step": "look",
                }
            )
            + "\n"
            for s, kind in log
        ),
    )
    checked = run("check", job.root)
    assert checked.out.count("CLIP-JOINED") == 2
    assert checked.out.count(f"by its {how}") == 2
    assert "CLIP-TWO-CLIPS" not in checked.out
    assert run("draft", job.root).status == 0
    assert run("plan", job.root).status == 0
    plan = json.loads((job.root / "out" / "plan.json").read_text())
    kept = [s for s in plan["segments"] if s["speed"] == "1"]
    assert [s["clip"] for s in kept] == [f"footage/{path.name}" for path in parts]
    first, count = kept[0]["start_frame"], sum(s["frames"] for s in kept)
    seen = kit.numbers_in(job.root / "out" / "draft.mp4")[first : first + count]
    sound = kit.mono_sound(job.root / "out" / "draft.mp4")

    for path in parts:
        path.unlink()
    job.write(f"footage/top-0001{suffix}", whole.read_bytes())
    assert run("draft", job.root).status == 0
    wanted = kit.numbers_in(job.root / "out" / "draft.mp4")[first : first + count]
    if rate == Rate.parse(draft_rate).exact:
        assert seen == wanted == list(range(93, 453))
    else:
        # a file begins with its first frame, so the phase of what is repeated or dropped may move by a quarter
        pairs = [
            (one, two) for one, two in zip(seen, wanted, strict=True) if one is not None and two is not None
        ]
        assert len(pairs) == count
        assert all(abs(one - two) <= 1 for one, two in pairs)
        steps = {b - a for (a, _), (b, _) in pairwise(pairs)}
        assert steps <= ({0, 1} if rate < 30 else {1, 2})
    undivided = kit.mono_sound(job.root / "out" / "draft.mp4")
    assert len(sound) == len(undivided)
    # but for the fade at the very end, which a last file of uneven length begins a sample sooner or later
    fade = kit.SAMPLE_RATE // 10
    assert np.array_equal(sound[:-fade], undivided[:-fade])
    assert np.abs(sound - undivided).max() < 0.05


def clip(path: str, start: float, **more: object) -> Clip:
    rate = Rate.parse("25")
    created = BEGAN.replace(microsecond=0) + timedelta(seconds=start)
    made = Clip(path, Fraction(100), rate, 320, 180, "h264", path, created=created, has_audio=True)
    return replace(made, **more)  # type: ignore[arg-type]


def starts(*clips: Clip) -> list[float]:
    """Where each is laid, in seconds after the first."""
    placed = [
        PlacedClip(one, "top", Fraction(str(one.created.timestamp())) if one.created else None)
        for one in clips
    ]
    laid, _ = joined(placed)
    return [float((p.start or 0) - (laid[0].start or 0)) for p in laid]


APART: dict[str, tuple[Clip, Clip, float]] = {
    "a second late": (clip("t-1.mp4", 0), clip("t-2.mp4", 101), 100),
    "a second early": (clip("t-1.mp4", 0), clip("t-2.mp4", 99), 100),
    "more than a second late": (clip("t-1.mp4", 0), clip("t-2.mp4", 102), 102),
    "finer stamps that leave a gap": (clip("t-1.mp4", 0), clip("t-2.mp4", 100.5), 100.5),
    "another size": (clip("t-1.mp4", 0), clip("t-2.mp4", 99, width=640), 99),
    "another rate": (clip("t-1.mp4", 0), clip("t-2.mp4", 99, rate=Rate.parse("50")), 99),
    "another name": (clip("t-1.mp4", 0), clip("u-2.mp4", 99), 99),
    "earlier by name": (clip("t-2.mp4", 0), clip("t-1.mp4", 99), 99),
    "the beginning of the recording in both": (clip("G01-7.mp4", 0), clip("G02-7.mp4", 0), 100),
    "a copy": (clip("t-1.mp4", 0), clip("t-2.mp4", 0, identity="t-1.mp4"), 0),
    "timecode that meets": (
        clip("t-1.mp4", 0, start_timecode="23:59:00:00"),
        clip("x-9.mp4", 97, start_timecode="00:00:40:00"),
        100,
    ),
    "timecode that leaves a frame out": (
        clip("t-1.mp4", 0, start_timecode="01:00:00:00"),
        clip("t-2.mp4", 100, start_timecode="01:01:40:01"),
        100,
    ),
}


@pytest.mark.parametrize("case", APART)
def test_files_are_laid_end_to_end_only_where_the_camera_split_them(case: str) -> None:
    first, second, expected = APART[case]
    assert starts(first, second)[1] == expected


def test_frame_left_out_by_the_timecode_is_no_joint() -> None:
    first, second, _ = APART["timecode that leaves a frame out"]
    assert (
        joined([PlacedClip(one, "top", Fraction(n * 100)) for n, one in enumerate((first, second))])[1] == ()
    )
