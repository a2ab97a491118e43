"""What ffmpeg shall do so that nothing private is left in a frame: arguments only.

The box is filled with plain grey. A blur or coarse cells would look softer, but something of the picture is left in
both, and over the many frames of a video it adds up; of a filled box nothing can be brought back.

It is done first of all, to each frame as it comes from the decoder: before frames are chosen, repeated, held, scaled
or turned. So whatever becomes of a frame later, at any speed, what was private in it is gone.
"""

from __future__ import annotations

from fractions import Fraction

from episodekit.base.box import Box
from episodekit.footage.private import Private
from episodekit.outside.media.ffmpeg_door import Graph, decimal, patched
from episodekit.outside.media.recipes.pieces import Stretch

_GREY = "0x6A6F75"
_GREY_10_BIT = {"y": 400, "u": 512, "v": 512}


def without_private(graph: Graph, stretch: Stretch, *, deep: bool) -> Graph:
    """The clip's frames, still with the container's stamps, with each private box filled for as long as it is.

    `deep` keeps 10 bits, for high dynamic range.
    """
    if deep and stretch.private:
        graph = graph.filter("format", "yuv420p10le")
    for private in stretch.private:
        graph = _patched(graph, private, stretch) if deep else _filled(graph, private, stretch)
    return graph


def _filled(graph: Graph, private: Private, stretch: Stretch) -> Graph:
    box = private.box.stored(stretch.clip.rotation)
    x, y = f"floor(iw*{box.left})", f"floor(ih*{box.top})"
    w, h = f"ceil(iw*{box.right})-floor(iw*{box.left})", f"ceil(ih*{box.bottom})-floor(ih*{box.top})"
    return graph.filter("drawbox", x=x, y=y, w=w, h=h, color=_GREY, t="fill", enable=_while(private, stretch))


def _patched(graph: Graph, private: Private, stretch: Stretch) -> Graph:
    """The same for 10 bits, which the filter that draws boxes lacks: a grey patch laid over, on even pixels."""
    box = private.box.stored(stretch.clip.rotation)
    left, top, right, bottom = (f"{edge.numerator}/{2 * edge.denominator}" for edge in _edges(box))
    frames = graph.filter_multi_output("split")
    w, h = f"2*(ceil(iw*{right})-floor(iw*{left}))", f"2*(ceil(ih*{bottom})-floor(ih*{top}))"
    patch = frames[1].filter("crop", w=w, h=h, x=f"2*floor(iw*{left})", y=f"2*floor(ih*{top})")
    patch = patch.filter("lutyuv", **_GREY_10_BIT)
    x, y = f"2*floor(main_w*{left})", f"2*floor(main_h*{top})"
    return patched(frames[0], patch, x, y, _while(private, stretch))


def _edges(box: Box) -> tuple[Fraction, Fraction, Fraction, Fraction]:
    return box.left, box.top, box.right, box.bottom


def _while(private: Private, stretch: Stretch) -> str:
    """When it is hidden, on the container's clock."""
    first = stretch.clip.first
    return f"between(t,{decimal(first + private.start)},{decimal(first + private.end)})"
