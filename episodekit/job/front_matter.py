"""The YAML block at the top of job.md becomes `FrontMatter`; every mistake a finding at its line.

All scalars are read as text (YAML 1.1 would turn `1:30` into 90 and `no` into false), and the models
read the text. A value that cannot be read is reported and left out, so that the rest still works.
"""

from __future__ import annotations

import re
from collections.abc import Mapping
from dataclasses import dataclass, field, replace
from typing import Any

import yaml
from pydantic import BaseModel, ValidationError

from episodekit.base.findings import Finding, did_you_mean, finding
from episodekit.base.place import Place
from episodekit.job import rules
from episodekit.job.model import FrontMatter

Keys = tuple[str, ...]
_DEEPEST = 12
_NAMED = {"cameras", "reads", "free goods", "private"}
"""Keys whose own keys are names that the creator gives."""


@dataclass
class _Reading:
    """What is gathered while walking the YAML tree of one file."""

    file: str
    first_line: int
    places: dict[Keys, Place] = field(default_factory=dict)
    key_places: dict[Keys, Place] = field(default_factory=dict)
    findings: list[Finding] = field(default_factory=list)

    def place(self, mark: Any) -> Place:  # two Mark classes, of PyYAML and of its C part
        if mark is None:
            return Place(self.file, self.first_line, 1)
        return Place(self.file, mark.line + self.first_line, mark.column + 1)


def read_front_matter(
    text: str, file: str, first_line: int
) -> tuple[FrontMatter | None, Mapping[Keys, Place], tuple[Finding, ...]]:
    """Read the text between the two `---` lines; `first_line` is the file's line of its first line.

    Returns the front matter (None only if it is not YAML at all), the place of each value by its keys,
    and the findings.
    """
    data, reading = _read_yaml(text, file, first_line)
    if data is None:
        if re.search(r"^\s*priv", text, re.IGNORECASE | re.MULTILINE):
            said = "What `private:` says cannot be read, since the front matter is no YAML."
            at = Place(file, first_line, 1)
            reading.findings.append(finding(rules.PRIVATE, at, said, "Mend the front matter first."))
        return None, {}, tuple(reading.findings)
    front = _validate(data, reading)
    return front, reading.places, tuple(reading.findings)


def read_keys(
    text: str, file: str
) -> tuple[dict[str, Any] | None, Mapping[Keys, Place], tuple[Finding, ...]]:
    """Another file of `key: value` lines, as plain text values and their places; None if it is not YAML."""
    data, reading = _read_yaml(text, file, 1)
    return data, reading.places, tuple(reading.findings)


def _read_yaml(text: str, file: str, first_line: int) -> tuple[dict[str, Any] | None, _Reading]:
    """The YAML tree as plain dicts, tuples and text; None, and a finding, if there is none."""
    reading = _Reading(file, first_line)

    def wrong(at: Place, said: str, remedy: str) -> tuple[None, _Reading]:
        reading.findings.append(finding(rules.YAML, at, said, remedy))
        return None, reading

    try:
        for event in yaml.parse(text, Loader=yaml.BaseLoader):
            if isinstance(event, yaml.AliasEvent):
                return wrong(
                    reading.place(event.start_mark), "Aliases (*) are not read here.", "Write the value out."
                )
        root = yaml.compose(text, Loader=yaml.BaseLoader)
    except yaml.MarkedYAMLError as error:
        # A quote or bracket that is never closed is found at the end, but meant where it was opened.
        opened = "scanning a quoted" in (error.context or "") or "end of stream" in (error.problem or "")
        mark = (error.context_mark if opened else None) or error.problem_mark or error.context_mark
        at = reading.place(mark) if mark else Place(file, first_line, 1)
        said = (error.problem or "not valid YAML").rstrip(".")
        return wrong(at, f"YAML cannot be read: {said}.", _yaml_remedy(said))
    except (yaml.YAMLError, RecursionError) as error:
        said = "it is nested too deeply" if isinstance(error, RecursionError) else str(error).splitlines()[0]
        return wrong(Place(file, first_line, 1), f"YAML cannot be read: {said}.", "Retype the front matter.")
    if root is None:
        return {}, reading
    if not isinstance(root, yaml.MappingNode):
        at = reading.place(root.start_mark)
        return wrong(at, "The front matter is not `key: value` lines.", "Start with `title: ...`.")
    return _walk(root, (), reading), reading


def _yaml_remedy(problem: str) -> str:
    if "mapping values are not allowed" in problem:
        return "Put quotes around a value that holds a colon and a space."
    if "cannot start any token" in problem:
        return "Indent with spaces, not tabs, and quote values that start with @, % or `."
    return "Check the indent, the colon after each key, and that brackets and quotes are closed."


def _walk(node: yaml.Node, keys: Keys, reading: _Reading) -> Any:
    """Plain dicts, tuples and text from YAML nodes, noting where each stands."""
    reading.places[keys] = reading.place(node.start_mark)
    if len(keys) > _DEEPEST:
        return ""
    if isinstance(node, yaml.MappingNode):
        data: dict[str, Any] = {}
        for key_node, value_node in node.value:
            key = " ".join(str(key_node.value).split())
            if len(keys) != 1 or keys[0] not in _NAMED:
                key = key.lower().replace("_", " ").replace("-", " ")
            at = reading.place(key_node.start_mark)
            if key in data:
                reading.findings.append(
                    finding(rules.TWICE, at, f"'{key}' stands here a second time.", "Keep one of the two.")
                )
                continue
            reading.key_places[(*keys, key)] = at
            data[key] = _walk(value_node, (*keys, key), reading)
        return data
    if isinstance(node, yaml.SequenceNode):
        return tuple(_walk(item, (*keys, str(index)), reading) for index, item in enumerate(node.value))
    return str(node.value)


def _validate(data: dict[str, Any], reading: _Reading) -> FrontMatter:
    """Validate; report what is wrong, leave it out, and validate again until the rest holds."""
    # An empty value (`device:`) means the same as leaving the key out.
    data = {key: value for key, value in data.items() if value != "" or key == "title"}
    while True:
        try:
            return FrontMatter.model_validate(data)
        except ValidationError as error:
            before = repr(data)
            for problem in error.errors(include_url=False):
                loc = tuple(str(part) for part in problem["loc"])
                loc = loc[:-1] if len(loc) > 1 and loc[-1] == "[key]" else loc
                told = _explain(problem["type"], str(problem["msg"]), loc, reading)
                hides = loc[0] == "private" or "'private'" in told.remedy
                reading.findings.append(replace(told, rule=rules.PRIVATE) if hides else told)
                _leave_out(data, loc, problem["type"])
            if repr(data) == before:  # nothing could be taken out: keep no more than the title
                data = {"title": "Untitled"}


def _explain(kind: str, message: str, loc: Keys, reading: _Reading) -> Finding:
    named = " ".join(loc[-1:])
    at = reading.places.get(loc) or reading.places.get(loc[:-1]) or Place(reading.file, 1, 1)
    if kind == "extra_forbidden":
        at = reading.key_places.get(loc, at)
        known = _known_keys(loc[:-1])
        return finding(rules.KEY, at, f"'{named}' is not a key here.", did_you_mean(named, known))
    if kind == "missing":
        owner = " ".join(loc[:-1]) or "the front matter"
        return finding(rules.VALUE, at, f"{owner} has no '{named}'.", f"Add `{named}: ...`.")
    if kind == "value_error":
        said, _, remedy = message.removeprefix("Value error, ").partition("; ")
        return finding(rules.VALUE, at, f"{'.'.join(loc)}: {said}.", _sentence(remedy))
    if kind in {"model_type", "mapping_type", "dict_type", "model_attributes_type"}:
        keys = ", ".join(_known_keys(loc)) or "name: {...}"
        return finding(
            rules.VALUE, at, f"{'.'.join(loc)} needs keys of its own.", f"Write {{key: value}} with: {keys}."
        )
    if kind == "tuple_type":
        return finding(
            rules.VALUE, at, f"{'.'.join(loc)} is a list.", "Write [one, two] or one `- item` a line."
        )
    if kind == "string_pattern_mismatch" and named == "currency":
        return finding(
            rules.VALUE, at, "currency is not a three-letter code.", "Write USD, EUR or GBP (ISO 4217)."
        )
    if kind == "enum":
        choice = message.removeprefix("Input should be ").replace("'", "")
        return finding(rules.VALUE, at, f"{'.'.join(loc)} is none of the known ones.", f"Write {choice}.")
    if kind in {"string_too_short", "string_type"}:
        return finding(rules.VALUE, at, f"{'.'.join(loc)} has no text.", "Write it after the colon.")
    return finding(
        rules.VALUE, at, f"{'.'.join(loc)}: {message[:1].lower()}{message[1:]}.", "Correct the value."
    )


def _sentence(text: str) -> str:
    return f"{text[:1].upper()}{text[1:]}." if text else "Correct the value."


def _known_keys(loc: Keys) -> list[str]:
    """The keys a creator may write below `loc`."""
    model: type[BaseModel] = FrontMatter
    for depth, part in enumerate(loc):
        if depth == 1 and loc[0] in _NAMED:
            continue
        for name, info in model.model_fields.items():
            if (info.alias or name) == part:
                inner = _inner_model(info.annotation)
                if inner is None:
                    return []
                model = inner
    return [info.alias or name for name, info in model.model_fields.items()]


def _inner_model(annotation: Any) -> type[BaseModel] | None:
    candidates = [annotation, *getattr(annotation, "__args__", ())]
    return next((c for c in candidates if isinstance(c, type) and issubclass(c, BaseModel)), None)


def _leave_out(data: dict[str, Any], loc: Keys, kind: str) -> None:
    """Drop the value at `loc`; a missing required one takes its owner along, a missing title gets a stand-in."""
    if kind == "missing" or loc == ("title",):
        if loc == ("title",):
            data["title"] = "Untitled"
            return
        loc = loc[:-1]
    target: Any = data
    for depth, part in enumerate(loc):
        if isinstance(target, tuple):  # one bad item of a list: drop the whole list, it is reported
            _leave_out(data, loc[:depth], "")
            return
        if not isinstance(target, dict) or part not in target:
            return
        if depth == len(loc) - 1:
            del target[part]
            return
        target = target[part]
