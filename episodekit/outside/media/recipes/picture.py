"""What ffmpeg shall do to make one piece of picture: arguments only, nothing is run here.

Every piece comes out as raw H.264 (Annex B) with the same encoder settings, no B-frames and a closed
group of pictures, so pieces are joined by putting their bytes one after the other.
"""

from __future__ import annotations

from dataclasses import dataclass, replace
from fractions import Fraction

from episodekit.base.time import Rate, nearest
from episodekit.footage.model import Clip
from episodekit.outside.media.ffmpeg_door import Command, Graph, command, decimal, laid_over, source
from episodekit.outside.media.recipes.colours import HIGH_RANGE, converted, mapped
from episodekit.outside.media.recipes.decoding import input_options, stamped, ticks_at
from episodekit.outside.media.recipes.erase import without_private
from episodekit.outside.media.recipes.pieces import Slice, Stretch
from episodekit.timeline.model import OverlayKind

FADE_FRAMES_A_SECOND = 5
"""Lower thirds fade over a fifth of a second. Common practice, no source."""

_FADING = {OverlayKind.LOWER_THIRD}
"""Cautions and disclosures do not fade: no hazard and no ad is ever on screen without its words."""

_PAD_COLOUR = "0x101418"
_ONE_PICTURE: dict[str, str | int | None] = {"f": "image2", "pattern_type": "none"}
"""A picture file whose name is no pattern, even if the job folder is called "100%d"."""

_LOSSLESS: dict[str, str | int] = {
    "c:v": "libx264",
    "preset": "ultrafast",
    "qp": 0,
    "bf": 0,
    "threads": 1,
    "filter_complex_threads": 1,
    "fps_mode": "passthrough",
    "f": "nut",
}


@dataclass(frozen=True)
class Look:
    """What all pieces of a draft share; `preset` and `crf` are x264's. `timecode` burns the running timecode and the
    clip's name into them."""

    width: int
    height: int
    rate: Rate
    preset: str = "veryfast"
    crf: int = 20
    timecode: bool = False


@dataclass(frozen=True)
class Graphic:
    """An overlay's picture file, where its corner lies, and which part of its time is needed."""

    file: str
    x: int
    y: int
    slice: Slice


@dataclass(frozen=True)
class Sheet:
    """A picture over the whole piece. With `columns` it is made of cells, row by row, and each frame shows the next.

    `width` and `height` are those of a cell.
    """

    file: str
    x: int
    y: int
    width: int
    height: int
    columns: int = 0


Laid = Graphic | Sheet


@dataclass(frozen=True)
class Small:
    """A second file of a piece's frames, made `columns` x `rows` small and without loss: for the flash scan, which
    then need not decode the piece.
    """

    columns: int
    rows: int
    file: str


def stretch_command(
    program: str,
    stretch: Stretch,
    file: str,
    graphics: tuple[Laid, ...],
    frames: int,
    look: Look,
    target: str,
    *,
    plain: bool = False,
    small: Small | None = None,
    threads: int = 1,
) -> Command:
    """A piece that shows footage: `frames` frames, the last played one held for the rest; if asked, `small` too.

    `threads` decode; the encoder has one, whose output does not depend on the machine.
    `plain` leaves colours as they are, for footage whose colour tags no conversion can make sense of.

    Each source frame is stamped with the number of the first draft frame that shows it (`stamped`), so
    the fps filter only drops and repeats. Frames are chosen before they are scaled, so a time-lapse does
    not pay for frames that nobody sees.
    """
    clip = stretch.clip
    graph = source(file, {**input_options(stretch, look.rate), "threads": threads})[str(clip.video_stream)]
    graph = without_private(graph, stretch, deep=clip.transfer in HIGH_RANGE)
    if clip.interlaced:
        graph = graph.filter("bwdif", mode="send_frame")
    graph = graph.filter("settb", f"1/{ticks_at(look.rate)}").filter("setpts", stamped(stretch, look.rate))
    graph = graph.filter("fps", fps=_ratio(look.rate.exact), start_time=0)
    graph = graph.filter("trim", end_frame=stretch.played)
    graph = _fitted(graph, clip, look, plain)
    graph = graph.filter("tpad", stop=-1, stop_mode="clone")
    return _encoded(program, graph, graphics, frames, look, target, small)


def survey_command(
    program: str, stretch: Stretch, file: str, look: Look, size: tuple[int, int], target: str
) -> Command:
    """Every frame of the clip that a stretch may show at any speed, as the draft has it but made small, lossless.

    Stamps are the clip's own, counted from its first frame in `ticks_at` a second.
    """
    clip, ticks = stretch.clip, ticks_at(look.rate)
    graph = source(file, input_options(replace(stretch, speed=Fraction(1)), look.rate))[
        str(clip.video_stream)
    ]
    if clip.interlaced:
        graph = graph.filter("bwdif", mode="send_frame")
    graph = graph.filter("settb", f"1/{ticks}").filter("setpts", f"PTS-({nearest(clip.first * ticks)})")
    end = stretch.start + stretch.played * stretch.speed / look.rate.exact
    graph = graph.filter("trim", end_pts=nearest((end + 1) * ticks))
    graph = _made_small(_fitted(graph, clip, look, plain=False), *size)
    return command(program, [graph], target, {**_LOSSLESS, "enc_time_base": f"1/{ticks}"})


def still_command(
    program: str, file: str, graphics: tuple[Laid, ...], frames: int, look: Look, target: str
) -> Command:
    """A piece that shows a card, drawn at full size in an RGB picture file."""
    graph = _repeated(source(file, _ONE_PICTURE), "yuv420p")
    graph = graph.filter("settb", _ratio(1 / look.rate.exact)).filter("setpts", "N")
    graph = graph.filter("fps", fps=_ratio(look.rate.exact))
    return _encoded(program, graph, graphics, frames, look, target)


def _ratio(value: Fraction) -> str:
    return f"{value.numerator}/{value.denominator}"


def _fitted(graph: Graph, clip: Clip, look: Look, plain: bool) -> Graph:
    """Upright, within the frame, in Rec. 709 at video range."""
    sideways = clip.rotation % 180 != 0
    width, height = (look.height, look.width) if sideways else (look.width, look.height)
    size = {
        "w": f"2*floor(min({width},{height}*dar)/2+0.5)",
        "h": f"2*floor(min({height},{width}/dar)/2+0.5)",
    }
    high = clip.transfer in HIGH_RANGE and not plain
    graph = mapped(graph, clip, size) if high else converted(graph, clip, size, plain)
    graph = graph.filter("format", "yuv420p")
    turn = clip.rotation % 360
    if turn == 90:
        graph = graph.filter("transpose", "cclock")
    elif turn == 270:
        graph = graph.filter("transpose", "clock")
    elif turn == 180:
        graph = graph.filter("hflip").filter("vflip")
    x, y = "2*floor((ow-iw)/4)", "2*floor((oh-ih)/4)"
    return graph.filter("pad", look.width, look.height, x, y, _PAD_COLOUR)


def _repeated(graph: Graph, pixels: str) -> Graph:
    """One RGB picture, converted once, then repeated for ever."""
    graph = graph.filter("scale", out_color_matrix="bt709", out_range="tv").filter("format", pixels)
    return graph.filter("loop", loop=-1, size=1)


def _made_small(graph: Graph, columns: int, rows: int) -> Graph:
    """Each cell the mean of the pixels under it."""
    return graph.filter("scale", columns, rows, flags="area").filter("format", "yuv444p")


def _encoded(
    program: str,
    graph: Graph,
    graphics: tuple[Laid, ...],
    frames: int,
    look: Look,
    target: str,
    small: Small | None = None,
) -> Command:
    for graphic in graphics:
        if isinstance(graphic, Sheet):
            graph = laid_over(graph, _cell_by_cell(graphic, frames, look.rate), graphic.x, graphic.y)
        else:
            graph = laid_over(graph, _in_time(graphic, look.rate), graphic.x, graphic.y)
    tags = {"color_primaries": "bt709", "color_trc": "bt709", "colorspace": "bt709"}
    graph = graph.filter("trim", end_frame=frames).filter("format", "yuv420p").filter("setsar", "1")
    graph = graph.filter("setparams", **tags, range="tv", field_mode="prog")
    settings: dict[str, str | int] = {
        "c:v": "libx264",
        "preset": look.preset,
        "crf": look.crf,
        "bf": 0,
        "g": look.rate.nominal,
        "profile:v": "high",
        # stitchable: x264 may not fit its headers to the content, so all pieces carry the same ones
        "x264-params": "stitchable=1:open-gop=0:repeat-headers=1",
        "threads": 1,
        "filter_complex_threads": 1,
        "fps_mode": "passthrough",
        "color_range": "tv",
        "f": "h264",
        **tags,
    }
    if small is None:
        return command(program, [graph], target, settings)
    both = graph.filter_multi_output("split")
    beside = (_made_small(both[1], small.columns, small.rows), small.file, _LOSSLESS)
    return command(program, [both[0]], target, settings, beside)


def _in_time(graphic: Graphic, rate: Rate) -> Graph:
    """The slice of an overlay as a stream that begins and ends on the right frames of the piece.

    Fades count in the overlay's own time (its first frame is 1, so that no frame is fully clear),
    which is why the stream is stamped twice.
    """
    part = graphic.slice
    begins = max(0, part.begins)
    skipped = begins - part.begins
    count = part.length - skipped
    frame = _ratio(1 / rate.exact)
    graph = _repeated(source(graphic.file, _ONE_PICTURE), "yuva420p")
    graph = graph.filter("settb", frame).filter("setpts", f"N+{skipped + 1}")
    if part.overlay.kind in _FADING:
        fade = max(1, min(rate.nominal // FADE_FRAMES_A_SECOND, part.length // 2))
        length, out = _whole_micro(fade + 1, rate), _whole_micro(part.length - fade, rate)
        graph = graph.filter("fade", type="in", alpha=1, start_time=0, duration=length)
        graph = graph.filter("fade", type="out", alpha=1, start_time=out, duration=length)
    return graph.filter("trim", end_frame=count).filter("setpts", f"N+{begins}")


def _cell_by_cell(sheet: Sheet, frames: int, rate: Rate) -> Graph:
    """A sheet as a stream that shows cell n with frame n of the piece."""
    graph = _repeated(source(sheet.file, _ONE_PICTURE), "yuva420p")
    graph = graph.filter("settb", _ratio(1 / rate.exact)).filter("setpts", "N")
    if sheet.columns:
        x, y = f"{sheet.width}*mod(n,{sheet.columns})", f"{sheet.height}*floor(n/{sheet.columns})"
        graph = graph.filter("crop", sheet.width, sheet.height, x, y)
    return graph.filter("trim", end_frame=frames)


def _whole_micro(frames: int, rate: Rate) -> str:
    """The time of a frame to the nearest microsecond, the finest that ffmpeg's durations know."""
    return decimal(Fraction(nearest(frames / rate.exact * 1_000_000), 1_000_000))
