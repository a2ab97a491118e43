"""Shapes with soft edges. In: points and sizes in bench units. Out: a picture, painted too large and then reduced.

One bench unit is one pixel of the top camera.
"""

from __future__ import annotations

import math
from collections.abc import Callable
from itertools import pairwise
from pathlib import Path

from PIL import Image, ImageChops, ImageDraw, ImageFont

OVERSIZE = 3
FONT = Path(__file__).parents[2] / "templates" / "fonts" / "Inter-SemiBold.otf"

Fill = str | tuple[str, str]  # one colour, or a colour at the top and one at the bottom
Point = tuple[float, float]
Points = list[Point]
Box = tuple[float, float, float, float]
Paint = Callable[[ImageDraw.ImageDraw, Points], None]


class Pen:
    """Paints shapes given in bench units; `cut` takes material away instead of adding it."""

    def __init__(self, box: Box, scale: float) -> None:
        self.box, self.s = box, scale * OVERSIZE
        size = (math.ceil((box[2] - box[0]) * scale), math.ceil((box[3] - box[1]) * scale))
        self.image = Image.new("RGBA", (size[0] * OVERSIZE, size[1] * OVERSIZE))

    def _lay(self, points: Points, grow: float, fill: Fill, alpha: float, cut: bool, paint: Paint) -> None:
        """Blend one shape, painting only the rectangle round it."""
        pixels = [((x - self.box[0]) * self.s, (y - self.box[1]) * self.s) for x, y in points]
        pad = grow * self.s + 2
        x0 = max(0, math.floor(min(x for x, _ in pixels) - pad))
        y0 = max(0, math.floor(min(y for _, y in pixels) - pad))
        x1 = min(self.image.width, math.ceil(max(x for x, _ in pixels) + pad))
        y1 = min(self.image.height, math.ceil(max(y for _, y in pixels) + pad))
        if x1 <= x0 or y1 <= y0:
            return
        mask = Image.new("L", (x1 - x0, y1 - y0))
        paint(ImageDraw.Draw(mask), [(x - x0, y - y0) for x, y in pixels])
        if alpha < 1:
            mask = mask.point(lambda v: round(v * alpha))
        if cut:
            kept = ImageChops.multiply(
                self.image.getchannel("A").crop((x0, y0, x1, y1)), ImageChops.invert(mask)
            )
            whole = self.image.getchannel("A")
            whole.paste(kept, (x0, y0))
            self.image.putalpha(whole)
            return
        ink = Image.new("RGBA", mask.size, fill if isinstance(fill, str) else fill[0])
        if isinstance(fill, tuple):
            below = Image.new("RGBA", mask.size, fill[1])
            ink = Image.composite(below, ink, Image.linear_gradient("L").resize(mask.size))
        ink.putalpha(mask)
        self.image.alpha_composite(ink, (x0, y0))

    def slab(
        self, x: float, y: float, w: float, h: float, r: float, fill: Fill, a: float = 1.0, cut: bool = False
    ) -> None:
        """A box with rounded corners, its upper left corner at x, y."""

        def paint(draw: ImageDraw.ImageDraw, p: Points) -> None:
            draw.rounded_rectangle((*p[0], p[1][0] - 1, p[1][1] - 1), r * self.s, fill=255)

        self._lay([(x, y), (x + w, y + h)], 0, fill, a, cut, paint)

    def ring(
        self, x: float, y: float, w: float, h: float, r: float, width: float, fill: Fill, a: float = 1.0
    ) -> None:
        """The outline of a rounded box, its line lying inside the box."""

        def paint(draw: ImageDraw.ImageDraw, p: Points) -> None:
            thick = max(1, round(width * self.s))
            corners = (*p[0], p[1][0] - 1, p[1][1] - 1)
            draw.rounded_rectangle(corners, r * self.s, outline=255, width=thick)

        self._lay([(x, y), (x + w, y + h)], 0, fill, a, False, paint)

    def dot(self, x: float, y: float, r: float, fill: Fill, a: float = 1.0, cut: bool = False) -> None:
        ends = [(x - r, y - r), (x + r, y + r)]
        self._lay(ends, 0, fill, a, cut, lambda d, p: d.ellipse((*p[0], *p[1]), fill=255))

    def poly(self, points: Points, fill: Fill, a: float = 1.0) -> None:
        self._lay(points, 0, fill, a, False, lambda d, p: d.polygon(p, fill=255))

    def line(
        self,
        points: Points,
        width: float,
        fill: Fill,
        a: float = 1.0,
        end: float | None = None,
        curve: bool = True,
    ) -> None:
        """A round-ended stroke through the points; it tapers to `end` when given."""
        path = smooth(points) if curve and len(points) > 2 else dense(points)
        last = width if end is None else end
        radii = [(width + (last - width) * i / (len(path) - 1)) / 2 * self.s for i in range(len(path))]

        def paint(draw: ImageDraw.ImageDraw, p: Points) -> None:
            for (x, y), r in zip(p, radii, strict=True):
                draw.ellipse((x - r, y - r, x + r, y + r), fill=255)

        self._lay(path, max(width, last) / 2, fill, a, False, paint)

    def text(self, x: float, y: float, words: str, size: float, fill: str, anchor: str = "mm") -> None:
        font = ImageFont.truetype(str(FONT), size * self.s)
        at = ((x - self.box[0]) * self.s, (y - self.box[1]) * self.s)
        ImageDraw.Draw(self.image).text(at, words, font=font, fill=fill, anchor=anchor)


def dense(points: Points) -> Points:
    """Points every half unit along straight pieces, so that stamped circles join up."""
    path: Points = []
    for (x0, y0), (x1, y1) in pairwise(points):
        steps = max(2, round(math.hypot(x1 - x0, y1 - y0) * 2))
        path += [(x0 + (x1 - x0) * i / steps, y0 + (y1 - y0) * i / steps) for i in range(steps + 1)]
    return path


def smooth(points: Points) -> Points:
    """A Catmull-Rom curve through the points."""

    def along(u: float, v: float, w: float, z: float, t: float) -> float:
        return (2 * v + (w - u) * t + (2 * u - 5 * v + 4 * w - z) * t**2 + (3 * v - u - 3 * w + z) * t**3) / 2

    p = [points[0], *points, points[-1]]
    curve = [
        (along(a[0], b[0], c[0], d[0], i / 12), along(a[1], b[1], c[1], d[1], i / 12))
        for a, b, c, d in zip(p, p[1:], p[2:], p[3:], strict=False)
        for i in range(13)
    ]
    return dense(curve)
