"""Several cameras on one step: which angle is seen when, which microphone is heard, and what fills a gap."""

from __future__ import annotations

import json
from collections.abc import Callable
from dataclasses import replace
from datetime import timedelta
from fractions import Fraction
from itertools import pairwise
from pathlib import Path

import numpy as np
import pytest

from episodekit.base.time import ms_to_frames
from episodekit.fit.model import Plays
from episodekit.footage.model import Clip
from episodekit.formats.bench_jsonl import read_bench_jsonl
from episodekit.job.reader import read_plan
from episodekit.pipeline import compile_episode
from episodekit.timeline.episode import Episode
from episodekit.timeline.model import Picture, Segment
from tests.conftest import JobFolder, Run
from tests.media import kit
from tests.test_bench_log import START, clip, line

BEAT = "> I brush the foot of the lamp clean, and I take my time over every corner of it, because dust hides a lot."
PLAN = f"""---
title: A lamp
frame rate: 25
size: 320x180
utc offset: -05:00
cameras:
  top: {{view: overhead}}
  side: {{view: side}}
---
# Work
## Clean {{#clean}}
- camera: top, side
{BEAT}

{BEAT}

{BEAT}
"""
LOG = line(0, "start", "clean") + line(80, "done")


def both(side: int = 600, late: float = 0, **more: object) -> list[Clip]:
    """Top for ten minutes, and side beside it, `late` seconds later."""
    begins = START + timedelta(seconds=late)
    return [
        clip("footage/top-1.mp4", has_audio=True, audio_stream=1),
        clip("footage/side-1.mp4", side, created=begins, has_audio=True, audio_stream=1, **more),
    ]


def compiled(clips: list[Clip], plan: str = PLAN, log: str = LOG) -> Episode:
    read, findings = read_plan(plan.encode())
    assert read is not None
    assert not [f for f in findings if f.severity == "error"]
    marks, _ = read_bench_jsonl(log.encode())
    return compile_episode(read, marks, clips)


def shown(episode: Episode) -> list[Segment]:
    return [s for s in episode.timeline.segments if isinstance(s.source, Picture)]


def moment(segment: Segment, late: float = 0) -> Fraction:
    """When on the bench a segment's picture begins, in seconds after the top camera's first frame."""
    assert isinstance(segment.source, Picture)
    return segment.source.start + (Fraction(late) if "side" in segment.source.clip else 0)


def test_angle_changes_at_beats_and_shows_the_same_moment() -> None:
    episode = compiled(both(late=3.2))
    segments = shown(episode)
    cameras = [
        "side" if "side" in s.source.clip else "top" for s in segments if isinstance(s.source, Picture)
    ]
    assert cameras == ["top", "side", "top"]
    (laid,) = episode.steps
    beats = [ms_to_frames(beat.start, episode.timeline.rate) for beat in laid.time.beats]
    edges = [sum(s.frames for s in segments[:n]) for n in range(3)]
    assert edges == [0, *beats[1:]]
    # Nothing of the bench is left out or seen twice at a change, but for the other camera's own frames.
    for one, two in pairwise(segments):
        assert isinstance(one.source, Picture)
        end = moment(one, 3.2) + one.source.end - one.source.start
        assert abs(end - moment(two, 3.2)) <= Fraction(1, 25)
    alone = compiled(both(late=3.2), PLAN.replace("top, side", "top"))
    assert episode.timeline.frames == alone.timeline.frames
    assert {s.source.speed for s in segments if isinstance(s.source, Picture)} == {
        s.source.speed for s in shown(alone) if isinstance(s.source, Picture)
    }


def test_angle_is_not_changed_where_the_other_camera_was_off_or_a_ramp_would_be_too_short() -> None:
    off = compiled(both(side=5))
    assert {s.source.clip for s in shown(off) if isinstance(s.source, Picture)} == {"footage/top-1.mp4"}
    slow = compiled(both(), PLAN.replace("---\n# Work", "limits: {ramp: 12 s}\n---\n# Work"))
    assert len(shown(slow)) == 1


def test_keep_and_must_show_are_never_cut_by_an_angle() -> None:
    plan = PLAN.replace(BEAT, f"- must show: the joint | top | 30 s\n{BEAT}", 1)
    log = line(0, "start", "clean") + line(10, "keep") + line(45, "start", "clean") + line(80, "done")
    episode = compiled(both(), plan, log)
    (laid,) = episode.steps
    kept = [p for p in laid.fitted.parts if isinstance(p, Plays) and p.shot is not None]
    assert [(p.clip, p.start, p.end) for p in kept] == [("footage/top-1.mp4", 10, 45)]


def test_sound_stays_on_the_steps_own_microphone_through_a_change_of_angle() -> None:
    segments = shown(compiled(both(late=3.2)))
    assert [
        s.sound.clip if s.sound else s.source.clip for s in segments if isinstance(s.source, Picture)
    ] == ["footage/top-1.mp4"] * 3


@pytest.mark.parametrize(
    ("top", "side", "heard"),
    [
        ("plain", "good", "footage/side-1.mp4"),
        ("none", "plain", "footage/side-1.mp4"),
        ("plain", "none", "footage/top-1.mp4"),
        ("none", "none", None),
    ],
)
def test_the_best_microphone_that_was_running_is_heard(top: str, side: str, heard: str | None) -> None:
    plan = PLAN.replace("view: overhead", f"view: overhead, microphone: {top}")
    plan = plan.replace("view: side", f"view: side, microphone: {side}")
    for segment in shown(compiled(both(), plan)):
        assert isinstance(segment.source, Picture)
        assert (segment.sound.clip if segment.sound else segment.source.clip) == heard


def test_a_good_microphone_that_was_off_is_not_waited_for() -> None:
    plan = PLAN.replace("view: side", "view: side, microphone: good")
    for segment in shown(compiled(both(side=5), plan)):
        assert segment.sound is None


def test_a_gap_of_the_first_camera_is_shown_by_another_and_told() -> None:
    first = replace(both()[0], duration=Fraction(30))
    episode = compiled([first, both()[1]], PLAN.replace("top, side", "top"))
    clips = [s.source.clip for s in shown(episode) if isinstance(s.source, Picture)]
    assert clips == ["footage/top-1.mp4", "footage/side-1.mp4"]
    told = next(f for f in episode.findings if f.code == "CLIP-OTHER-CAMERA")
    assert "is shown from side where top was not running" in told.message
    assert "CLIP-UNCOVERED" not in {f.code for f in episode.findings}


def test_a_part_of_a_frame_is_not_told_as_lacking_where_another_camera_fills_a_gap() -> None:
    """Top rolls 30 s late, and the step ends within one of its frames."""
    late = replace(both()[0], created=START + timedelta(seconds=30))
    log = line(0, "start", "clean") + line(80.033, "done")
    episode = compiled([late, both()[1]], PLAN.replace("top, side", "top"), log)
    clips = [s.source.clip for s in shown(episode) if isinstance(s.source, Picture)]
    assert clips == ["footage/side-1.mp4", "footage/top-1.mp4"]
    assert "CLIP-UNCOVERED" not in {f.code for f in episode.findings}


def test_unknown_angle_and_microphone_are_told() -> None:
    _, findings = read_plan(PLAN.replace("top, side", "top, sied").encode())
    assert any(f.code == "JOB-NAME" and "'side'" in f.remedy for f in findings)
    _, findings = read_plan(PLAN.replace("view: side", "view: side, microphone: loud").encode())
    assert any(f.code == "JOB-VALUE" and "good" in f.remedy for f in findings), findings


def test_draft_shows_the_moment_and_sounds_of_the_good_microphone(
    tmp_path: Path, job: JobFolder, run: Callable[..., Run]
) -> None:
    # Source of truth: the number that each frame carries as a QR code (ISO/IEC 18004), read by zxing-cpp.
    rates = {"top": (Fraction(25), 0), "side": (Fraction(50), 2)}
    tone = 0.5 * np.sin(2 * np.pi * 1000 * np.arange(30 * 48_000) / 48_000)
    for name, (rate, late) in rates.items():
        tags = {"creation_time": f"2026-11-07T15:00:{late:02d}.000000Z"}
        sound = (tone if name == "side" else 0 * tone).astype(np.float32)
        made = kit.coded_clip(tmp_path / f"{name}.mp4", rate, int(rate * 30), tags=tags, sound=sound)
        job.write(f"footage/{name}-1.mp4", made.read_bytes())
    plan = PLAN.replace("view: side", "view: side, microphone: good")
    job.write("job.md", plan.replace("---\n# Work", "limits: {lower third: 0 s, chapters: 1}\n---\n# Work"))
    marks = [("start", 4.0), ("done", 30.0)]
    log = [
        json.dumps({"time": f"2026-11-07T10:00:{at:06.3f}-05:00", "kind": kind, "step": "clean"})
        for kind, at in marks
    ]
    job.write("bench.jsonl", "\n".join(log) + "\n")
    assert run("draft", job.root).status == 0
    data = json.loads((job.root / "out" / "plan.json").read_text())
    draft = job.root / "out" / "draft.mp4"
    seen = kit.numbers_in(draft)
    at = changes = 0
    for segment in data["segments"]:
        name = "side" if "side" in segment["clip"] else "top"
        changes += name == "side"
        rate, late = rates[name]
        speed, start = Fraction(segment["speed"]), Fraction(segment["start_seconds"])
        for n in range(segment["frames"] - segment["hold_frames"]):
            number = seen[at + n]
            assert number is not None
            wanted = start + Fraction(n, 25) * speed
            assert abs(Fraction(number) / rate - wanted) <= 1 / rate, (segment, n, number)
        at += segment["frames"]
    assert changes
    assert at == len(seen)
    moments = [
        Fraction(s["start_seconds"]) + rates["side" if "side" in s["clip"] else "top"][1]
        for s in data["segments"]
    ]
    lengths = [Fraction(s["end_seconds"]) - Fraction(s["start_seconds"]) for s in data["segments"]]
    for (moment_, long), later in zip(zip(moments, lengths, strict=True), moments[1:], strict=False):
        assert abs(moment_ + long - later) <= Fraction(1, 25), (
            "the bench goes on where the other angle left it"
        )
    heard = kit.mono_sound(draft)
    level = np.sqrt(np.mean(heard[4800 : len(heard) // 4800 * 4800 - 4800].reshape(-1, 4800) ** 2, axis=1))
    assert level.min() > 0.3 * level.max(), "the tone of the side's microphone runs through every change"
