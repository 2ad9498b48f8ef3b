"""A duct's shape as a table: distance along the centre line against flow area, in a CSV file.

The first line names the columns with their units, for example ``distance [mm],area [mm2]`` (or
``bore [mm]`` instead of the area); distances start at 0 and rise. Lines that begin with # and empty
lines are passed over. In the engine file ``area_schedule: shape.csv`` (relative to that file) takes
the place of length, bore and sections: between two lines of the table the duct is a straight cone.
"""

from __future__ import annotations

import csv
import re
from collections.abc import Sequence
from itertools import pairwise
from math import pi, sqrt
from pathlib import Path
from typing import TYPE_CHECKING, Any

from aircolumn.engine.description.base import required
from aircolumn.engine.description.text_file import AsRead, read_bytes, text_of
from aircolumn.engine.description.units import to_si, unit_factor
from aircolumn.errors import InputError, Problem

if TYPE_CHECKING:
    from aircolumn.flow.duct.geometry import Shape

KEY = "area_schedule"
_HEADING = re.compile(r"\s*(distance|area|bore)\s*\[\s*([^\]]+?)\s*\]\s*$")
_KINDS = {"distance": "length", "area": "area", "bore": "length"}
_MOST_LINES = 2000
_LARGEST_FILE = 200_000  # bytes
_LONGEST_LINE = 200
_DUE = "two columns are expected, 'distance [mm],area [mm2]' (or 'bore [mm]'), in units of your choice"


def read_schedule_file(path: Path) -> AsRead:
    """The file, not looked into. Raises InputError."""
    return AsRead(path, read_bytes(path, _LARGEST_FILE))


def read_area_schedule(path: Path) -> list[tuple[float, float]]:
    """As schedule_in, from the file at ``path``."""
    return schedule_in(read_schedule_file(Path(path)))


def schedule_in(file: AsRead) -> list[tuple[float, float]]:
    """(distance, bore), both m, line by line. Raises InputError naming file, line and column."""
    path, lines = file.path, _lines(file)
    if not lines:
        raise _wrong(path, 1, "", f"the file is empty; {_DUE}")
    headings = [_HEADING.match(cell) for cell in lines[0][1]]
    names = [h and h[1] for h in headings]
    if sorted(map(str, names)) not in (["area", "distance"], ["bore", "distance"]):
        raise _wrong(path, lines[0][0], "", _DUE)
    points = [_point(path, number, cells, headings) for number, cells in lines[1:]]
    if len(points) < 2:
        raise _wrong(path, lines[-1][0], "", "a shape needs at least two lines of figures")
    for (number, _), (x, _), before in zip(lines[1:], points, [None, *points], strict=False):
        if before is None and x != 0.0:
            raise _wrong(path, number, "distance", "the first distance must be 0")
        if before is not None and x <= before[0]:
            raise _wrong(path, number, "distance", "distances must rise from line to line")
    return points


def as_sections(points: Sequence[tuple[float, float]]) -> list[dict]:
    """A shape (distance, bore) in the words of the engine file: a list of sections."""
    return [
        {"length": f"{x2 - x1!r} m", "bore": {"from": f"{d1!r} m", "to": f"{d2!r} m"}}
        for (x1, d1), (x2, d2) in pairwise(points)
    ]


def write_area_schedule(path: Path, shape: Shape, unit: str = "mm") -> None:
    """Write a duct's shape (duct.geometry.Shape) so that it can be read back, and by CAD; in
    ``unit`` and its square."""
    size, _ = required(unit_factor(unit, "length"))
    with open(path, "w", newline="", encoding="utf-8") as file:
        table = csv.writer(file, lineterminator="\n")
        table.writerow([f"distance [{unit}]", f"area [{unit}2]"])
        for x, area in zip(shape.distance, shape.area(shape.distance), strict=True):
            table.writerow([f"{x / size:.12g}", f"{area / size**2:.12g}"])


def _lines(file: AsRead) -> list[tuple[int, list[str]]]:
    """(line number, cells) of the lines that hold something."""
    path, rows = file.path, text_of(file.path, file.raw).splitlines()
    if len(rows) > _MOST_LINES:
        raise _wrong(path, _MOST_LINES, "", f"{len(rows)} lines; at most {_MOST_LINES}")
    long = next((n for n, row in enumerate(rows, 1) if len(row) > _LONGEST_LINE), None)
    if long is not None:
        raise _wrong(path, long, "", f"the line is longer than {_LONGEST_LINE} characters; {_DUE}")
    kept = [(n, row) for n, row in enumerate(rows, 1) if row.strip() and row.lstrip()[0] != "#"]
    return [(n, next(csv.reader([row]))) for n, row in kept]


def _point(path: Path, number: int, cells: Sequence[str], headings: Sequence[Any]) -> tuple[float, float]:
    if len(cells) != 2:
        raise _wrong(path, number, "", f"{len(cells)} values; {_DUE}")
    values = {}
    for cell, heading in zip(cells, headings, strict=True):
        name, unit = heading[1], heading[2]
        try:
            values[name] = to_si(f"{cell.strip()} {unit}", _KINDS[name])
        except ValueError as error:
            raise _wrong(path, number, name, str(error)) from None
        if values[name] < 0.0 or (values[name] == 0.0 and name != "distance"):
            raise _wrong(path, number, name, f"'{cell.strip()}': must be greater than 0")
    bore = values["bore"] if "bore" in values else sqrt(4.0 * values["area"] / pi)
    return values["distance"], bore


def _wrong(path: Path, line: Any, column: Any, message: Any) -> InputError:
    return InputError(path, [Problem(line, 1, column, message)])
