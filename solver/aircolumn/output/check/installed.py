"""What the installation and the rating of an engine file brought."""

from __future__ import annotations

from typing import TYPE_CHECKING

from aircolumn.engine.description.installed import brings
from aircolumn.engine.description.places import value_at

if TYPE_CHECKING:
    from aircolumn.engine.description.reader import Description


def installed_lines(description: Description) -> list[str]:
    """A line for each of the two, with the keys that are not stated in the file and so come from them."""
    engine, stated = description.engine, description.source.data
    lines = []
    for title, said, side in (
        ("installation", engine.installation, ("exhaust", "intake")),
        ("rating", engine.rating, ("intake",)),
    ):
        if said is None:
            continue
        found = brings({**stated, ("rating" if title == "installation" else "installation"): None})
        parts = [
            _said(path, v) for path, v in found.items() if value_at(stated, path) is None and path[0] in side
        ]
        lines.append(f"{title:26s}{said}: {'; '.join(parts) or 'brings nothing that is not stated'}")
    return lines


def _said(path: tuple, value: object) -> str:
    if value is None:
        return f"nothing ahead of the throttle ({'.'.join(path)})"
    if isinstance(value, dict):
        said = ", ".join(f"{k.replace('_', ' ')} {v}" for k, v in value.items()).replace(", at ", " at ")
        return f"{'.'.join(path)}: {said}"
    names = [next(iter(part)) for part in value] if isinstance(value, list) else []
    return f"{'.'.join(path)}: {', '.join(names)}"
