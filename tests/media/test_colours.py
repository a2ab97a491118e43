"""Footage with unusual colour tags: what it looks like in the draft.

Source: Rec. ITU-T H.273, the matrices of its table 4 and their equations, computed here; PyAV decodes.
"""

from __future__ import annotations

import subprocess
from fractions import Fraction
from pathlib import Path

import av
import imageio_ffmpeg
import numpy as np
import pytest

from episodekit.base.time import Rate
from tests.media import kit

RATE = Rate.parse("25")
COLOUR = (200, 80, 40)  # red, green, blue of 255


def tagged_clip(path: Path, planes: tuple[float, float, float], bits: str) -> None:
    """25 frames of one colour, given as Y, Cb and Cr of 8 bits, with numbers of H.273 in the stream's header."""
    plain = path.with_name(f"plain-{path.name}")
    with av.open(str(plain), "w") as container:
        stream = container.add_stream("libx264", rate=25, options={"preset": "ultrafast", "crf": "5"})
        stream.width, stream.height, stream.pix_fmt = 320, 180, "yuv444p"
        data = np.stack([np.full((180, 320), round(value), np.uint8) for value in planes])
        for _ in range(25):
            container.mux(stream.encode(av.VideoFrame.from_ndarray(data, format="yuv444p")))
        container.mux(stream.encode(None))
    program = imageio_ffmpeg.get_ffmpeg_exe()
    words = [program, "-v", "error", "-i", str(plain), "-c", "copy", "-bsf:v", f"h264_metadata={bits}"]
    subprocess.run([*words, str(path)], check=True)
    plain.unlink()


def colour_in(path: Path) -> list[np.ndarray]:
    """Red, green and blue in the middle of each frame."""
    with av.open(str(path)) as container:
        return [frame.to_ndarray(format="rgb24")[90, 160].astype(int) for frame in container.decode(video=0)]


def luma_and_chroma(kr: float, kb: float) -> tuple[float, float, float]:
    """COLOUR by a matrix with these weights, at video range (H.273, equations 38 to 40)."""
    red, green, blue = (value / 255 for value in COLOUR)
    luma = kr * red + (1 - kr - kb) * green + kb * blue
    cb, cr = (blue - luma) / 2 / (1 - kb), (red - luma) / 2 / (1 - kr)
    return 16 + 219 * luma, 128 + 224 * cb, 128 + 224 * cr


def ycgco() -> tuple[float, float, float]:
    """COLOUR as YCgCo (H.273, matrix 8)."""
    red, green, blue = (value / 255 for value in COLOUR)
    luma, cg, co = green / 2 + (red + blue) / 4, green / 2 - (red + blue) / 4, (red - blue) / 2
    return 16 + 219 * luma, 128 + 224 * cg, 128 + 224 * co


EXACT = {
    "matrix_coefficients=1": luma_and_chroma(0.2126, 0.0722),
    "matrix_coefficients=6": luma_and_chroma(0.299, 0.114),
    "matrix_coefficients=8": ycgco(),
    "matrix_coefficients=9": luma_and_chroma(0.2627, 0.0593),
    "matrix_coefficients=10": luma_and_chroma(0.2627, 0.0593),  # taken for its near relation, matrix 9
    "matrix_coefficients=13": luma_and_chroma(0.299, 0.114),  # taken for untagged: 180 lines, Rec. 601
    "transfer_characteristics=9:matrix_coefficients=1": luma_and_chroma(0.2126, 0.0722),  # logarithmic
    "transfer_characteristics=10": luma_and_chroma(0.299, 0.114),
}
PICTURE = [f"transfer_characteristics={t}{m}" for t in (16, 18) for m in ("", *(
    f":matrix_coefficients={number}" for number in (1, 9, 10, 14)
))]  # fmt: skip


@pytest.fixture(scope="module")
def shown(tmp_path_factory: pytest.TempPathFactory) -> dict[str, np.ndarray]:
    """What one draft of all these clips shows, by their tags."""
    root = tmp_path_factory.mktemp("colours")
    (root / "footage").mkdir()
    tags = [*EXACT, *PICTURE]
    for number, bits in enumerate(tags):
        tagged_clip(
            root / "footage" / f"c{number}.mp4", EXACT.get(bits, luma_and_chroma(0.2627, 0.0593)), bits
        )
    shots = [kit.shot(f"footage/c{number}.mp4", Fraction(0), 4, RATE) for number in range(len(tags))]
    path, made = kit.draft(root, kit.timeline(RATE, shots))
    assert made.findings == ()
    return dict(zip(tags, colour_in(path)[2::4], strict=True))


@pytest.mark.parametrize("bits", EXACT)
def test_colours_survive_whatever_the_matrix(shown: dict[str, np.ndarray], bits: str) -> None:
    assert np.abs(shown[bits] - COLOUR).max() <= 5


@pytest.mark.parametrize("bits", PICTURE)
def test_high_dynamic_range_gives_a_picture_whatever_the_matrix(
    shown: dict[str, np.ndarray], bits: str
) -> None:
    red, green, blue = shown[bits]
    if "=14" not in bits:  # the clip is not really ICtCp
        assert red > green >= blue
    assert red > 60
    untagged = shown[bits.partition(":")[0]]
    if bits.endswith("=9"):
        assert np.abs(shown[bits] - untagged).max() <= 2  # no tag means Rec. 2020
