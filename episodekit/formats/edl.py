"""The draft as an edit decision list, the plain text that nearly every editor has read for decades.

The layout is that of SMPTE ST 258, which was not seen: the columns are common practice, as two readers of others
take them apart; the M2 line is told by a deck maker's user guide (reel, frames a second relative to the raster's
rate, timecode; 000.0 is a freeze).

- Record time begins at 01:00:00:00. All labels count at the draft's rate; `;` before the frame is a drop-frame
  label. A clip at the draft's rate keeps its own start timecode and its own way of counting; of a clip at another
  rate the labels go on from its first, at the draft's rate, to the nearest frame. A clip without a timecode
  begins at 00:00:00:00.
- A change of speed has an M2 line, and its source runs as long as it plays times the speed, to the nearest frame. A
  hold is an event of its own: one frame of source and M2 000.0. Above 999.9 frames a second M2 takes a digit more.
- Sound is AA with the picture (AA/V), or an event of its own where it plays at another speed than the picture.
- A reel is eight letters and digits of the clip's name, different for each clip; BL is black, and stands for a slate.
  Names are plain ASCII; only `* SOURCE FILE` has the file as it is called, relative to the job folder.
- Chapters, reads, ad breaks and where something private begins are `* LOC:` remarks (common practice, no source).
- An event has a number of three digits, so after 999 a list ends and another begins.

What it cannot carry: narration (takes have no timecode), loudness and fades, steps, beats and boards, the words on a
slate, the gain of lowered sound, handles, rates other than the draft's, frames past 24 hours. It names the raw
footage, so what is private can be seen in it.
"""

from __future__ import annotations

import re
import unicodedata
from collections.abc import Iterable, Iterator, Mapping, Sequence
from contextlib import suppress
from fractions import Fraction
from math import ceil, floor

from episodekit.base.text import one_line
from episodekit.base.time import Frames, Rate, nearest
from episodekit.base.timecode import frames_to_label, has_labels, label_to_frames
from episodekit.footage.model import Clip
from episodekit.footage.rates import timecode_rate
from episodekit.timeline.cuts import Cut, Hearing, Source, cuts_of, first_label, record_start
from episodekit.timeline.markers import Marker, MarkerKind
from episodekit.timeline.model import Card, Timeline

MOST_EVENTS = 999
_REEL = 8
_BLACK = "BL"
_TAKEN = {_BLACK, "AX", ""}
_TITLE = 70
_PLAIN = str.maketrans({"‘": "'", "’": "'", "“": '"', "”": '"', "–": "-", "—": "-", "…": "...", "×": "x"})
_COLOURS = {
    MarkerKind.CHAPTER: "GREEN",
    MarkerKind.READ: "RED",
    MarkerKind.AD_BREAK: "YELLOW",
    MarkerKind.PRIVATE: "MAGENTA",
}


def write_edl(
    timeline: Timeline, clips: Mapping[str, Clip], markers: Sequence[Marker] = ()
) -> tuple[str, ...]:
    """The lists, of at most `MOST_EVENTS` events each; record time runs on from one to the next.

    Raises ValueError for a rate without timecode, KeyError for a clip that is not in `clips`.
    """
    rate = timeline.rate
    if not has_labels(rate):
        raise ValueError(f"there is no timecode at {rate} frames a second")
    reels = reels_of(clips)
    cuts = cuts_of(timeline, clips)
    located = [marker for marker in markers if marker.kind in _COLOURS]
    lists: list[list[str]] = [[]]
    number = 0
    for cut in cuts:
        events = list(_events(cut, rate, reels))
        if number + len(events) > MOST_EVENTS:
            lists.append([])
            number = 0
        for event in events:
            number += 1
            lists[-1] += [f"{number:03d}  {event[0]}", *event[1:]]
        end = cut.at + cut.frames if cut is not cuts[-1] else record_start(rate) + cut.at + cut.frames
        lists[-1] += [_locator(m, rate) for m in located if cut.at <= m.at < end]
    count = len(lists)
    title = plain(timeline.title)[:_TITLE].rstrip() or "Episode"
    mode = "FCM: DROP FRAME" if rate.drop else "FCM: NON-DROP FRAME"
    return tuple(
        "\n".join([f"TITLE: {title}{f' ({at} of {count})' if count > 1 else ''}", mode, *lines, ""])
        for at, lines in enumerate(lists, 1)
    )


def plain(text: str) -> str:
    """A text in ASCII on one line; letters lose their accents, other signs are left out.

    >>> plain("Café — 4 × M3")
    'Cafe - 4 x M3'
    """
    letters = unicodedata.normalize("NFKD", one_line(text).translate(_PLAIN))
    return " ".join(letters.encode("ascii", "ignore").decode("ascii").split())


def reels_of(clips: Iterable[str]) -> Mapping[str, str]:
    """A reel for each path: its file's name in eight letters, digits and underscores; no two alike.

    >>> dict(reels_of(["footage/top-1.mp4", "footage/a/top_1.mov", "footage/overhead-12.mp4"]))
    {'footage/a/top_1.mov': 'TOP_1', 'footage/overhead-12.mp4': 'OVERHEAD', 'footage/top-1.mp4': 'TOP_1_2'}
    """
    reels: dict[str, str] = {}
    taken = set(_TAKEN)
    for path in sorted(clips):
        stem = plain(path.rpartition("/")[2]).rpartition(".")[0].upper()
        name = re.sub(r"[^A-Z0-9]+", "_", stem).strip("_") or "CLIP"
        reel, count = name[:_REEL], 1
        while reel in taken:
            count += 1
            reel = f"{name[: _REEL - 1 - len(str(count))]}_{count}"
        reels[path] = reel
        taken.add(reel)
    return reels


def _events(cut: Cut, rate: Rate, reels: Mapping[str, str]) -> Iterator[list[str]]:
    """The events of a cut without their numbers: the line of columns, and what follows it."""
    source, heard = cut.source, cut.heard
    if source is None:
        assert isinstance(cut.segment.source, Card)
        card = cut.segment.source
        labels = (frames_to_label(Frames(0), rate), frames_to_label(cut.frames, rate))
        name = " - ".join(filter(None, (plain(card.kicker), plain(card.heading)))) or "Slate"
        yield [_columns(_BLACK, "V", labels, cut, rate), f"* FROM CLIP NAME: SLATE {name}"]
        return
    yield _event(source, "AA/V" if heard is not None and heard.own else "V", cut, rate, reels)
    if heard is not None and not heard.own:
        speed = source.speed if heard.hearing is Hearing.ALONG else Fraction(1)
        frame = Fraction(nearest(heard.start * heard.clip.rate.exact))
        yield _event(Source(heard.clip, frame, speed), "AA", cut, rate, reels)


def _event(source: Source, channels: str, cut: Cut, rate: Rate, reels: Mapping[str, str]) -> list[str]:
    """Footage under a cut: its columns, its motion, its names."""
    path = source.clip.path
    reel = reels[path]
    labels = _source_labels(source, max(1, nearest(cut.frames * source.speed)), rate)
    motion = [] if source.speed == 1 else [f"M2   {reel:<8} {_speed(source.speed, rate):>11} {labels[0]:>24}"]
    return [
        _columns(reel, channels, labels, cut, rate),
        *motion,
        f"* FROM CLIP NAME: {plain(path.rpartition('/')[2]) or reel}",
        f"* SOURCE FILE: {one_line(path)}",
    ]


def _columns(reel: str, channels: str, source: tuple[str, str], cut: Cut, rate: Rate) -> str:
    at = record_start(rate) + cut.at
    record = (frames_to_label(Frames(at), rate), frames_to_label(Frames(at + cut.frames), rate))
    return f"{reel:<8} {channels:<4}  C        {' '.join((*source, *record))}"


def _speed(speed: Fraction, rate: Rate) -> str:
    """Frames a second, where the draft's whole number of them is normal; to the nearest tenth."""
    tenths = nearest(speed * rate.nominal * 10)
    return f"{tenths // 10:03d}.{tenths % 10}"


def _source_labels(source: Source, length: int, rate: Rate) -> tuple[str, str]:
    """The labels of the first frame and of the first one not used, `length` frames of the draft's rate later."""
    begins, counted = first_label(source.clip), rate
    zero = Frames(0)
    if begins is not None:
        own, zero = begins
        if own.exact == rate.exact:
            counted = own
        else:
            zero = _same_time(frames_to_label(zero, own), own, rate)
    at = Frames(zero + _place(source.clip, source.frame, rate))
    return frames_to_label(at, counted), frames_to_label(Frames(at + length), counted)


def _place(clip: Clip, frame: Fraction, rate: Rate) -> int:
    """The draft's frames from the clip's first frame to the one shown.

    A slower clip's frame lasts several labels, and the first within it is taken; of a faster clip's frames the
    nearest label is, since not each has one of its own.
    """
    if clip.variable:
        return nearest(frame / clip.rate.exact * rate.exact)
    if timecode_rate(clip.rate, drop=False).exact == rate.exact:
        return floor(frame)
    place = floor(frame) / clip.rate.exact * rate.exact
    return ceil(place) if clip.rate.exact < rate.exact else nearest(place)


def _same_time(label: str, own: Rate, rate: Rate) -> Frames:
    """The frame whose label at `rate` has the same hours, minutes, seconds and share of a second."""
    share = int(label[9:]) * rate.nominal // own.nominal
    sign = ";" if rate.drop else ":"
    for frame in range(share, rate.nominal):
        with suppress(ValueError):  # drop-frame counting skips some labels
            return label_to_frames(f"{label[:8]}{sign}{frame:02d}", rate)
    raise AssertionError("a second has labels")


def _locator(marker: Marker, rate: Rate) -> str:
    label = frames_to_label(Frames(record_start(rate) + marker.at), rate)
    name = plain(marker.name) or marker.kind.value
    return f"* LOC: {label} {_COLOURS[marker.kind]:<7} {marker.kind.value.upper()} {name}"
