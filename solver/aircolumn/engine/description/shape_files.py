"""Shapes that an engine file names as files of their own: area schedules and routes."""

from __future__ import annotations

from typing import Any

from aircolumn.engine.description.area_schedule import KEY, as_sections, schedule_in
from aircolumn.engine.description.candidates import SHAPE_KEYS
from aircolumn.engine.description.column_file import read_column_file
from aircolumn.engine.description.route_file import FILE, route_in
from aircolumn.engine.description.source import Source, problem
from aircolumn.errors import Problem


def with_shape_files(
    data: Any, source: Source, problems: list[Problem], path: tuple[int | str, ...], read: dict[str, Any]
) -> Any:
    """``data`` with every area schedule replaced by the sections its file holds; ``read``: those of
    the files seen before, by name."""
    if isinstance(data, list):
        return [with_shape_files(v, source, problems, (*path, i), read) for i, v in enumerate(data)]
    if not isinstance(data, dict):
        return data
    result = {
        key: with_shape_files(value, source, problems, (*path, key), read)
        for key, value in data.items()
        if key != KEY
    }
    for key in [k for k in result if k.endswith(f".{KEY}")]:  # of a candidate, by its path
        name = result.pop(key)
        sections = None if name is None else _sections_of(str(name), source, read)
        result[f"{key.removesuffix(KEY)}sections"] = sections
    route = result.get("route")
    if isinstance(route, str):
        result["route"] = _route_of(route, source)
    elif isinstance(route, dict) and isinstance(route.get(FILE), str) and "points" not in route:
        rest = {key: value for key, value in route.items() if key != FILE}
        result["route"] = {**_route_of(route[FILE], source), **rest}
    name = data.get(KEY)
    if isinstance(name, str) and not any(key in data for key in SHAPE_KEYS):
        result["sections"] = _sections_of(name, source, read)
    elif KEY in data and name is None:  # a candidate takes the schedule away
        result.setdefault("sections", None)
    elif KEY in data:
        message = "a CSV file's name is expected here, and no length, bore or sections beside it"
        problems.append(problem(source, (*path, KEY), message))
    return result


def _sections_of(name: str, source: Source, read: dict[str, Any]) -> list[dict]:
    """The sections that an area schedule's file holds."""
    if name not in read:
        if name not in source.beside:
            source.beside[name] = read_column_file(source.path.parent / name)
        read[name] = as_sections(schedule_in(source.beside[name]))
    return read[name]


def _route_of(name: str, source: Source) -> dict[str, Any]:
    """The route that a CSV file holds."""
    if name not in source.beside:
        source.beside[name] = read_column_file(source.path.parent / name)
    return route_in(source.beside[name])
