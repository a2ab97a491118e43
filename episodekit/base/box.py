"""A rectangle of the picture as a viewer sees it: upright, in shares of its width and height. Exact."""

from __future__ import annotations

from dataclasses import dataclass
from fractions import Fraction


@dataclass(frozen=True)
class Box:
    """From the upper left corner (`left`, `top`) to the lower right one, each from 0 to 1 of the picture.

    Bars beside or over the picture are no part of it.
    """

    left: Fraction
    top: Fraction
    right: Fraction
    bottom: Fraction

    def grown(self, by: Fraction) -> Box:
        """The box with a margin of this share of the picture on each side, as far as the picture goes."""
        return Box(
            max(Fraction(0), self.left - by),
            max(Fraction(0), self.top - by),
            min(Fraction(1), self.right + by),
            min(Fraction(1), self.bottom + by),
        )

    def around(self, other: Box) -> Box:
        """The smallest box that holds both, and so whatever lies on the straight way from one to the other."""
        return Box(
            min(self.left, other.left),
            min(self.top, other.top),
            max(self.right, other.right),
            max(self.bottom, other.bottom),
        )

    def stored(self, rotation: int) -> Box:
        """Where it lies in the picture as the camera stored it, which a player turns counter-clockwise by
        `rotation` degrees, a multiple of 90.

        >>> corner = Box(Fraction(0), Fraction(0), Fraction(1, 4), Fraction(1, 3))
        >>> corner.stored(90)  # the upper left corner as seen was stored at the upper right
        Box(left=Fraction(2, 3), top=Fraction(0, 1), right=Fraction(1, 1), bottom=Fraction(1, 4))
        """
        turn = rotation % 360
        if turn == 90:
            return Box(1 - self.bottom, self.left, 1 - self.top, self.right)
        if turn == 180:
            return Box(1 - self.right, 1 - self.bottom, 1 - self.left, 1 - self.top)
        if turn == 270:
            return Box(self.top, 1 - self.right, self.bottom, 1 - self.left)
        return self


WHOLE_PICTURE = Box(Fraction(0), Fraction(0), Fraction(1), Fraction(1))
