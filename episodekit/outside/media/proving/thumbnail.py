"""A frame as a small picture inside a page: nothing beside the page has to be sent along."""

from __future__ import annotations

import base64
import io

from PIL import Image

WIDTH = 480
"""Pixels; on paper a quarter of a page's width at 250 dots an inch."""

_QUALITY = 72


def data_uri(frame: Image.Image) -> str:
    """A JPEG of at most `WIDTH` pixels as a data URI (RFC 2397)."""
    small = frame.convert("RGB")
    small.thumbnail((WIDTH, 2 * WIDTH), Image.Resampling.LANCZOS)
    out = io.BytesIO()
    small.save(out, "JPEG", quality=_QUALITY, optimize=True)
    return "data:image/jpeg;base64," + base64.b64encode(out.getvalue()).decode("ascii")
