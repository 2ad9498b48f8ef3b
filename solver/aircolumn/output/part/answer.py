"""A part, and a shape that was read from a mesh, as --json prints them (SI)."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

from aircolumn.part.made import Kind

if TYPE_CHECKING:
    from aircolumn.part.made import Made
    from aircolumn.part.read_back import Schedule


@dataclass(frozen=True)
class PieceFound:
    """A piece: its stretch of the centre line, and the sides of its box, the longest first."""

    from_: float
    to: float
    sides: list[float]


@dataclass(frozen=True)
class PartFound:
    """Length, corners with radii, volumes, pieces."""

    runner: str
    kind: Kind
    runners: int
    length: float
    corners: list[list[float]]
    radii: list[float]
    air_volume: float
    computed_volume: float
    material: float
    mass: float | None
    pieces: list[PieceFound]

    @classmethod
    def of(cls, made: Made, name: str) -> PartFound:
        """Of what part/ made of a candidate."""
        from aircolumn.output.part.files import corners_of  # slow to load
        from aircolumn.part.pieces import extents

        line = made.part.passage.line
        corners = [] if line.is_smooth else corners_of(line)
        return cls(
            runner=name,
            kind=made.kind,
            runners=len(made.part.shifts),
            length=line.length,
            corners=[[float(v) for v in place] for place, _ in corners],
            radii=[float(radius) for _, radius in corners[1:-1]],
            air_volume=made.air_volume,
            computed_volume=made.computed_volume,
            material=made.material,
            mass=made.mass,
            pieces=[
                PieceFound(p.start, p.stop, list(1e-3 * np.sort(extents(p.solid))[::-1])) for p in made.pieces
            ],
        )


@dataclass(frozen=True)
class SectionsFound:
    """Centre line, areas and perimeters by distance; the volume, and what the cuts hold."""

    length: float
    distance: np.ndarray
    area: np.ndarray
    perimeter: np.ndarray
    volume: float
    volume_between_cuts: float

    @classmethod
    def of(cls, read: Schedule) -> SectionsFound:
        """Of a shape read back."""
        return cls(read.line.length, read.distance, read.area, read.perimeter, read.volume, read.held)
