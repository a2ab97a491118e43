"""The draft as an OpenTimelineIO timeline, which editors open with the raw footage in place.

Source: the OpenTimelineIO documentation, through its library. Tracks: the picture, the sound of the bench as the
draft has it, the narration. It begins at 01:00:00:00 of record time.

- Footage is a clip. Its media lies beside the job, by an address relative to this file. What lies around the
  part that is used, its handles, is the media's available range.
- A clip's range begins at the clip's own rate and timecode, and is as long as it is on the track, in frames of the
  draft: so lengths are whole and add up. Frame n shows the source's frame on screen at
  `start + n / rate * time scalar`. The draft shows the same one, but in a strong time-lapse, which it may cut from
  key frames: there it is older by less than a frame of the draft.
- A change of speed is a linear time warp, a held picture a freeze frame, a slate a generator named "slate" with
  its words as parameters.
- Markers lie on the stack of tracks. Their metadata says what each marks.

Rates are binary fractions here; the exact ones stand in the metadata, as do numbers of shots and the gain of
sound that is heard lower. What it cannot carry: boards over the picture (titles, cautions, disclosures, codes), the
lowering of the bench under speech, and fades. It names the raw footage, so what is private can be seen in it: a
marker tells where, and which box to hide again.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from fractions import Fraction
from urllib.parse import quote

import opentimelineio as otio

from episodekit.base.time import Frames, Rate, nearest
from episodekit.footage.model import Clip
from episodekit.timeline.cuts import BED_DB, Cut, Hearing, cuts_of, first_label, record_start
from episodekit.timeline.markers import Marker, MarkerKind
from episodekit.timeline.model import Card, Timeline
from episodekit.timeline.narration import Line

_OURS = "episodekit"
_SOUND_RATE = 48_000
_TO_JOB = "../../"
"""From out/pack, where the file lies, to the job folder."""

_COLOURS = {
    MarkerKind.CHAPTER: otio.schema.MarkerColor.GREEN,
    MarkerKind.AD_BREAK: otio.schema.MarkerColor.YELLOW,
    MarkerKind.READ: otio.schema.MarkerColor.RED,
    MarkerKind.STEP: otio.schema.MarkerColor.BLUE,
    MarkerKind.BEAT: otio.schema.MarkerColor.CYAN,
    MarkerKind.PRIVATE: otio.schema.MarkerColor.MAGENTA,
}


def write_otio(
    timeline: Timeline,
    clips: Mapping[str, Clip],
    narration: Sequence[Line] = (),
    markers: Sequence[Marker] = (),
) -> str:
    """The file's text. Raises KeyError for a clip that is not in `clips`."""
    rate = timeline.rate
    cuts = cuts_of(timeline, clips)
    told = {
        "rate": str(rate.exact),
        "drop_frame": rate.drop,
        "width": timeline.width,
        "height": timeline.height,
    }
    made = otio.schema.Timeline(
        timeline.title, global_start_time=_time(record_start(rate), rate), metadata={_OURS: told}
    )
    made.tracks.append(_track("Picture", "Video", [_picture(cut, rate) for cut in cuts]))
    made.tracks.append(_track("Bench sound", "Audio", [_bench(cut, rate) for cut in cuts]))
    made.tracks.append(_track("Narration", "Audio", _narration(narration)))
    made.tracks.markers.extend(_marker(marker, rate) for marker in markers)
    return f"{made.to_json_string(indent=2)}\n"


def _track(name: str, kind: str, items: Sequence[otio.core.Item]) -> otio.schema.Track:
    return otio.schema.Track(name, list(items), kind=kind)


def _float(value: Fraction | int) -> float:
    """In 15 digits: the library writes more, but does not read them back as they were."""
    return float(f"{float(value):.15g}")


def _time(frames: Fraction | int, rate: Rate | int) -> otio.opentime.RationalTime:
    return otio.opentime.RationalTime(_float(frames), float(rate.exact if isinstance(rate, Rate) else rate))


def _range(
    start: Fraction | int, start_rate: Rate | int, length: int, rate: Rate | int
) -> otio.opentime.TimeRange:
    return otio.opentime.TimeRange(_time(start, start_rate), _time(length, rate))


def _gap(length: int, rate: Rate | int) -> otio.schema.Gap:
    return otio.schema.Gap(source_range=_range(0, rate, length, rate))


def _picture(cut: Cut, rate: Rate) -> otio.schema.Clip:
    segment = cut.segment
    told: dict[str, object] = {"step": segment.step, "shot": segment.shot}
    if cut.source is None:
        assert isinstance(segment.source, Card)
        return _slate(segment.source, cut, rate, told)
    source = cut.source
    told |= {"frame": str(source.frame), "speed": str(source.speed)}
    effects = []
    if source.speed == 0:
        effects.append(otio.schema.FreezeFrame("hold"))
    elif source.speed != 1:
        effects.append(otio.schema.LinearTimeWarp("ramp", _float(source.speed)))
    return _clip(source.clip, source.frame, cut.frames, rate, effects, told)


def _slate(card: Card, cut: Cut, rate: Rate, told: Mapping[str, object]) -> otio.schema.Clip:
    whole = _range(0, rate, cut.frames, rate)
    words = {
        "heading": card.heading,
        "kicker": card.kicker,
        "lines": list(card.lines),
        "words": card.words,
        "cautions": list(card.cautions),
    }
    made = otio.schema.GeneratorReference(
        card.heading, generator_kind="slate", available_range=whole, parameters=words
    )
    return otio.schema.Clip(
        card.heading,
        media_reference=made,
        source_range=whole,
        metadata={_OURS: {**told, "slate": words}},
    )


def _bench(cut: Cut, rate: Rate) -> otio.core.Item:
    heard = cut.heard
    if heard is None or cut.source is None:
        return _gap(cut.frames, rate)
    told: dict[str, object] = {"step": cut.segment.step, "shot": cut.segment.shot}
    told["stream"] = heard.clip.audio_stream
    effects = []
    if heard.hearing is Hearing.UNDER:
        told["gain_db"] = BED_DB
    elif cut.source.speed != 1:
        effects.append(otio.schema.LinearTimeWarp("ramp", _float(cut.source.speed)))
    return _clip(heard.clip, heard.start * heard.clip.rate.exact, cut.frames, rate, effects, told)


def _clip(
    clip: Clip,
    frame: Fraction,
    length: Frames,
    rate: Rate,
    effects: Sequence[otio.schema.LinearTimeWarp],
    told: Mapping[str, object],
) -> otio.schema.Clip:
    """A clip of footage whose first frame is `frame` of its media."""
    label = first_label(clip)
    zero = label[1] if label else Frames(0)
    there = _range(zero, clip.rate, nearest(clip.duration * clip.rate.exact), clip.rate)
    about = {"path": clip.path, "rate": str(clip.rate.exact), "variable_rate": clip.variable}
    if clip.start_timecode is not None:
        about["start_timecode"] = clip.start_timecode
    media = _media(clip.path, there, about)
    part = _range(zero + frame, clip.rate, length, rate)
    return otio.schema.Clip(
        media.name,
        media_reference=media,
        source_range=part,
        metadata={_OURS: dict(told)},
        effects=list(effects),
    )


def _media(
    path: str, there: otio.opentime.TimeRange | None, about: Mapping[str, object]
) -> otio.schema.ExternalReference:
    made = otio.schema.ExternalReference(
        _TO_JOB + quote(path), available_range=there, metadata={_OURS: dict(about)}
    )
    made.name = path.rpartition("/")[2]
    return made


def _narration(lines: Sequence[Line]) -> list[otio.core.Item]:
    """Takes at their beats, in samples: 48 to a millisecond."""
    a_ms = _SOUND_RATE // 1000
    items: list[otio.core.Item] = []
    at = 0
    for line in lines:
        if line.at > at:
            items.append(_gap((line.at - at) * a_ms, _SOUND_RATE))
        # how long the recording is was not asked, so it has no available range
        media = _media(line.file, None, {"path": line.file})
        part = _range(line.start * a_ms, _SOUND_RATE, line.length * a_ms, _SOUND_RATE)
        told = {_OURS: {"beat": line.beat}}
        items.append(otio.schema.Clip(line.beat, media_reference=media, source_range=part, metadata=told))
        at = line.at + line.length
    return items


def _marker(marker: Marker, rate: Rate) -> otio.schema.Marker:
    told = {"kind": marker.kind.value, "id": marker.id}
    # editors show no marker without length
    where = _range(marker.at, rate, max(1, marker.frames), rate)
    return otio.schema.Marker(
        marker.name,
        marked_range=where,
        color=_COLOURS[marker.kind],
        metadata={_OURS: told},
        comment=marker.text,
    )
