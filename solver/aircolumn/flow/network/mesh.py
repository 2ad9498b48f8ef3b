"""Geometry and walls of all ducts, by place (arrays/ducts.py: Mesh)."""

from __future__ import annotations

from dataclasses import fields
from functools import lru_cache
from typing import TYPE_CHECKING, NamedTuple

import numpy as np

from aircolumn.flow.arrays.ducts import Mesh, block, rows
from aircolumn.flow.duct.walls import rough_term
from aircolumn.flow.network.items import DuctLayout, Wall, mean_along
from aircolumn.flow.network.placement import PlacedDuct

if TYPE_CHECKING:
    from aircolumn.flow.duct.division import Reach

# Cells over which the area changes by more than this (logarithm) are too coarse for a parabola.
COARSE_FROM, COARSE_WIDTH = 0.4, 0.4
KEPT = 128  # meshes: those of a few engines
_ZERO_OUTSIDE = (
    "inside",
    "slope_l",
    "slope_m",
    "slope_r",
    "taper_l",
    "taper_r",
    "coarse",
    "per_reach",
)
#: values of the wall that kernels take as they are
_WALL_ROWS = tuple(field.name for field in fields(Wall) if field.name in Mesh._fields)


def mesh_of(ducts: dict[str, PlacedDuct], places: int) -> Mesh:
    """The mesh of all ducts; what is alike for ducts of the same layouts is computed once."""
    return rows(Mesh, _mesh(tuple(_Laid(d.declared.layout, d.firsts) for d in ducts.values()), places).copy())


class _Laid(NamedTuple):
    """A layout and where its reaches lie in the arrays."""

    layout: DuctLayout
    firsts: tuple[int, ...]


@lru_cache(maxsize=KEPT)
def _mesh(ducts: tuple[_Laid, ...], places: int) -> np.ndarray:
    mesh = rows(Mesh, block(Mesh, places, 1.0))
    for name in (*_ZERO_OUTSIDE, *_WALL_ROWS):
        getattr(mesh, name)[:] = 0.0
    mesh.even_l[:] = mesh.even_r[:] = 1.0
    for layout, firsts in ducts:
        for first, reach in zip(firsts, layout.reaches, strict=True):
            _divide(mesh, first, reach)
            _taper(mesh, first, reach)
            _line(mesh, layout.wall, first, reach)
    mesh.per_dx[:] = 1.0 / mesh.dx
    mesh.per_volume[:] = 1.0 / mesh.volume
    mesh.per_mid[:] = 0.25 / mesh.area_mid
    mesh.per_diameter[:] = 1.0 / mesh.diameter
    return np.array(mesh)


def _divide(mesh: Mesh, first: int, reach: Reach) -> None:
    """Lengths, areas and volumes of a reach's cells and their ghosts."""
    n = reach.cells
    c, nodes = slice(first, first + n), slice(first, first + n + 1)
    dx, areas = np.diff(reach.edges), reach.shape.area(reach.edges)
    l, r = areas[:-1], areas[1:]
    # The mean area is the exact integral; the middle area is the one that gives it back by
    # Simpson's rule, so that the parabola through all three holds the cell's true volume.
    mean = reach.volumes() / dx
    m = np.maximum(1.5 * mean - 0.25 * (l + r), 0.25 * np.minimum(l, r))
    mesh.dx[c], mesh.dx[first - 1], mesh.dx[first + n] = dx, dx[0], dx[-1]
    mesh.inside[c] = 1.0
    mesh.area[nodes] = areas
    mesh.area[first - 1] = areas[0]
    mesh.area_mid[c], mesh.area_mid[first - 1], mesh.area_mid[first + n] = m, m[0], m[-1]
    mesh.volume[c] = (l + 4.0 * m + r) / 6.0
    # Weights of a cell's neighbours in second differences, so that a straight line has none.
    # (First and last cell see ghosts as far off as their neighbours.)
    if n > 2:
        mesh.even_l[first + 1 : first + n - 1] = 2.0 * dx[1:-1] / (dx[1:-1] + dx[:-2])
        mesh.even_r[first + 1 : first + n - 1] = 2.0 * dx[1:-1] / (dx[1:-1] + dx[2:])


def _taper(mesh: Mesh, first: int, reach: Reach) -> None:
    """Slopes of the area in a reach's cells, and which are too coarse for them.

    The parabola through left, middle and right area: exact for a cone, and its slopes add up to the
    change of area by Simpson's rule, which keeps gas at rest at rest.
    """
    c = slice(first, first + reach.cells)
    dx, m, areas = mesh.dx[c], mesh.area_mid[c], reach.shape.area(reach.edges)
    l, r = areas[:-1], areas[1:]
    growth = np.max(np.abs(np.log([m / l, r / m, r / l])), axis=0)
    coarse = np.clip((growth - COARSE_FROM) / COARSE_WIDTH, 0.0, 1.0)
    mean_slope, mean_taper = (r - l) / dx, np.log(r / l) / dx
    slope_l, slope_r = (4.0 * m - 3.0 * l - r) / dx, (l - 4.0 * m + 3.0 * r) / dx
    mesh.coarse[c] = coarse
    room = np.minimum(mesh.volume[c] / np.maximum(l, r), 1.0)
    mesh.per_reach[c] = 1.0 / (dx * (1.0 + coarse * (room - 1.0)))
    mesh.slope_l[c] = slope_l + coarse * (mean_slope - slope_l)
    mesh.slope_m[c] = mean_slope
    mesh.slope_r[c] = slope_r + coarse * (mean_slope - slope_r)
    mesh.taper_l[c] = slope_l / l + coarse * (mean_taper - slope_l / l)
    mesh.taper_r[c] = slope_r / r + coarse * (mean_taper - slope_r / r)
    # Half the growth of area along a wave path must stay below 1 (characteristics.py), also on
    # meshes that do not resolve the taper.
    for taper in (mesh.taper_l, mesh.taper_r):
        taper[c] = np.clip(taper[c], -1.0 / dx, 1.0 / dx)


def _line(mesh: Mesh, wall: Wall, first: int, reach: Reach) -> None:
    """Diameter and wall of a reach's cells (and ghosts, where the march reads them)."""
    n, shape = reach.cells, reach.shape
    c, around = slice(first, first + n), slice(first - 1, first + n + 1)
    middle = 0.5 * (reach.edges[:-1] + reach.edges[1:])
    edges = reach.start + reach.edges
    hydraulic = shape.bore(middle) * mean_along(wall.roundness, edges)
    mesh.diameter[around] = shape.bore(0.0)
    mesh.diameter[c] = hydraulic
    relative = mean_along(wall.roughness, edges) / hydraulic
    mesh.rough[around] = rough_term(relative[0])
    mesh.rough[c] = rough_term(relative)
    mesh.wall[c] = mean_along(wall.temperature, edges)
    for name in _WALL_ROWS:
        getattr(mesh, name)[c] = mean_along(getattr(wall, name), edges)
