"""Rows of the tables of a part, in the units shown: legs and bends, corners, sections."""

from __future__ import annotations

import numpy as np

from aircolumn.display_units import unit
from aircolumn.engine.description.part import Part
from aircolumn.output.part.files import corners_of
from aircolumn.space.bend_table import bend_table, between_planes
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


def line_rows(line: CentreLine) -> list[list[str]]:
    """Headings, then a row a point of the centre line: where it is, radius and angle of the bend there, how
    its plane is turned from the one before, and the straight way to the next; headings alone for a smooth
    curve."""
    size = unit("length")
    heads = ["", *(f"{axis}, {size.name}" for axis in "xyz"), f"radius, {size.name}", "bend, deg"]
    rows = [[*heads, "rotation, deg", f"straight on, {size.name}"]]
    if line.is_smooth:
        return rows
    bends = line.bends
    ends = [0.0, *(start + bend.length for start, bend in bends)]
    ways = np.subtract([*(start for start, _ in bends), line.length], ends)
    for k, (place, radius) in enumerate(corners_of(line)):
        row = [str(k + 1), *(size_number(v) for v in place), "", "", "", ""]
        if 0 < k <= len(bends):
            bend = bends[k - 1][1]
            row[4:6] = size_number(radius), f"{np.degrees(bend.angle):.1f}"
            row[6] = f"{between_planes(bends[k - 2][1], bend):z.1f}" if k > 1 else ""
        if k < len(ways):
            row[7] = size_number(ways[k])
        rows.append(row)
    return rows


def hole_rows(part: Part) -> list[list[str]]:
    """Headings, then a row a bolt hole of the two flanges, from the middle of the opening."""
    size = unit("length")
    rows = [["flange", "hole", f"across, {size.name}", f"up, {size.name}", f"diameter, {size.name}"]]
    for name, flange in (("mouth", part.plenum_flange), ("head", part.port_flange)):
        if flange is not None:
            bore = size_number(flange.bolt_hole) if flange.bolts else ""
            rows += [
                [name, str(k), size_number(x), size_number(y), bore]
                for k, (x, y) in enumerate(flange.bolts, 1)
            ]
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
