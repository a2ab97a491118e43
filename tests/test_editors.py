"""The whole road into an editor: what `plan` and `draft` write beside each other for one, against the draft itself.

Frames carry their number as a QR code, read by zxing-cpp; the list is read by edl-reader, the timeline by its library.
"""

from __future__ import annotations

import json
from collections.abc import Callable
from fractions import Fraction
from pathlib import Path

import edl
import opentimelineio as otio
import pytest

from tests.conftest import LAMP, JobFolder, Run
from tests.media import conform, kit

NTSC = Fraction(30000, 1001)


def film(job: JobFolder, rate: str) -> None:
    """The lamp job filmed with two cameras, in part; one step runs on at normal speed, one is long, one is short."""
    # no boards over the codes
    bare = LAMP.replace("- hazard: fume, heat\n", "").replace("size:", "limits: {lower third: 0 s}\nsize:")
    job.write("job.md", bare.replace("frame rate: 25", f"frame rate: {rate}"))
    top, macro = job.write("footage/top-1.mp4", b""), job.write("footage/macro-1.mov", b"")
    kit.coded_clip(top, Fraction(25) if rate == "25" else NTSC, 1000)
    kit.coded_clip(macro, NTSC, 400, timecode="00:59:58;10")
    marks = [
        ("top-1.mp4 @ 0:01", "start", "screws"),
        ("top-1.mp4 @ 0:09", "keep", "screws"),
        ("top-1.mp4 @ 0:11", "done", "screws"),
        ("macro-1.mov @ 01:00:00;00", "start", "board"),
        ("macro-1.mov @ 01:00:01;00", "keep", "board"),
        ("macro-1.mov @ 01:00:05;00", "done", "board"),
        ("top-1.mp4 @ 0:12", "start", "solder"),
        ("top-1.mp4 @ 0:33", "done", "solder"),
    ]
    job.write(
        "bench.jsonl",
        "".join(json.dumps(dict(zip(("time", "kind", "step"), m, strict=True))) + "\n" for m in marks),
    )


@pytest.mark.parametrize(("rate", "reader"), [("25", "25"), ("29.97 DF", "29.97")])
def test_list_and_timeline_lie_beside_the_draft_and_tell_its_frames(
    rate: str, reader: str, job: JobFolder, run: Callable[..., Run]
) -> None:
    film(job, rate)
    done = run("draft", job.root)
    assert done.status == 0, done.text
    pack = job.root / "out" / "pack"
    seen = kit.numbers_in(job.root / "out" / "draft.mp4")
    conformed = conform.pictures(pack / "timeline.otio")
    assert [None if image is None else kit.number_in(image) for image in conformed] == seen
    assert any(number is not None for number in seen)

    made = otio.adapters.read_from_file(str(pack / "timeline.otio"))
    used = {clip.media_reference.target_url for clip in made.find_clips() if not slate(clip)}
    assert used == {"../../footage/top-1.mp4", "../../footage/macro-1.mov"}
    assert any(clip.media_reference.parameters["words"] for clip in made.find_clips() if slate(clip))
    plan = json.loads((job.root / "out" / "plan.json").read_text())
    told = {(m.metadata["episodekit"]["kind"], m.metadata["episodekit"]["id"]) for m in made.tracks.markers}
    assert {("step", s["id"]) for s in plan["steps"] if not s["read"]} <= told
    assert {("beat", b["id"]) for s in plan["steps"] for b in s["beats"]} <= told
    assert ("read", "tallow") in told
    frames = Fraction(plan["rate"])
    for marker in made.tracks.markers:
        if marker.metadata["episodekit"]["kind"] == "read":
            (read,) = plan["reads"]
            assert marker.marked_range.start_time.value == round(read["start_ms"] * frames / 1000)
            assert marker.marked_range.duration.value == round(read["length_ms"] * frames / 1000)
    chapters = [m.name for m in made.tracks.markers if m.metadata["episodekit"]["kind"] == "chapter"]
    assert chapters == [c["title"] for c in plan["chapters"]]

    text = (pack / "draft.edl").read_text()
    events = [e for e in edl.Parser(reader).parse(text).events if "V" in e.track]
    assert {"ramp", "normal", "slate"} <= {
        "slate" if e.black() else "ramp" if e.timewarp and e.timewarp.warp_fps else "normal" for e in events
    }
    hour = events[0].rec_start_tc.frames
    assert str(events[0].rec_start_tc) == ("01:00:00;00" if "DF" in rate else "01:00:00:00")
    assert events[-1].rec_end_tc.frames - hour == len(seen)
    for event in events:
        first = event.rec_start_tc.frames - hour
        shown = seen[first : event.rec_end_tc.frames - hour]
        if event.black():
            assert set(shown) == {None}
            continue
        own = event.source_file.startswith("footage/top") or "DF" in rate
        if not own:  # a clip at another rate: by time, half a frame of the list
            continue
        zero = 1 if event.reel == "TOP_1" else 1 + frames_of("00:59:58;10")
        assert shown[0] == event.src_start_tc.frames - zero
        if event.timewarp is None:
            assert shown == list(range(shown[0], event.src_end_tc.frames - zero))
        elif event.timewarp.warp_fps == 0:
            assert set(shown) == {shown[0]}
        else:
            # the source goes on to the first frame not used, one step of the ramp after the last
            step = event.timewarp.warp_fps / round(frames)
            assert shown[-1] < event.src_end_tc.frames - zero <= shown[-1] + step + 1


def slate(clip: otio.schema.Clip) -> bool:
    return isinstance(clip.media_reference, otio.schema.GeneratorReference)


def frames_of(label: str) -> int:
    """By the timeline library's own count of drop-frame labels."""
    return otio.opentime.from_timecode(label, float(NTSC)).to_frames()


def test_a_plan_without_footage_leaves_no_list_of_an_earlier_one(
    job: JobFolder, run: Callable[..., Run]
) -> None:
    film(job, "25")
    names = {"timeline.otio", "draft.edl"}

    def there() -> set[str]:
        return {path.name for path in (job.root / "out" / "pack").iterdir()}

    done = run("plan", job.root)
    assert names <= there()
    assert all(f"pack/{name}" in done.out for name in names)
    job.write("out/pack/draft-2.edl", "of a longer plan\n")
    (job.root / "bench.jsonl").unlink()
    done = run("plan", job.root)
    assert not (names | {"draft-2.edl"}) & there()
    assert ".edl" not in done.out


def test_rate_without_timecode_has_a_timeline_and_a_note(job: JobFolder, run: Callable[..., Run]) -> None:
    film(job, "12.5")
    done = run("plan", job.root)
    assert done.status == 0, done.text
    assert "PACK-NO-EDIT-LIST" in done.err
    assert (job.root / "out" / "pack" / "timeline.otio").is_file()
    assert not (job.root / "out" / "pack" / "draft.edl").exists()


def test_takes_lie_on_the_narration_track_at_their_beats(run: Callable[..., Run], tmp_path: Path) -> None:
    folder = JobFolder(tmp_path / "sample")
    sample = Path(__file__).parent.parent / "sample_jobs" / "clear-shell"
    for path in sorted(
        p for p in sample.rglob("*") if p.is_file() and "out" not in p.relative_to(sample).parts
    ):
        folder.write(path.relative_to(sample).as_posix(), path.read_bytes())
    assert run("plan", folder.root).status == 0
    path = folder.root / "out" / "pack" / "timeline.otio"
    made = otio.adapters.read_from_file(str(path))
    plan = json.loads((folder.root / "out" / "plan.json").read_text())
    beats = {b["id"]: b for s in plan["steps"] for b in s["beats"] if b["take"]}
    clips = [item for item in conform.track(made, "Narration") if isinstance(item, otio.schema.Clip)]
    assert {clip.name for clip in clips} == set(beats)
    for clip in clips:
        where, beat = clip.range_in_parent(), beats[clip.name]
        assert (path.parent / clip.media_reference.target_url).resolve() == folder.root / beat["take"]
        # a little before the first sound, a little after the last
        begin, end = (round(t.to_seconds() * 1000) for t in (where.start_time, where.end_time_exclusive()))
        assert 0 <= beat["start_ms"] - begin <= 80
        assert 0 <= end - beat["start_ms"] - beat["length_ms"] <= 250
