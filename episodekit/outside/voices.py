"""The door to the creator's own voices.yaml, in the folder where the system keeps settings.

Its place can be changed by the environment variable EPISODEKIT_VOICES. It is read only when a job names a
profile, and written only by `voice fit --save`.
"""

from __future__ import annotations

import os
from collections.abc import Mapping
from pathlib import Path

import typer

from episodekit.base.findings import Finding, did_you_mean, finding
from episodekit.base.place import Place
from episodekit.formats.voice_profile import profile_key, read_voices, with_voice
from episodekit.job.model import Plan, Voice
from episodekit.outside.errors import MediaError
from episodekit.outside.files import write_whole
from episodekit.timing.rules import PROFILE, VOICES

PLACE = "EPISODEKIT_VOICES"
_LARGEST = 200_000
_ELSEWHERE = (
    f"Paste the lines above into job.md, or let the environment variable {PLACE} name another file "
    "and run it again."
)


def voices_file() -> Path:
    """Where the voices are kept."""
    named = os.environ.get(PLACE)
    return Path(named) if named else Path(typer.get_app_dir("episodekit")) / "voices.yaml"


def load_voices() -> tuple[Mapping[str, Voice], tuple[Finding, ...]]:
    """All saved voices; none, and no finding, if the file is not there."""
    path = voices_file()
    try:
        text = _text(path)
    except FileNotFoundError:
        return {}, ()
    except (OSError, ValueError) as error:
        why = error.strerror if isinstance(error, OSError) and error.strerror else str(error)
        said = f"voices.yaml cannot be read: {why.lower()}."
        return {}, (finding(VOICES, Place(str(path)), said, "Check that it is a small UTF-8 text file."),)
    return read_voices(text, str(path))


def _text(path: Path) -> str:
    if path.is_file() and path.stat().st_size > _LARGEST:
        raise ValueError("it is too large")
    try:
        return path.read_text(encoding="utf-8-sig")
    except UnicodeDecodeError as error:
        raise ValueError("it is not UTF-8") from error


def with_profile(plan: Plan) -> tuple[Plan, tuple[Finding, ...]]:
    """The plan with its voice taken from the profile it names; keys of the job come before those of the profile."""
    wanted = plan.front.voice.profile
    if wanted is None:
        return plan, ()
    voices, found = load_voices()
    profile = voices.get(profile_key(wanted))
    if profile is None and found and not voices:  # the file is unreadable: who knows what it holds
        return plan, found
    if profile is None:
        at = plan.where("voice", "profile")
        hint = did_you_mean(profile_key(wanted), voices) if voices else ""
        remedy = hint or f"Save one with `episodekit voice fit JOB --save {wanted}`."
        return plan, (
            *found,
            finding(PROFILE, at, f"There is no voice '{wanted}' in {voices_file()}.", remedy),
        )
    front = plan.front.model_copy(update={"voice": plan.front.voice.over(profile)})
    return plan.model_copy(update={"front": front}), found


def save_voice(name: str, voice: Voice) -> Path:
    """Put a voice into voices.yaml, or replace it there; the file appears whole or not at all. Raises MediaError."""
    path = voices_file()
    try:
        before = _text(path)
    except FileNotFoundError:
        before = ""
    except (OSError, ValueError) as error:
        why = error.strerror if isinstance(error, OSError) and error.strerror else str(error)
        said = f"The voice was not saved: voices.yaml cannot be read ({why.lower()}). {_ELSEWHERE}"
        raise MediaError(said, (), str(path)) from error
    _, wrong = read_voices(before, str(path))
    if wrong:
        said = f"The voice was not saved: {wrong[0].message} {wrong[0].remedy}"
        raise MediaError(said, (), str(wrong[0].at))
    try:
        write_whole(path, with_voice(before, name, voice))
    except MediaError as error:
        reason = error.__cause__.strerror if isinstance(error.__cause__, OSError) else None
        said = f"The voice was not saved: {(reason or 'the file cannot be written').lower()}. {_ELSEWHERE}"
        raise MediaError(said, (), str(path)) from error
    return path
