"""The files that come with the package: page templates and fonts."""

from __future__ import annotations

from pathlib import Path


def templates_dir() -> Path:
    """The folder of templates and fonts, in an installed package or in a checkout.

    A wheel carries it inside the package; a checkout keeps it beside the package. Raises
    FileNotFoundError when neither is there, which means a broken installation.
    """
    package = Path(__file__).resolve().parent.parent
    for candidate in (package / "templates", package.parent / "templates"):
        if (candidate / "fonts").is_dir():
            return candidate
    raise FileNotFoundError(f"the templates folder is missing beside {package}; install episodekit again")
