"""An engine file written again with some values changed; comments are not kept."""

import copy
from collections.abc import Callable, Iterable, Iterator, Mapping, Sequence
from pathlib import Path
from typing import Any

import yaml

from aircolumn.engine.description.area_schedule import KEY
from aircolumn.engine.description.base import BY_CYLINDER, CANDIDATES, FileModel
from aircolumn.engine.description.candidates import COMMON, Manifold
from aircolumn.engine.description.drive_log import LOG
from aircolumn.engine.description.places import is_stated, value_at
from aircolumn.engine.description.reader import Description
from aircolumn.engine.description.reference import checked_of
from aircolumn.engine.description.route_file import FILE
from aircolumn.engine.description.spread import PLUS_MINUS, VALUE
from aircolumn.engine.description.units import in_trade_units

ROUTE, COLUMNS = "route", "columns"  # what a file may be named for, beside area schedules and logged drives


def changed_values(
    before: FileModel, after: FileModel, path: tuple = ()
) -> Iterator[tuple[tuple[str, ...], float | str]]:
    """(path, value as the file writes it) of every key whose value differs between two checked
    parts of one shape."""
    for name, field in type(before).model_fields.items():
        old, new, place = getattr(before, name), getattr(after, name), (*path, field.alias or name)
        if isinstance(old, FileModel):
            yield from changed_values(old, new, place)
        elif name == BY_CYLINDER and old is not None:
            for number, part in old.items():
                yield from changed_values(part, new[number], (*place, str(number)))
        elif old != new:
            checked = checked_of(field)
            kind = checked.kind if checked is not None else ""
            yield place, in_trade_units(new, kind) if kind else new


def rewritten(description: Description, change: Callable, said: str, more: dict | None = None) -> str:
    """The engine file's text after ``change`` (a function of an engine) of its engine and of every
    candidate; ``said``: first line, a comment; ``more``: sections to add or replace. What was changed no
    longer has the plus_minus it had."""
    data = copy.deepcopy(description.source.data)
    _found_from_anywhere(data, description.path.parent)
    spreads = {p: v for p, v in description.source.spreads.items() if p[0] not in (more or {})}
    for path, value in changed_values(description.engine, change(description.engine)):
        _put(data, path, value)
        spreads.pop(path, None)
    for name, one in description.candidates.items():
        changed = changed_values(one.engine, change(one.engine))
        if isinstance(value_at(data, (CANDIDATES, name)), str):  # a file of its own: written out here
            data[CANDIDATES][name] = _written_out(one, changed)
            spreads |= {(CANDIDATES, name, *path): v for path, v in one.spreads.items()}
            continue
        for path, value in changed:
            here = one.in_file(path)
            if here is not None and is_stated(data, here):  # else it has what the file has
                _put(data, here, value)
                spreads.pop(here, None)
    for path, spread in spreads.items():
        _spread_again(data, path, spread)
    data.update(more or {})
    return _as_text(data, said)


def written_anew(
    data: dict[str, Any], folder: Path, said: str, spreads: Mapping[tuple, Any] | None = None
) -> str:
    """Data of an engine file in ``folder`` as the text of a file that may stand anywhere; ``said``: first
    line, a comment; spreads: the plus_minus of values, by path."""
    data = copy.deepcopy(data)
    _found_from_anywhere(data, folder)
    for path, spread in (spreads or {}).items():
        _spread_again(data, path, spread)
    return _as_text(data, said)


def _as_text(data: dict[str, Any], said: str) -> str:
    body = yaml.safe_dump(data, sort_keys=False, allow_unicode=True, default_flow_style=None)
    return f"# {said}\n{body}"


def _written_out(one: Manifold, changed: Iterable[tuple]) -> dict[str, Any]:
    """A candidate of another file as keys of this one."""
    data = copy.deepcopy({k: v for k, v in one.data.items() if k not in COMMON})
    for path, value in changed:
        _put(data, path, value)
    return data


def _put(data: Any, path: tuple, value: float | str) -> None:
    """Set a key; among those of single cylinders only where it stands."""
    if BY_CYLINDER in path and not is_stated(data, path):
        return
    for key in path[:-1]:
        data = data.setdefault(key, {})
    data[path[-1]] = value


def _spread_again(data: Any, path: tuple, spread: Any) -> None:
    """Put the plus_minus of a value back beside it."""
    for key in path[:-1]:
        data = data[key]
    data[path[-1]] = {VALUE: data[path[-1]], PLUS_MINUS: spread}


def _found_from_anywhere(
    data: Sequence[float | str | dict[str, dict[str, str]]] | dict[str, Any], folder: Path
) -> None:
    """Files that the engine file names, by their whole path."""
    for value in data.values() if isinstance(data, dict) else data:
        if isinstance(value, (dict, list)):
            _found_from_anywhere(value, folder)
    for key in (KEY, LOG, ROUTE, FILE, COLUMNS):
        if isinstance(data, dict) and isinstance(data.get(key), str):
            data[key] = str((folder / data[key]).absolute())
