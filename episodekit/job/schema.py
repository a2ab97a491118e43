"""The published JSON Schema of the front matter, made from the models. Editors complete and check with it.

Keys are written with spaces. The reader also takes underscores and hyphens (`frame_rate`), the schema
does not, so that an editor offers one spelling.
"""

from __future__ import annotations

import json
from typing import Any

from episodekit.job.model import FrontMatter


def front_matter_schema() -> dict[str, Any]:
    """JSON Schema, draft 2020-12."""
    schema = FrontMatter.model_json_schema(by_alias=True)
    _tidy(schema)
    return {
        "$schema": "https://json-schema.org/draft/2020-12/schema",
        "title": "Front matter of job.md",
        **{key: value for key, value in schema.items() if key != "title"},
    }


def write_front_matter_schema() -> str:
    """The schema as JSON text with a newline at its end."""
    return json.dumps(front_matter_schema(), indent=2, ensure_ascii=False) + "\n"


def _tidy(node: Any) -> None:
    """Drop defaults (they are parsed values, not what one writes) and generated titles."""
    if isinstance(node, dict):
        node.pop("default", None)
        if isinstance(node.get("title"), str):
            del node["title"]
        for name, value in node.items():
            if name == "properties":
                for inner in value.values():
                    _tidy(inner)
            else:
                _tidy(value)
    elif isinstance(node, list):
        for item in node:
            _tidy(item)
