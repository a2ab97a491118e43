"""Text set into a box: wrapped, shrunk to a floor, then ended with an ellipsis.

Sizes and positions are whole pixels. A word longer than a line is broken where the line ends.
"""

from __future__ import annotations

import re
import unicodedata
from dataclasses import dataclass, replace
from math import ceil
from pathlib import Path

from PIL import Image, ImageDraw

from episodekit.outside.media.drawing.breaks import BREAK, clusters_of, is_right_to_left, leads_of, pieces_of
from episodekit.outside.media.drawing.fonts import can_shape, characters, face, is_silent, is_steering

# No frame holds more at a readable size, so a book pasted into a plan costs no more than a page.
LONGEST_TEXT = 4000
MOST_EVENED = 8  # lines; a longer text has no short last line that would catch the eye
# Spaces at which a line may end; no-break spaces keep a figure with its unit.
_SPACES = re.compile(r"[ \t\n\r\f\v\x1c-\x1f\x85\u1680\u2000-\u2006\u2008-\u200a\u2028\u2029\u205f\u3000]+")


@dataclass(frozen=True)
class SetText:
    """Text in lines at one size. `baselines` count from the block's top; `whole` is False after an
    ellipsis. Every line is at most `width` wide. `leads` are invisible marks that go before each line where it
    would run another way by itself."""

    font: Path
    size: int
    lines: tuple[str, ...]
    baselines: tuple[int, ...]
    width: int
    height: int
    whole: bool = True
    leads: tuple[str, ...] = ()

    @property
    def backwards(self) -> bool:
        """Whether it begins on the right."""
        return bool(self.lines) and is_right_to_left(self.leads[0] + self.lines[0])

    def indent(self, room: int) -> int:
        """How far from the left it stands in a column that is `room` wide."""
        return max(0, room - self.width) if self.backwards else 0

    @property
    def overhang(self) -> int:
        """Room that slanted letters and tall accents may need all round the block, in pixels."""
        return -(-self.size // 8)


@dataclass(frozen=True)
class Style:
    """How a text is set: largest and smallest size in pixels, `leading` (line pitch), `gap` (extra
    space between paragraphs), both in ems; `even` makes the lines about equally long. `last`, if not 0,
    is a size below the smallest, for texts that would be cut otherwise."""

    font: Path
    largest: int
    smallest: int
    leading: float = 1.3
    gap: float = 0.0
    even: bool = False
    last: int = 0


def set_text(paragraphs: tuple[str, ...], style: Style, width: int, height: int, lines: int = 99) -> SetText:
    """The paragraphs at the largest size at which they fit into the box and into so many lines, their
    words unbroken if the smallest size allows it.

    If they do not fit at the smallest size either, as many lines as fit, the last ending in an
    ellipsis; no line at all when not even one fits.
    """
    known = characters(style.font)
    texts = tuple(text for text in (clean(p, known) for p in paragraphs) if text)
    size = _largest_fitting(texts, style, width, height, lines)
    return _at_size(texts, style, size, width, height, lines)


def clean(text: str, known: frozenset[str]) -> str:
    """Text as it is drawn: composed letters, single spaces, no controls, no silent characters that
    the font would show as boxes, at most `LONGEST_TEXT` characters."""
    cut = len(text) > LONGEST_TEXT
    # Half a surrogate pair is no character; the replacement character says so on screen.
    whole = text[:LONGEST_TEXT].encode("utf-16", "surrogatepass").decode("utf-16", "replace")
    spaced = _SPACES.sub(" ", unicodedata.normalize("NFC", whole))
    steers = can_shape()
    kept = "".join(
        c
        for c in spaced
        if not is_silent(c)
        or c == BREAK
        or (steers and is_steering(c))
        or (c in known and unicodedata.category(c) != "Cc")
    )
    return kept.strip() + (_ellipsis(known) if cut else "")


def ink(text: SetText) -> Image.Image:
    """The text's coverage (mode L), `overhang` larger than the block on every side, cut at its edges."""
    side = text.overhang
    mask = Image.new("L", (text.width + 2 * side, text.height + 2 * side), 0)
    pen = ImageDraw.Draw(mask)
    letters = face(text.font, text.size)
    for number, (line, baseline) in enumerate(zip(text.lines, text.baselines, strict=True)):
        place = (side + left_of(text, number), side + baseline)
        pen.text(place, text.leads[number] + line, fill=255, font=letters, anchor="ls")
    return mask


def left_of(text: SetText, number: int) -> int:
    """Where a line begins, from the block's left: lines of a paragraph that runs from right to left end together."""
    line = text.leads[number] + text.lines[number]
    return text.width - round(face(text.font, text.size).getlength(line)) if is_right_to_left(line) else 0


def _largest_fitting(texts: tuple[str, ...], style: Style, width: int, height: int, lines: int) -> int:
    """The largest size of the style at which the texts fit whole, else its smallest."""
    plain = replace(style, even=False)
    high = _unbroken(texts, style, width)
    low = min(style.smallest, high)
    if (low == high and not style.last) or _at_size(texts, plain, high, width, height, lines).whole:
        return high
    if style.last and not _at_size(texts, plain, low, width, height, lines).whole:
        low, high = min(style.last, low), low
    while high - low > 1:  # the text does not fit at `high`; whether it does at `low` shows in the end
        middle = (low + high) // 2
        if _at_size(texts, plain, middle, width, height, lines).whole:
            low = middle
        else:
            high = middle
    return low


def _unbroken(texts: tuple[str, ...], style: Style, width: int) -> int:
    """The style's largest size, or a smaller one at which the longest word fits on a line."""
    largest = max(style.smallest, style.largest)
    letters = face(style.font, largest)
    # The widest word is among the longest; to measure all of a long text would cost more than it brings.
    longest = sorted({piece.rstrip(" ") for text in texts for piece in pieces_of(text)}, key=len)[-4:]
    widest = max((letters.getlength(piece) for piece in longest), default=0)
    least = style.last or style.smallest
    fitting = min(largest, int(largest * width / widest) + 1) if widest > width else largest
    while fitting > least and max(map(face(style.font, fitting).getlength, longest), default=0) > width:
        fitting -= 1  # letters of few pixels are not simply smaller ones of many
    return fitting if fitting >= least and fitting * widest <= (largest + 1) * width else largest


def _at_size(texts: tuple[str, ...], style: Style, size: int, width: int, height: int, limit: int) -> SetText:
    """The texts at one size, cut to the box."""
    ascent, descent = face(style.font, size).getmetrics()
    pitch = max(round(style.leading * size), ascent + descent)
    gap = round(style.gap * size)
    rise = (pitch - ascent - descent) // 2 + ascent
    lines: list[str] = []
    leads: list[str] = []
    baselines: list[int] = []
    top, whole = 0, True
    for text in texts:
        start = top + (gap if lines else 0)
        room = min(limit - len(lines), max(0, (height - start) // pitch))
        wrapped = _wrap(text, style.font, size, width, room + 1)
        if style.even and 1 < len(wrapped) <= min(room, MOST_EVENED):
            wrapped = _evened(text, style.font, size, width, wrapped)
        if len(wrapped) > room:
            whole = False
        shown = wrapped[:room]
        lines += shown
        leads += leads_of(text, shown)
        baselines += [start + index * pitch + rise for index in range(len(shown))]
        top = start + len(shown) * pitch if shown else top
        if not whole:
            break
    if not whole and lines:
        lines[-1] = _shortened(lines[-1], style.font, size, width)
    letters = face(style.font, size)
    widest = max((ceil(letters.getlength(line)) for line in lines), default=0)
    return SetText(
        style.font, size, tuple(lines), tuple(baselines), min(widest, width), top, whole, tuple(leads)
    )


def _wrap(text: str, font: Path, size: int, width: int, limit: int) -> list[str]:
    """Lines of at most `width`, filled one after the other; stops after `limit` lines."""
    pieces = list(pieces_of(text))
    lines: list[str] = []
    start, guess = 0, 8
    while start < len(pieces) and len(lines) < limit:
        count = _fitting(pieces, start, guess, font, size, width)
        if count:
            lines.append("".join(pieces[start : start + count]).rstrip(" "))
            start, guess = start + count, count
        else:  # one word longer than a line: as much of it as fits, the rest is a word of its own
            head = _head(pieces[start], font, size, width)
            if " " in head:  # a figure and its unit that need more than a line
                head = head[: head.index(" ") + 1]
            lines.append(head.rstrip(" "))
            pieces[start] = pieces[start][len(head) :].lstrip(" ")
            start += not pieces[start]
    return lines


def _fitting(pieces: list[str], start: int, guess: int, font: Path, size: int, width: int) -> int:
    """How many pieces from `start` on fit on a line.

    Measuring is the dear part (each change of script is shaped anew), so the search starts at `guess`,
    mostly the count of the line before, and widens from there.
    """
    letters = face(font, size)
    low, high = 0, len(pieces) - start + 1  # so many fit, so many do not
    count, step = min(guess, high - 1), 1
    while high - low > 1:
        if letters.getlength("".join(pieces[start : start + count]).rstrip(" ")) <= width:
            low, count = count, min(count + step, high - 1)
        else:
            high, count = count, max(count - step, low + 1)
        step *= 2
    return low


def _evened(text: str, font: Path, size: int, width: int, wrapped: list[str]) -> list[str]:
    """The same number of lines in a narrower width that still holds them, so none is left very short."""
    letters = face(font, size)
    longest = max(letters.getlength(piece.rstrip(" ")) for piece in set(pieces_of(text)))
    low, high = min(width, max(width // 2, ceil(longest))), width
    while high - low > size // 3:
        middle = (low + high) // 2
        attempt = _wrap(text, font, size, middle, len(wrapped) + 1)
        if len(attempt) <= len(wrapped):
            wrapped, high = attempt, middle
        else:
            low = middle + 1
    return wrapped


def _shortened(line: str, font: Path, size: int, width: int) -> str:
    """The line with an ellipsis, as much of it as fits."""
    mark = _ellipsis(characters(font))
    letters = face(font, size)
    kept = clusters_of(line)
    while kept and letters.getlength("".join(kept).rstrip() + mark) > width:
        kept.pop()
    return "".join(kept).rstrip(" .,;:–—…") + mark


def _head(word: str, font: Path, size: int, width: int) -> str:
    """The longest beginning of a word that fits; at least one letter with its marks."""
    clusters = clusters_of(word.rstrip(" "))
    letters = face(font, size)
    low, high = 1, len(clusters)
    while low < high:
        middle = (low + high + 1) // 2
        if letters.getlength("".join(clusters[:middle])) <= width:
            low = middle
        else:
            high = middle - 1
    return "".join(clusters[:low])


def _ellipsis(known: frozenset[str]) -> str:
    """One ellipsis character, or three stops in a font without it."""
    return "…" if "…" in known else "..."
