"""A centre line as a table: points in a CSV file, as CAD programs write them out.

The first line names the columns with their units, ``x [mm],y [mm],z [mm]``; a fourth, ``bend_radius [mm]``,
gives the radius of the bend at each corner (the first and last have none: 0). Without it the points are
those of a smooth curve.
"""

from __future__ import annotations

from typing import Any

from aircolumn.engine.description.column_file import Columns, columns_in
from aircolumn.engine.description.text_file import AsRead, wrong_line

FILE = "file"
_PLACE, RADIUS = ("x", "y", "z"), "bend_radius"
_COLUMNS = Columns(
    [frozenset(_PLACE), frozenset({*_PLACE, RADIUS})],
    dict.fromkeys((*_PLACE, RADIUS), "length"),
    "columns 'x [mm],y [mm],z [mm]' are expected, in units of your choice, and 'bend_radius [mm]' as a"
    " fourth where legs are straight and joined by bends",
)


def route_in(file: AsRead) -> dict[str, Any]:
    """The route in the words of the engine file. Raises InputError naming file, line and column."""
    rows = columns_in(file, _COLUMNS)
    if len(rows) < 2:
        raise wrong_line(file.path, rows[-1][0] if rows else 1, "", "a route needs two points or more")
    points = [[f"{values[name]!r} m" for name in _PLACE] for _, values in rows]
    if RADIUS not in rows[0][1]:
        return {"points": points, "curve": "smooth"}
    for number, values in rows[1:-1]:
        if values[RADIUS] <= 0.0:
            raise wrong_line(file.path, number, RADIUS, "must be greater than 0 at a corner")
    radii = [f"{values[RADIUS]!r} m" for _, values in rows[1:-1]]
    return {"points": points, **({RADIUS: radii} if radii else {})}
