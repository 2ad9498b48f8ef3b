"""Keys of the engine file by path: their fields, and values put there."""

from __future__ import annotations

import copy
from collections.abc import Iterator
from typing import TYPE_CHECKING, Any

from aircolumn.engine.description.base import BY_CYLINDER
from aircolumn.engine.description.engine_file import Engine
from aircolumn.engine.description.pipes import Runner, Taper
from aircolumn.engine.description.reference import checked_of, models_in
from aircolumn.engine.description.units import to_si

if TYPE_CHECKING:
    from aircolumn.engine.description.units import Checked

Path = tuple[str | int, ...]


def field_at(path: Path) -> Any:
    """The field of a key (cylinder numbers and places in lists are left out of account); None if the path
    ends at none, as inside a list."""
    model: Any = Engine
    if path and path[0] == "runners":
        model, path = Runner, path[2:]
    elif path and path[0] == "candidates" and len(path) > 2:
        path = (*str(path[2]).split("."), *path[3:])
    field = None
    steps = [s for s in path if not (isinstance(s, int) or s.isdecimal())]
    while steps:
        step = steps.pop(0)
        if step == BY_CYLINDER:  # the numbers behind it are left out
            continue
        fields = {f.alias or name: f for part in models_in(model) for name, f in part.model_fields.items()}
        field = fields.get(step)
        if field is None:
            return None
        model = field.annotation
    return field


def checked_at(path: Path) -> Checked | None:
    """What checks the value at a path; None if it is no number."""
    field = field_at(path)
    if field is None:
        return None
    if Taper in models_in(field.annotation):  # one number in the group's place
        field = Taper.model_fields["end"]
    found = checked_of(field)
    return found if found is not None and found.schema.get("type") != "integer" else None


def si_value(path: Path, value: Any) -> float:
    """The SI value of what the file writes at a path. Raises ValueError for what is no number, or none that
    may lie between two others."""
    checked = checked_at(path)
    if checked is None or isinstance(value, bool) or not (checked.kind or isinstance(value, (int, float))):
        raise ValueError("only a quantity, or a number that need not be whole, can have a plus_minus")
    return to_si(value, checked.kind) if checked.kind else float(value)


def value_at(data: Any, path: Path) -> Any:
    """What stands at a path of the file's data; None if nothing does."""
    for step in path:
        if isinstance(data, dict):
            data = data.get(step)
        elif isinstance(data, list) and isinstance(step, int) and step < len(data):
            data = data[step]
        else:
            return None
    return data


def is_stated(data: Any, path: Path) -> bool:
    """Whether the file's data has the key, be it empty: ``collector: null`` says that there is none."""
    group = value_at(data, path[:-1])
    return isinstance(group, dict) and path[-1] in group


def with_value(data: Any, path: Path, value: Any) -> Any:
    """``data`` with a value at a path, groups made where they are missing; nothing else is copied."""
    if not path:
        return value
    changed: Any = copy.copy(data) if isinstance(data, (dict, list)) else {}
    step: Any = path[0]
    inner = changed[step] if isinstance(changed, list) else changed.get(step)
    changed[step] = with_value(inner, path[1:], value)
    return changed


def singles(value: Any, path: Path) -> Iterator[tuple[Path, Any]]:
    """(path, value) of the single values in a value, list or group."""
    if isinstance(value, dict):
        for key, inner in value.items():
            yield from singles(inner, (*path, key))
    elif isinstance(value, list):
        for k, inner in enumerate(value):
            yield from singles(inner, (*path, k))
    else:
        yield path, value
