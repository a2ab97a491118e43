"""Voice profiles as text: what stands under `voice:` in job.md, and the same by names in voices.yaml.

A profile holds no profile of its own. Comments that somebody wrote into voices.yaml are kept: a saved voice
replaces its own lines and leaves the others as they are.
"""

from __future__ import annotations

import re
from collections.abc import Mapping
from fractions import Fraction

from pydantic import ValidationError

from episodekit.base.findings import Finding, did_you_mean, finding
from episodekit.base.place import Place
from episodekit.job.front_matter import read_keys
from episodekit.job.model import Voice
from episodekit.timing.rules import VOICES

HEAD = "# Voices: `voice: {profile: NAME}` in job.md uses one.\n"
NAME = re.compile(r"[A-Za-z0-9][A-Za-z0-9 _-]{0,39}")


def profile_key(name: str) -> str:
    """How a name is compared: small letters, single spaces for `_` and `-`.

    >>> profile_key("Ana_at-the bench")
    'ana at the bench'
    """
    return " ".join(name.lower().replace("_", " ").replace("-", " ").split())


def voice_lines(voice: Voice) -> list[str]:
    """The keys that a voice sets, one a line, as one writes them.

    >>> voice_lines(Voice(pace=Fraction(3169, 20), stop=420))
    ['pace: 158.45 wpm', 'stop: 420 ms']
    """
    lines = []
    for name, info in Voice.model_fields.items():
        if name not in voice.model_fields_set or name == "profile":
            continue
        value = getattr(voice, name)
        if value is None:
            continue
        written = {"pace": f"{_decimal(value)} wpm", "spread": f"{_decimal(value * 100)}%"}
        lines.append(f"{info.alias or name}: {written.get(name, f'{value} ms')}")
    return lines


def _decimal(value: Fraction) -> str:
    return f"{float(value):.3f}".rstrip("0").rstrip(".")


def read_voices(text: str, file: str) -> tuple[Mapping[str, Voice], tuple[Finding, ...]]:
    """All voices of a voices.yaml by `profile_key`. A value that is wrong is found and left out, so that a voice
    with one bad pause still has its pace; no voices at all if the file cannot be read.
    """
    data, places, wrong = read_keys(text, file)
    found = [
        finding(VOICES, one.at, one.message.replace("The front matter", "voices.yaml"), _remedy(one))
        for one in wrong
    ]
    voices: dict[str, Voice] = {}
    for name, keys in (data or {}).items():
        at = places.get((name,), Place(file))
        if not isinstance(keys, dict):
            found.append(
                finding(VOICES, at, f"'{name}' holds no keys.", f"Write `{name}: {{pace: 150 wpm}}`.")
            )
            keys = {}
        if "profile" in keys:
            said = f"'{name}' names another profile."
            found.append(finding(VOICES, places.get((name, "profile"), at), said, "Write its values out."))
        voice, wrong_keys = _voice({key: value for key, value in keys.items() if key != "profile"})
        found += [
            _explain(name, key, kind, message, places.get((name, key), at))
            for key, kind, message in wrong_keys
        ]
        voices[profile_key(name)] = voice
    return voices, tuple(found)


def _voice(keys: Mapping[str, object]) -> tuple[Voice, list[tuple[str, str, str]]]:
    """The voice of the keys that can be read; of each other one the key, the kind of mistake and the message."""
    try:
        return Voice.model_validate(dict(keys)), []
    except ValidationError as error:
        wrong = [
            (str(one["loc"][0]), one["type"], str(one["msg"])) for one in error.errors(include_url=False)
        ]
    bad = {key for key, _, _ in wrong}
    return Voice.model_validate({key: value for key, value in keys.items() if key not in bad}), wrong


def _remedy(one: Finding) -> str:
    if "title" in one.remedy:
        return "Start with `name: {pace: 150 wpm}`."
    return one.remedy.replace("the front matter", "it")


def _explain(name: str, key: str, kind: str, message: str, at: Place) -> Finding:
    if kind == "extra_forbidden":
        known = [info.alias or field for field, info in Voice.model_fields.items() if field != "profile"]
        return finding(VOICES, at, f"'{key}' is not a key of a voice.", did_you_mean(key, known))
    said, _, remedy = message.removeprefix("Value error, ").partition("; ")
    hint = f"{remedy[:1].upper()}{remedy[1:]}." if remedy else "Correct the value."
    return finding(VOICES, at, f"{name}.{key}: {said[:1].lower()}{said[1:]}.", hint)


def with_voice(text: str, name: str, voice: Voice) -> str:
    """The text of voices.yaml with a voice added, or its lines replaced; everything else stays as it is."""
    block = [f"{name}:", *(f"  {line}" for line in voice_lines(voice))]
    lines = text.splitlines() or [HEAD.rstrip()]
    key = re.compile(r"(['\"]?)([^\s#:'\"][^:'\"]*)\1\s*:(?:\s|$)")
    starts = [index for index, line in enumerate(lines) if key.match(line)]
    for start in starts:
        match = key.match(lines[start])
        if match is None or profile_key(match[2]) != profile_key(name):
            continue
        end = start + 1
        while end < len(lines) and (lines[end][:1] in {" ", "\t", "}"}):
            end += 1
        return "\n".join([*lines[:start], *block, *lines[end:]]) + "\n"
    return "\n".join([*lines, *block]) + "\n"
