"""A part, and a shape that was read from a mesh, as plain data (SI)."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

import numpy as np

from aircolumn.output.part.files import corners_of
from aircolumn.part.made import Made
from aircolumn.part.pieces import extents

if TYPE_CHECKING:
    from aircolumn.part.read_back import Schedule


def plain_part(made: Made, name: str) -> dict[str, Any]:
    """Length, corners, volumes, pieces."""
    line = made.part.passage.line
    corners = [] if line.is_smooth else corners_of(line)
    return {
        "runner": name,
        "kind": made.kind,
        "runners": len(made.part.shifts),
        "length": line.length,
        "corners": [[float(v) for v in place] for place, _ in corners],
        "radii": [float(radius) for _, radius in corners[1:-1]],
        "air_volume": made.air_volume,
        "computed_volume": made.computed_volume,
        "material": made.material,
        "pieces": [
            {
                "from": float(p.start),
                "to": float(p.stop),
                "sides": [float(v) for v in 1e-3 * np.sort(extents(p.solid))[::-1]],
            }
            for p in made.pieces
        ],
    }


def plain_schedule(read: Schedule) -> dict[str, Any]:
    """Centre line, areas and perimeters by distance."""
    return {
        "length": read.line.length,
        "distance": read.distance.tolist(),
        "area": read.area.tolist(),
        "perimeter": read.perimeter.tolist(),
        "volume": read.volume,
        "volume_between_cuts": read.held,
    }
