"""A centre line as a tube bender reads it: legs, by how much the plane turns from bend to bend, bends."""

from __future__ import annotations

from typing import NamedTuple

import numpy as np

from aircolumn.space.centre_line import Bend, CentreLine

SHORTEST = 1e-6  # m: a shorter leg is none


class BendRow(NamedTuple):
    """A straight leg, m, and the bend behind it: by how much its plane is turned from that of the bend
    before, deg (clockwise, looking along the runner); angle, deg; radius, m. The last leg has no bend."""

    leg: float
    turn: float | None = None
    angle: float | None = None
    radius: float | None = None


def bend_table(line: CentreLine) -> list[BendRow]:
    """Leg by leg, from the beginning; a smooth curve has no such table and gives none. Bends of one radius
    that follow each other in one plane are one."""
    if line.is_smooth:
        return []
    rows: list[BendRow] = []
    leg = 0.0
    before: Bend | None = None
    for piece in line.pieces:
        if not isinstance(piece, Bend):
            leg += piece.length
            continue
        angle = float(np.degrees(piece.angle))
        if before is not None and leg < SHORTEST and _goes_on(before, piece):
            rows[-1] = rows[-1]._replace(angle=(rows[-1].angle or 0.0) + angle)
        else:
            turn = 0.0 if before is None else between_planes(before, piece)
            rows.append(BendRow(leg, turn, angle, piece.radius))
        leg, before = 0.0, piece
    return [*rows, BendRow(leg)]


def _goes_on(before: Bend, here: Bend) -> bool:
    return abs(between_planes(before, here)) < 1e-3 and abs(here.radius - before.radius) < SHORTEST


def between_planes(before: Bend, here: Bend) -> float:
    """Angle between the planes of two bends, deg."""
    one = np.cross(before.direction, before.inward)
    other = np.cross(here.direction, here.inward)
    return float(np.degrees(np.arctan2(np.cross(one, other) @ here.direction, one @ other)))
