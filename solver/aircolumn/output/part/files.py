"""Meshes of a part as STL and 3MF; its centre line and area schedule as CSV."""

from __future__ import annotations

import csv
from pathlib import Path
from typing import TYPE_CHECKING

import numpy as np

from aircolumn.display_units import unit
from aircolumn.engine.description.area_schedule import write_area_schedule
from aircolumn.flow.duct.geometry import Shape

if TYPE_CHECKING:
    from manifold3d import Manifold
    from trimesh import Trimesh

    from aircolumn.space.centre_line import CentreLine


def as_mesh(solid: Manifold, factor: float = 1.0) -> Trimesh:
    """A solid as a mesh, mm; factor: on all sizes."""
    import trimesh

    mesh = solid.to_mesh()
    corners = np.asarray(mesh.vert_properties, dtype=float)[:, :3]
    return trimesh.Trimesh(factor * corners, np.asarray(mesh.tri_verts, dtype=np.int64))


def write_meshes(solids: dict[str, Manifold], base: Path, factor: float = 1.0) -> None:
    """One STL file for each solid ({name to add: solid}), and all of them in one 3MF file, in mm."""
    import trimesh

    scene = trimesh.Scene()
    for name, solid in solids.items():
        mesh = as_mesh(solid, factor)
        mesh.export(base.with_name(f"{base.name}{name}.stl"))
        scene.add_geometry(mesh, geom_name=f"{base.name}{name}")
    scene.units = "millimeter"
    scene.export(base.with_name(f"{base.name}.3mf"))


def write_route(path: Path, line: CentreLine, smooth_step: float = 0.005) -> None:
    """A centre line so that the engine file can name it (route: FILE.csv): its corners and the radii of its
    bends, or points of a smooth curve."""
    size = unit("length")
    with open(path, "w", newline="", encoding="utf-8") as file:
        table = csv.writer(file, lineterminator="\n")
        names = [f"{name} [{size.name}]" for name in "xyz"]
        if line.is_smooth:
            table.writerow(names)
            count = max(4, int(np.ceil(line.length / smooth_step)))
            rows = line.at(np.linspace(0.0, line.length, count + 1))[0]
            table.writerows([f"{v:.9g}" for v in size.of(row)] for row in rows)
            return
        table.writerow([*names, f"bend_radius [{size.name}]"])
        for place, radius in corners_of(line):
            table.writerow([f"{v:.9g}" for v in (*size.of(place), float(size.of(radius)))])


def corners_of(line: CentreLine) -> list[tuple[np.ndarray, float]]:
    """(corner, radius of its bend) of legs and bends, m; 0 at the ends."""
    ends = line.at(np.array([0.0, line.length]))[0]
    inner = []
    for _, bend in line.bends:
        cut = bend.radius * np.tan(0.5 * bend.angle)
        inner.append((bend.start + cut * bend.direction, bend.radius))
    return [(ends[0], 0.0), *inner, (ends[1], 0.0)]


def write_schedule(
    path: Path, distance: np.ndarray, area: np.ndarray, perimeter: np.ndarray | None = None
) -> None:
    """An area schedule of a duct that is round (perimeter None) or not; m and m2."""
    shape = Shape(distance, np.sqrt(4.0 * area / np.pi))
    around = None if perimeter is None else np.maximum(perimeter, np.pi * shape.diameter).tolist()
    write_area_schedule(path, shape, unit("length").name, around)
