"""What is the user's own on a page: heading, notes, logo."""

from __future__ import annotations

from base64 import b64encode
from pathlib import Path
from typing import Any

from aircolumn.engine.description.text_file import read_bytes, text_of
from aircolumn.errors import RequestError, clean

LARGEST_NOTES, LARGEST_LOGO = 100_000, 500_000  # bytes
LONGEST_HEADING = 200  # characters
#: how a picture begins: its media type
SVG = "image/svg+xml"
PICTURES = {b"\x89PNG": "image/png", b"\xff\xd8\xff": "image/jpeg", b"<svg": SVG, b"<?xml": SVG}


def users_own(heading: str, notes: Path | None, logo: Path | None) -> dict[str, Any]:
    """{heading, notes, logo} for the page. Raises InputError for files that cannot be read, RequestError for
    what is no picture."""
    if len(heading) > LONGEST_HEADING:
        raise RequestError(f"--heading has {len(heading)} characters; at most {LONGEST_HEADING}")
    text = "" if notes is None else text_of(notes, read_bytes(notes, LARGEST_NOTES))
    paragraphs = [clean(p.strip()) for p in text.replace("\r\n", "\n").split("\n\n") if p.strip()]
    return {"heading": clean(heading), "notes": paragraphs, "logo": "" if logo is None else _picture(logo)}


def _picture(path: Path) -> str:
    """A picture as a data address: an image cannot run scripts."""
    raw = read_bytes(path, LARGEST_LOGO)
    kind = next((k for begin, k in PICTURES.items() if raw.lstrip().startswith(begin)), None)
    if kind is None:
        raise RequestError(f"--logo {path}: a PNG, JPEG or SVG picture is expected")
    return f"data:{kind};base64,{b64encode(raw).decode()}"
