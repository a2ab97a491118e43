"""What ffmpeg shall do to bring a clip's colours to Rec. 709, the draft's: arguments only."""

from __future__ import annotations

from episodekit.footage.model import Clip
from episodekit.outside.media.ffmpeg_door import Graph

HIGH_RANGE = {"arib-std-b67", "smpte2084"}
"""Transfer curves of high dynamic range: HLG and PQ (Rec. 2100), in ffmpeg's names."""

_NEAREST = {"bt2020c": "bt2020nc", "ictcp": "bt2020nc"}
"""Matrices that the scaler lacks and the nearest that it has. Of ICtCp in standard dynamic range no camera is
known."""


def mapped(graph: Graph, clip: Clip, size: dict[str, str]) -> Graph:
    """High dynamic range brought down to Rec. 709. Without a matrix tag it is Rec. 2020's usual one, which
    also serves for its constant-luminance one: the filter knows no way back from that."""
    matrix = clip.matrix if clip.matrix not in ("", "bt2020c") else "bt2020nc"
    graph = _tagged(graph, "bt2020", clip.transfer, "bt2020nc")
    graph = graph.filter("scale", **size, flags="bicubic").filter("format", "yuv420p10le")
    extent = "full" if clip.full_range else "limited"
    known = {"tin": clip.transfer, "pin": "bt2020", "min": matrix, "rin": extent}
    graph = graph.filter("zscale", **known, t="linear", npl=100)
    graph = graph.filter("format", "gbrpf32le").filter("zscale", p="bt709")
    graph = graph.filter("tonemap", "hable", desat=0)
    return graph.filter("zscale", t="bt709", m="bt709", r="limited")


def converted(graph: Graph, clip: Clip, size: dict[str, str], plain: bool) -> Graph:
    """Standard dynamic range brought to the matrix of Rec. 709; curves and primaries stay as they are."""
    matrix = _NEAREST.get(clip.matrix, clip.matrix) or _usual_matrix(clip)
    if plain:
        matrix = "bt709"
    elif matrix == "ycgco":
        extent = "full" if clip.full_range else "limited"
        known = {"tin": "bt709", "pin": "bt709", "min": matrix, "rin": extent}
        graph = graph.filter("zscale", **known, t="bt709", p="bt709", m="bt709", r="limited")
        matrix = "bt709"
    # the scaler refuses frames tagged with curves or matrices that it does not know, such as logarithmic ones
    graph = _tagged(graph, "bt709", "bt709", matrix)
    colours = {"in_color_matrix": matrix, "out_color_matrix": "bt709"}
    return graph.filter("scale", **size, **colours, out_range="tv", flags="bicubic")


def _tagged(graph: Graph, primaries: str, transfer: str, matrix: str) -> Graph:
    """The frames said to be so, whatever they said themselves."""
    return graph.filter("setparams", color_primaries=primaries, color_trc=transfer, colorspace=matrix)


def _usual_matrix(clip: Clip) -> str:
    """Untagged footage: Rec. 709 from 720 lines on, Rec. 601 below. Common practice, no source."""
    return "bt709" if min(clip.width, clip.height) >= 720 else "bt470bg"
