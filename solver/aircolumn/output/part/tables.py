"""Rows of the tables of a part, in the units shown: legs and bends, corners, sections."""

from __future__ import annotations

import numpy as np

from aircolumn.display_units import unit
from aircolumn.output.part.files import corners_of
from aircolumn.space.bend_table import bend_table
from aircolumn.space.centre_line import CentreLine
from aircolumn.space.passage import Passage

MOST_ROWS = 12


def size_number(si: float, finer: int = 0) -> str:
    """A length of a part, without its unit: to a tenth of a millimetre or a thousandth of an inch; finer: so
    many more decimals of millimetres."""
    size = unit("length")
    return size.number(float(si), 1 + finer if size.name == "mm" else 3)


def said_size(si: float) -> str:
    """A length of a part with its unit."""
    return f"{size_number(si)} {unit('length').name}"


def bend_rows(line: CentreLine) -> list[list[str]]:
    """Headings, then a row a leg; headings alone for a smooth curve."""
    size = unit("length")
    rows = [[f"leg, {size.name}", "rotation, deg", "bend, deg", f"radius, {size.name}"]]
    for row in bend_table(line):
        angle = "" if row.angle is None else f"{row.angle:.1f}"
        turn = "" if row.turn is None else f"{row.turn:z.1f}"
        radius = "" if row.radius is None else size_number(row.radius)
        rows.append([size_number(row.leg), turn, angle, radius])
    return rows


def corner_rows(line: CentreLine) -> list[list[str]]:
    """Headings, then a row a corner."""
    size = unit("length")
    rows = [["", *(f"{axis}, {size.name}" for axis in "xyz"), f"radius, {size.name}"]]
    if line.is_smooth:
        return rows
    for k, (place, radius) in enumerate(corners_of(line), 1):
        said = size_number(radius) if radius else ""
        rows.append([str(k), *(size_number(v) for v in place), said])
    return rows


def section_rows(passage: Passage) -> list[list[str]]:
    """Headings, then a row at each place where sections are given, or at MOST_ROWS places."""
    size, area = unit("length"), unit("area")
    at = passage.at
    if len(at) > MOST_ROWS:
        at = np.linspace(0.0, passage.length, MOST_ROWS)
    names = ("at", "width", "height", "corner radius", "perimeter")
    rows = [[*(f"{n}, {size.name}" for n in names), f"area, {area.name}"]]
    for s in at:
        c = passage.section(float(s))
        values = (s, c.width, c.height, c.corner, c.perimeter)
        said = area.number(float(c.area), 1 if area.name == "mm2" else 4)
        rows.append([*(size_number(v, 1) for v in values), said])
    return rows
