"""What is private cannot be read in any frame of any draft, and what is not private can.

Source of truth: QR codes (ISO/IEC 18004) written by segno and read by zxing-cpp. Each frame of a made clip carries two:
"F" and its number, which stays in view, and "S" and its number, which lies under the private box. So every frame of a
draft says which frame of the clip it shows, and whether its secret can still be read.
"""

from __future__ import annotations

import shutil
from collections.abc import Sequence
from dataclasses import dataclass, replace
from fractions import Fraction
from pathlib import Path

import numpy as np
import pytest
import segno
import zxingcpp

from episodekit.base.box import WHOLE_PICTURE, Box
from episodekit.base.time import Frames, Rate
from episodekit.footage.private import Private
from episodekit.outside.media.checks.exposed import exposed
from episodekit.outside.media.drawing.fonts import load_fonts
from episodekit.outside.media.recipes.picture import Look
from episodekit.outside.media.recipes.pieces import pieces
from episodekit.outside.media.rendering.art import Art
from episodekit.outside.media.rendering.cache import checksum
from episodekit.timeline.model import Overlay, OverlayKind, Segment, Timeline
from tests.media import kit
from tests.media.conftest import phone_stamps

RATE = Rate.parse("30")
WIDTH, HEIGHT = 640, 360
COUNT = 300
SECRET = Box(Fraction(40, 640), Fraction(64, 360), Fraction(272, 640), Fraction(296, 360))
"""Where the secret code lies, its quiet zone included: 232 pixels of 640 by 360."""

CLIP = "footage/a.mp4"


def code(text: str) -> kit.Image:
    """A code of 232 pixels with its quiet zone."""
    rows = np.array([list(row) for row in segno.make(text, error="m", micro=False, version=1).matrix])
    framed = np.pad(np.where(rows, 0, 255), 4, constant_values=255).astype(np.uint8)
    return np.kron(framed, np.ones((8, 8), np.uint8))


def two_codes(number: int) -> kit.Image:
    frame = np.full((HEIGHT, WIDTH), 128, np.uint8)
    frame[64:296, 40:272] = code(f"S{number:06d}")
    frame[64:296, 368:600] = code(f"F{number:06d}")
    return frame


@dataclass(frozen=True)
class Seen:
    """What zxing-cpp reads in a frame: the number of the clip's frame, and the secret."""

    number: int | None
    secret: int | None


def seen_in(path: Path) -> list[Seen]:
    found = []
    for frame in kit.grey_frames(path):
        codes = zxingcpp.read_barcodes(np.ascontiguousarray(frame), formats=zxingcpp.BarcodeFormat.QRCode)
        texts = {one.text[:1]: int(one.text[1:]) for one in codes}
        found.append(Seen(texts.get("F"), texts.get("S")))
    return found


@pytest.fixture(scope="module")
def footage(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """Clips with a secret, for every test of this file; a test copies what it needs."""
    folder = tmp_path_factory.mktemp("secret")
    frames = [two_codes(number) for number in range(COUNT)]
    kit.encode(folder / "a.mp4", iter(frames), Fraction(30))
    kit.encode(folder / "dense.mp4", iter(frames), Fraction(30), key_every=10)
    stamps = phone_stamps(COUNT)
    late = [stamp + (3 if index > 100 else 0) for index, stamp in enumerate(stamps)]
    kit.encode(folder / "phone.mp4", iter(frames), Fraction(30), stamps=late)
    kit.remux(folder / "a.mp4", folder / "late.ts", before=["-itsoffset", "10"])
    for degrees in (90, 180, 270):
        turned = ["-display_rotation", str(degrees)]
        kit.remux(folder / "a.mp4", folder / f"turned{degrees}.mp4", before=turned)
    return folder


@pytest.fixture
def job(tmp_path: Path, footage: Path) -> Path:
    root = tmp_path / "job"
    shutil.copytree(footage, root / "footage")
    before = kit.hashes(root / "footage")
    yield root
    assert kit.hashes(root / "footage") == before, "raw footage was changed"


def plan(
    segments: Sequence[Segment], *private: Private, width: int = WIDTH, height: int = HEIGHT, **more: object
) -> Timeline:
    made = kit.timeline(RATE, segments, width=width, height=height, **more)  # type: ignore[arg-type]
    return replace(made, private=private)


def hidden(first: int, last: int, clip: str = CLIP, box: Box = SECRET) -> Private:
    """Frames `first` to `last`, half-open, of a clip at 30 frames a second."""
    return Private(clip, Fraction(first, 30), Fraction(last, 30), box.grown(Fraction(1, 100)), "the code")


def told(seen: Sequence[Seen], first: int, last: int, around: int) -> None:
    """No secret of the frames `first` to `last` is read, those further away than `around` are, and no frame is lost."""
    assert all(one.number is not None for one in seen)
    for one in seen:
        assert one.secret is None or not first - 2 <= one.secret < last + 2, f"{one} can be read"
        if one.number is not None and not first - around <= one.number < last + around:
            assert one.secret == one.number


@pytest.mark.parametrize("size", [(854, 480), (1920, 1080)], ids=["480p", "1080p"])
@pytest.mark.parametrize("speed", ["1", "8", "20"])
def test_secret_is_read_outside_its_span_and_never_inside(
    job: Path, speed: str, size: tuple[int, int]
) -> None:
    factor = Fraction(speed)
    frames = int(COUNT / factor) if speed != "1" else 150
    segments = [kit.shot(CLIP, Fraction(1, 30), frames - 1, RATE, factor)]
    width, height = size
    control, _ = kit.draft(job, plan(segments, width=width, height=height), "control.mp4")
    assert all(one.secret == one.number is not None for one in seen_in(control))
    shutil.rmtree(job / "out" / "cache")
    path, made = kit.draft(job, plan(segments, hidden(67, 103), width=width, height=height))
    assert not [f for f in made.findings if f.code != "DRAFT-FLASH"], (
        "codes that change with each frame may well flash when sped up"
    )
    seen = seen_in(path)
    told(seen, 67, 103, around=2 + 3 * int(factor))
    assert any(one.number is not None and 67 <= one.number < 103 for one in seen)
    for piece in (job / "out" / "cache").glob("*.h264"):
        told(seen_in(piece), 67, 103, around=2 + 3 * int(factor))


def test_span_is_hidden_up_to_cuts_at_its_very_edges_and_in_holds(job: Path) -> None:
    segments = [
        kit.shot(CLIP, Fraction(80, 30), 20, RATE),  # ends with the last frame before the span
        kit.shot(CLIP, Fraction(100, 30), 1, RATE),  # its first frame alone
        kit.slate(5),
        kit.shot(CLIP, Fraction(119, 30), 1, RATE),  # its last one
        kit.shot(CLIP, Fraction(120, 30), 20, RATE),  # begins with the first frame behind it
        kit.shot(CLIP, Fraction(95, 30), 40, RATE, hold=30),  # held inside
        kit.shot(CLIP, Fraction(60, 30), 40, RATE, hold=35),  # held before
        kit.shot(CLIP, Fraction(118, 30), 90, RATE, Fraction(1, 4)),  # slowed down over its end
    ]
    path, made = kit.draft(job, plan(segments, hidden(100, 120)))
    assert made.delivered
    seen = [one for index, one in enumerate(seen_in(path)) if not 21 <= index < 26]
    told(seen, 100, 120, around=5)
    assert [one.number for one in seen[19:22]] == [99, 100, 119]
    assert sum(one.number == 104 for one in seen) == 31


def test_time_lapse_of_key_frames_alone_is_hidden_too(job: Path) -> None:
    clip, speed = "footage/dense.mp4", Fraction(12)
    path, _ = kit.draft(job, plan([kit.shot(clip, Fraction(0), 24, RATE, speed)], hidden(100, 150, clip)))
    seen = seen_in(path)
    assert all(one.number is not None and one.number % 10 == 0 for one in seen), "not made of key frames"
    told(seen, 100, 150, around=40)


def test_frame_of_a_phone_that_was_on_screen_for_seconds_is_hidden_whole(job: Path) -> None:
    clip = "footage/phone.mp4"
    assert kit.clips_in(job)[clip].variable
    # frame 100 stays for 3.1 s; the mark is set in the middle of that time
    begins = phone_stamps(101)[100]
    private = Private(clip, begins + 2, begins + 4, SECRET)
    path, _ = kit.draft(job, plan([kit.shot(clip, begins - 1, 240, RATE)], private))
    seen = seen_in(path)
    assert sum(one.number == 100 for one in seen) > 85
    assert all(one.secret is None for one in seen if one.number is not None and 98 <= one.number <= 110)
    assert any(one.secret == one.number for one in seen[:20])
    assert any(one.secret == one.number for one in seen[-20:])


def test_transport_stream_without_an_index_is_hidden_at_its_own_stamps(job: Path) -> None:
    clip = "footage/late.ts"
    assert not kit.clips_in(job)[clip].key_frames
    segments = [kit.shot(clip, Fraction(2), 60, RATE), kit.shot(clip, Fraction(4), 12, RATE, Fraction(8))]
    path, _ = kit.draft(job, plan(segments, hidden(90, 140, clip)))
    told(seen_in(path), 90, 140, around=26)


@pytest.mark.parametrize("degrees", [90, 180, 270])
def test_box_is_read_off_the_upright_picture_of_a_turned_clip(job: Path, degrees: int) -> None:
    """The box is where zxing-cpp finds the secret in the upright picture, in percents, as a creator would see it."""
    clip = f"footage/turned{degrees}.mp4"
    segments = [kit.shot(clip, Fraction(1), 90, RATE)]
    # a draft as tall as the upright picture is, so that there are no bars
    width, height = (WIDTH, HEIGHT) if degrees == 180 else (HEIGHT, WIDTH)
    control, _ = kit.draft(job, plan(segments, width=width, height=height), "control.mp4")
    first = np.ascontiguousarray(kit.grey_frames(control)[0])
    (found,) = [one for one in zxingcpp.read_barcodes(first) if one.text.startswith("S")]
    corners = [found.position.top_left, found.position.top_right, found.position.bottom_left]
    corners.append(found.position.bottom_right)
    xs, ys = [corner.x for corner in corners], [corner.y for corner in corners]
    box = Box(
        Fraction(min(xs), width),
        Fraction(min(ys), height),
        Fraction(max(xs), width),
        Fraction(max(ys), height),
    )
    # shown between bars in a wide draft, where percents of the frame would be another place
    path, _ = kit.draft(job, plan(segments, hidden(50, 80, clip, box), width=1280, height=720))
    seen = seen_in(path)
    told(seen, 50, 80, around=5)
    assert any(one.secret is not None for one in seen)


def test_two_boxes_at_once_and_one_that_moves(job: Path) -> None:
    other = Box(Fraction(368, 640), Fraction(64, 360), Fraction(600, 640), Fraction(296, 360))
    private = (hidden(40, 70), hidden(60, 90, box=other), hidden(100, 110, box=WHOLE_PICTURE))
    path, _ = kit.draft(job, plan([kit.shot(CLIP, Fraction(1), 100, RATE)], *private))
    for index, one in enumerate(seen_in(path), start=30):
        assert one.secret is None or not (40 <= index < 70 or 100 <= index < 110)
        assert one.number is None or not (60 <= index < 90 or 100 <= index < 110)
        if 45 <= index < 55:
            assert one.number == index
        if 75 <= index < 85:
            assert one.secret == index


def test_edit_to_what_is_private_renders_the_piece_again_and_nothing_else(job: Path) -> None:
    segments = [kit.shot(CLIP, Fraction(0), 30, RATE), kit.shot("footage/dense.mp4", Fraction(0), 30, RATE)]
    kit.draft(job, plan(segments))
    _, made = kit.draft(job, plan(segments, hidden(10, 20)))
    assert (made.segments_rendered, made.segments_reused) == (1, 1)
    _, made = kit.draft(job, plan(segments, hidden(10, 20)))
    assert made.segments_rendered == 0


def test_draft_in_which_the_secret_can_be_seen_is_thrown_away(job: Path) -> None:
    """A piece without the grey box is slipped into the cache under the name of the one that has it."""
    segments = [kit.shot(CLIP, Fraction(1), 90, RATE)]
    target, _ = kit.draft(job, plan(segments))
    cache = job / "out" / "cache"
    (bare,) = cache.glob("*.h264")
    shown, summed = bare.read_bytes(), checksum(bare)
    path, made = kit.draft(job, plan(segments, hidden(50, 80)))
    assert path == target
    assert made.delivered
    assert not bare.exists(), "what shows the secret does not stay in the cache"
    (filled,) = cache.glob("*.h264")
    filled.write_bytes(shown)
    filled.with_name(f"{filled.name}.sum").write_text(summed)
    _, made = kit.draft(job, plan(segments, hidden(50, 80)))
    assert not made.delivered
    (found,) = made.findings
    assert found.code == "DRAFT-PRIVATE"
    assert "at 0:00" in found.message
    assert "thrown away" in found.message
    assert not target.exists()
    assert not list(target.parent.glob(".*part"))


def test_look_at_the_draft_finds_a_few_frames_at_either_edge_and_in_the_middle(
    job: Path, tmp_path: Path
) -> None:
    """The draft is asked for more than was filled: some frames are plain, the ones asked for beside them are not."""
    made = plan([kit.shot(CLIP, Fraction(1), 90, RATE)], hidden(50, 55), hidden(75, 80))
    path, _ = kit.draft(job, made)
    look = Look(WIDTH, HEIGHT, RATE)
    art = Art(tmp_path, look, load_fonts(None)[0])
    shown = pieces(made, kit.clips_in(job), {})
    filled, early, late = hidden(50, 55), hidden(42, 55), hidden(75, 89)
    assert exposed(path, shown, (filled,), art, look) == ()
    for asked in (early, late, hidden(50, 80)):
        (found,) = exposed(path, shown, (filled, asked), art, look)
        assert found.code == "DRAFT-PRIVATE"


def test_board_over_the_box_is_not_taken_for_something_private(job: Path) -> None:
    """Letters of the draft's own over a filled box are no reason to throw it away."""
    board = Overlay(OverlayKind.LOWER_THIRD, "Lift the screen", Frames(0), Frames(60), "Teardown")
    whole = Private(CLIP, Fraction(0), Fraction(10), WHOLE_PICTURE)
    segments = [kit.shot(CLIP, Fraction(1), 60, RATE)]
    path, made = kit.draft(job, plan(segments, whole, overlays=[board]))
    assert made.delivered
    assert np.ptp(kit.grey_frames(path)[20].astype(int)) > 100, "the board is not there"
    assert all(one == Seen(None, None) for one in seen_in(path))


REAL = [path for path in kit.real_clips() if "corrupted" not in path.name]


@pytest.mark.parametrize("path", REAL, ids=lambda path: path.name)
def test_box_in_real_footage_is_plain_at_every_speed(tmp_path: Path, path: Path) -> None:
    """Phones held upright, 10 bits, interlaced, variable rate: the box is plain, what lies beside it is as it was."""
    (tmp_path / "footage").mkdir()
    name = f"footage/{path.name}"
    shutil.copyfile(path, tmp_path / name)
    clip = kit.clips_in(tmp_path)[name]
    fast = max(Fraction(1), clip.duration * 3)  # ten frames for all of it
    segments = [kit.shot(name, Fraction(0), 10, RATE), kit.shot(name, Fraction(0), 10, RATE, fast)]
    box = Box(Fraction(1, 10), Fraction(55, 100), Fraction(45, 100), Fraction(9, 10))
    private = Private(name, Fraction(0), clip.duration, box)
    bare, _ = kit.draft(tmp_path, plan(segments), "bare.mp4")
    target, made = kit.draft(tmp_path, plan(segments, private))
    assert made.delivered
    shape = Fraction(clip.width, clip.height) * clip.pixel_aspect
    shape = 1 / shape if clip.rotation % 180 else shape
    wide, tall = min(WIDTH, float(HEIGHT * shape)), min(HEIGHT, float(WIDTH / shape))
    left, top = (WIDTH - wide) / 2, (HEIGHT - tall) / 2
    rows = slice(int(top + tall * 0.55) + 3, int(top + tall * 0.9) - 3)
    columns = slice(int(left + wide * 0.1) + 3, int(left + wide * 0.45) - 3)
    beside = slice(int(left + wide * 0.5), int(left + wide * 0.95))
    for before, after in zip(kit.grey_frames(bare), kit.grey_frames(target), strict=True):
        inside = after[rows, columns].astype(int)
        assert np.ptp(np.percentile(inside, [1, 99])) < 8, "something is left"
        assert np.ptp(inside) < np.ptp(before[rows, columns].astype(int))
        off = np.abs(before[rows, beside].astype(int) - after[rows, beside].astype(int))
        assert off.mean() < 6, "something is gone that is not private"
