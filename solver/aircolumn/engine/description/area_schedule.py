"""A duct's shape as a table: distance along the centre line against flow area, in a CSV file.

The first line names the columns with their units, for example ``distance [mm],area [mm2]`` (or
``bore [mm]`` instead of the area; ``perimeter [mm]`` beside it, where the duct is not round); distances
start at 0 and rise. Lines that begin with # and empty lines are passed over. In the engine file
``area_schedule: shape.csv`` (relative to that file) takes the place of length, bore and sections: between
two lines of the table the duct is a straight cone.
"""

from __future__ import annotations

import csv
from collections.abc import Sequence
from itertools import pairwise
from math import pi, sqrt
from pathlib import Path
from typing import TYPE_CHECKING, NamedTuple

from aircolumn.display_units import said_length
from aircolumn.engine.description.base import required
from aircolumn.engine.description.column_file import Columns, columns_in, read_column_file
from aircolumn.engine.description.text_file import AsRead, wrong_line
from aircolumn.engine.description.units import unit_factor

if TYPE_CHECKING:
    from aircolumn.flow.duct.geometry import Shape

KEY = "area_schedule"
ROUNDEST = 1.0 - 1e-3  # of the perimeter of a circle, which is the least: rounding of a table is let pass
_COLUMNS = Columns(
    [frozenset({"distance", size, *more}) for size in ("area", "bore") for more in ((), ("perimeter",))],
    {"distance": "length", "area": "area", "bore": "length", "perimeter": "length"},
    "two columns are expected, 'distance [mm],area [mm2]' (or 'bore [mm]'), in units of your choice, and"
    " 'perimeter [mm]' as a third where the duct is not round",
    above=frozenset({"area", "bore", "perimeter"}),
    from_zero=frozenset({"distance"}),
)


class Station(NamedTuple):
    """A line of the table: distance, bore of the circle with the area there, perimeter (None: round), m."""

    distance: float
    bore: float
    perimeter: float | None = None


def read_area_schedule(path: Path) -> list[Station]:
    """As schedule_in, from the file at ``path``."""
    return schedule_in(read_column_file(path))


def schedule_in(file: AsRead) -> list[Station]:
    """The table line by line. Raises InputError naming file, line and column."""
    path, rows = file.path, columns_in(file, _COLUMNS)
    points = [_station(path, number, values) for number, values in rows]
    if len(points) < 2:
        last = rows[-1][0] if rows else 1
        raise wrong_line(path, last, "", "a shape needs at least two lines of figures")
    if points[0].distance != 0.0:
        raise wrong_line(path, rows[0][0], "distance", "the first distance must be 0")
    for (number, _), (before, here) in zip(rows[1:], pairwise(points), strict=True):
        if here.distance <= before.distance:
            raise wrong_line(path, number, "distance", "distances must rise from line to line")
    return points


def _station(path: Path, number: int, values: dict[str, float]) -> Station:
    bore = values["bore"] if "bore" in values else sqrt(4.0 * values["area"] / pi)
    perimeter = values.get("perimeter")
    if perimeter is not None and perimeter < ROUNDEST * pi * bore:
        said = f"no shape of this area has a perimeter below {said_length(pi * bore)}, that of a circle"
        raise wrong_line(path, number, "perimeter", said)
    return Station(values["distance"], bore, perimeter)


def as_sections(points: Sequence[Station]) -> list[dict]:
    """A shape in the words of the engine file: a list of sections."""
    return [_section(a, b) for a, b in pairwise(points)]


def _section(a: Station, b: Station) -> dict:
    section = {
        "length": f"{b.distance - a.distance!r} m",
        "bore": {"from": f"{a.bore!r} m", "to": f"{b.bore!r} m"},
    }
    if a.perimeter is None or b.perimeter is None:
        return section
    least = pi * (a.bore + b.bore) / 2.0
    return {**section, "perimeter": f"{max((a.perimeter + b.perimeter) / 2.0, least)!r} m"}


def write_area_schedule(
    path: Path, shape: Shape, unit: str = "mm", perimeters: Sequence[float] | None = None
) -> None:
    """Write a duct's shape (duct.geometry.Shape) so that it can be read back, and by CAD; in
    ``unit`` and its square; perimeters: m, at each of its points, where it is not round."""
    size, _ = required(unit_factor(unit, "length"))
    with open(path, "w", newline="", encoding="utf-8") as file:
        table = csv.writer(file, lineterminator="\n")
        further = [] if perimeters is None else [f"perimeter [{unit}]"]
        table.writerow([f"distance [{unit}]", f"area [{unit}2]", *further])
        for k, (x, area) in enumerate(zip(shape.distance, shape.area(shape.distance), strict=True)):
            more = [] if perimeters is None else [f"{perimeters[k] / size:.12g}"]
            table.writerow([f"{x / size:.12g}", f"{area / size**2:.12g}", *more])
