"""A camera over the bench. In: layers, lowest first. Out: the frame's pixels."""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np
from PIL import Image, ImageChops

from drawn_bench.pen import OVERSIZE, Pen, Point
from drawn_bench.sprites import picture
from drawn_bench.things import bench

SIZE = (1280, 720)

Matrix = tuple[float, float, float, float, float, float]  # x' = a x + b y + c;  y' = d x + e y + f
Placed = tuple[Image.Image, tuple[int, int]]


@dataclass(frozen=True)
class Layer:
    """One sprite as the frame shows it: where its units land on the bench, and how solid it is."""

    sprite: str
    state: int | None
    place: Matrix
    alpha: float = 1.0
    shadow: float | None = None  # the blur in units, when this is a shadow of the sprite


class Camera:
    """Looks at the bench from above: `scale` pixels a unit, `centre` in the middle, turned by `turn` degrees."""

    def __init__(self, scale: float, centre: Point, turn: float, tint: tuple[int, int, int]) -> None:
        self.scale = scale
        cos, sin = (scale * f(math.radians(turn)) for f in (math.cos, math.sin))
        x, y = centre
        self.view: Matrix = (cos, -sin, 640 - cos * x + sin * y, sin, cos, 360 - sin * x - cos * y)
        self._light = light_map(tint)
        half = (640 + 150) / scale, (360 + 250) / scale
        window = (x - half[0], y - half[1], x + half[0], y + half[1])
        pen = Pen(window, scale)
        bench(pen)
        self._ground = Image.new("RGBA", SIZE, "#d8b489")
        ground = pen.image.reduce(OVERSIZE)
        part, at = self._placed(ground, self.view, window[:2], 1, Image.Resampling.BICUBIC)
        self._ground.alpha_composite(part, at)
        self._held: tuple[tuple[Layer, ...], Image.Image] = ((), self._ground)
        self._last: tuple[Layer, ...] = ()
        self._parts: dict[Layer, Placed] = {}

    def frame(self, layers: tuple[Layer, ...]) -> bytes:
        """The frame's RGB bytes. What stayed as it was since the last frame is not painted again."""
        self._parts = {layer: self._parts.get(layer) or self._part(layer) for layer in layers}
        same = 0
        while same < min(len(layers), len(self._last)) and layers[same] == self._last[same]:
            same += 1
        held, base = self._held
        if layers[: len(held)] != held:
            held, base = (), self._ground
        if same > len(held):
            base = base.copy()
            self._stack(base, layers[len(held) : same])
            held = layers[:same]
        self._held, self._last = (held, base), layers
        image = base.copy()
        self._stack(image, layers[len(held) :])
        return ImageChops.multiply(image.convert("RGB"), self._light).tobytes()

    def _stack(self, image: Image.Image, layers: tuple[Layer, ...]) -> None:
        for layer in layers:
            part, corner = self._parts[layer]
            image.alpha_composite(part, corner)

    def _part(self, layer: Layer) -> Placed:
        sprite, x, y = picture(layer.sprite, layer.state, layer.shadow, self.scale)
        way = Image.Resampling.BICUBIC if layer.shadow is None else Image.Resampling.BILINEAR
        return self._placed(sprite, multiply(self.view, layer.place), (x, y), layer.alpha, way)

    def _placed(
        self, sprite: Image.Image, place: Matrix, corner: Point, alpha: float, way: Image.Resampling
    ) -> Placed:
        """The sprite as it lands in the frame, cut to the frame, and where its corner goes."""
        a, b, c, d, e, f = place
        a, b, d, e = a / self.scale, b / self.scale, d / self.scale, e / self.scale
        c += (a * corner[0] + b * corner[1]) * self.scale
        f += (d * corner[0] + e * corner[1]) * self.scale
        ends = [(c + a * u + b * v, f + d * u + e * v) for u in (0, sprite.width) for v in (0, sprite.height)]
        x0, y0 = (max(0, math.floor(min(p[i] for p in ends))) for i in (0, 1))
        x1, y1 = (min(SIZE[i], math.ceil(max(p[i] for p in ends))) for i in (0, 1))
        det = a * e - b * d
        if x1 <= x0 or y1 <= y0 or abs(det) < 1e-3:
            return Image.new("RGBA", (1, 1)), (0, 0)
        c, f = c - x0, f - y0
        back = (e / det, -b / det, (b * f - e * c) / det, -d / det, a / det, (d * c - a * f) / det)
        part = sprite.transform((x1 - x0, y1 - y0), Image.Transform.AFFINE, back, way)
        if alpha < 1:
            part.putalpha(part.getchannel("A").point(lambda v: round(v * alpha)))
        return part, (x0, y0)


def multiply(m: Matrix, n: Matrix) -> Matrix:
    """The matrix that first does `n`, then `m`."""
    a, b, c, d, e, f = m
    g, h, i, j, k, q = n
    return (
        *(a * g + b * j, a * h + b * k, a * i + b * q + c),
        *(d * g + e * j, d * h + e * k, d * i + e * q + f),
    )


def light_map(tint: tuple[int, int, int]) -> Image.Image:
    """A lamp at the upper left: warm and full there, a little less towards the far corner."""
    y, x = np.mgrid[0 : SIZE[1], 0 : SIZE[0]]
    far = np.hypot((x - 470) / 980, (y - 250) / 700)
    level = 1 - 0.26 * np.clip(far - 0.25, 0, 1) ** 1.5
    rgb = np.clip(level[..., None] * np.array(tint), 0, 255)
    return Image.fromarray(rgb.round().astype(np.uint8))
