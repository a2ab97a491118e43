"""Make a job folder from the template."""

from __future__ import annotations

import re
from pathlib import Path

from episodekit.job.schema import write_front_matter_schema
from episodekit.outside.errors import MediaError
from episodekit.outside.files import write_whole
from episodekit.outside.resources import templates_dir


class NotEmpty(Exception):
    """The folder already holds something; the message says so with a remedy."""


def make_job(folder: Path) -> tuple[str, ...]:
    """Fill an empty or new folder; returns the names made. Raises NotEmpty, or MediaError from the disk."""
    try:
        if folder.exists() and (not folder.is_dir() or any(folder.iterdir())):
            raise NotEmpty(f"{folder} is not empty. Name a new folder; nothing was changed.")
        (folder / "footage").mkdir(parents=True)
    except OSError as error:
        why = (error.strerror or str(error)).lower()
        raise MediaError(f"{folder} cannot be made: {why}.", (), str(folder)) from error
    title = _title(folder.resolve().name)
    # Not a Jinja2 template: `{#open}` would be a comment there.
    plan = (templates_dir() / "new-job" / "job.md").read_text(encoding="utf-8").replace("TITLE", title)
    write_whole(folder / "job.md", plan)
    write_whole(folder / "job.schema.json", write_front_matter_schema())
    return "job.md", "job.schema.json", "footage/"


def _title(name: str) -> str:
    """A folder's name as a title that YAML reads as it stands.

    >>> _title("gr-2_amp's hum"), _title("...")
    ("Gr 2 amp's hum", 'My repair')
    """
    words = re.findall(r"[\w'’&+,.()]+", name.replace("_", " "))
    title = re.sub(r"^\W+", "", " ".join(words))
    return title[:1].upper() + title[1:] or "My repair"
