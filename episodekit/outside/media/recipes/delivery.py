"""What ffmpeg shall do to join the pieces into the file that is delivered: arguments only."""

from __future__ import annotations

from episodekit.base.time import Rate
from episodekit.outside.media.ffmpeg_door import Command, command, source
from episodekit.outside.media.recipes.sound import SAMPLE_RATE

AUDIO_BITRATE = "192k"


def track_command(program: str, sound: str, target: str) -> Command:
    """Raw sound encoded, in a file that tells how many samples the encoder added before it."""
    audio = source(sound, {"f": "s16le", "ar": SAMPLE_RATE, "ac": 2})
    options: dict[str, str | int] = {
        "c:a": "aac",
        "b:a": AUDIO_BITRATE,
        "threads": 1,
        "fflags": "+bitexact",
        "flags:a": "+bitexact",
        "f": "mp4",
    }
    return command(program, [audio["a"]], target, options)


def delivery_command(program: str, pictures: str, sound: str, facts: str, rate: Rate, target: str) -> Command:
    """Pictures copied and stamped exactly, `sound` as `track_command` made it, title and chapters from a metadata file.

    `pictures` is Annex-B H.264 without B-frames, so packet n is frame n: its stamp is n frames, whatever
    the raw stream's parser guessed. Parameter sets inside the stream are taken out, since the MP4 holds
    one copy in its header. Nothing of the cameras' own metadata gets this far.
    """
    exact = rate.exact
    frame = f"{exact.denominator}/{exact.numerator}"
    video = source(pictures, {"f": "h264", "framerate": f"{exact.numerator}/{exact.denominator}"})
    audio = source(sound, {})
    # ffmpeg-python names only inputs that a stream is taken from; this one has none, hence the "?"
    told = source(facts, {"f": "ffmetadata"})
    options: dict[str, str | int] = {
        "c:v": "copy",
        "bsf:v": f"setts=pts=N:dts=N:duration=1:time_base={frame}:prescale=1,filter_units=remove_types=7|8",
        "c:a": "copy",
        "map_metadata": 2,
        "map_chapters": 2,
        "movflags": "+faststart",
        # without a limit ffmpeg interleaves by whatever arrives first, and the same draft is other bytes
        "max_interleave_delta": 0,
        "write_tmcd": 0,
        "fflags": "+bitexact",
        "f": "mp4",
    }
    return command(program, [video["v"], audio["a"], told["s?"]], target, options)
