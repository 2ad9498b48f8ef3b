"""Plane cuts of a closed mesh: loops with area, perimeter and centroid.

A face whose corners lie on both sides of the plane is cut in a segment between two of its edges; followed
from edge to edge segments make loops, counter-clockwise around what is inside. The area is the sum of cross
products along a loop (Green's theorem).
"""

from __future__ import annotations

from dataclasses import dataclass
from functools import cached_property
from typing import TYPE_CHECKING

import numpy as np
from scipy.sparse import coo_matrix
from scipy.sparse.csgraph import connected_components

from aircolumn.space.cross_section import polygon_area

if TYPE_CHECKING:
    from trimesh import Trimesh

CROSSING = 2e-3  # of the area that is covered twice


@dataclass(frozen=True, eq=False)
class Loop:
    """One closed curve of a cut: its points (n, 2) in the plane and (3,) centroid in space; others: the loops
    of the same cut."""

    points: np.ndarray
    area: float
    perimeter: float
    centre: np.ndarray
    others: list[np.ndarray]

    @cached_property
    def crosses(self) -> bool:
        """Whether this loop crosses itself, or another of the cut."""
        from manifold3d import CrossSection, FillRule

        for more in ([], *([other] for other in self.others)):
            polygons = [self.points, *more]
            signed = sum(polygon_area(p) for p in polygons)
            filled = CrossSection(polygons, FillRule.Positive).area()
            if abs(filled - signed) > CROSSING * abs(self.area):
                return True
        return False


class Cutter:
    """A mesh that is cut many times."""

    def __init__(self, mesh: Trimesh) -> None:
        self.corners = np.asarray(mesh.vertices)
        self.faces = np.asarray(mesh.faces)
        self.edges = np.asarray(mesh.edges_unique)
        self.edges_of_faces = np.asarray(mesh.faces_unique_edges)
        self.centres = np.asarray(mesh.triangles_center)
        self.longest = float(np.max(mesh.edges_unique_length))

    def nearest(self, place: np.ndarray, normal: np.ndarray) -> Loop | None:
        """The loop around a place in the plane square to ``normal`` there, or the nearest; None if there is
        none."""
        loops = self.loops(place, normal)
        outside = [k for k, (p, area, _, _) in enumerate(loops) if area > 0.0]
        if not outside:
            return None
        k = min(outside, key=lambda k: float(np.linalg.norm(loops[k][3] - place)))
        points, area, perimeter, centre = loops[k]
        others = [p for j, (p, *_) in enumerate(loops) if j != k]
        return Loop(points, area, perimeter, centre, others)

    def loops(self, place: np.ndarray, normal: np.ndarray) -> list[tuple]:
        """(points in the plane, signed area, perimeter, centroid) of every loop."""
        across = np.cross(normal, np.eye(3)[int(np.argmin(np.abs(normal)))])
        across /= np.linalg.norm(across)
        axes = np.array([across, np.cross(normal, across)])
        which = np.flatnonzero(np.abs(_height(self.centres, place, normal)) <= self.longest)
        above = _height(self.corners[self.faces[which]], place, normal) > 0.0
        mixed = np.flatnonzero(above.any(axis=1) & ~above.all(axis=1))
        if mixed.size < 3:
            return []
        begin, end, points = self._segments(which[mixed], above[mixed], place, normal)
        flat = (points - place) @ axes.T
        return [
            _measured(flat[order], place, axes) for order in _chained(begin, end, len(flat)) if len(order) > 2
        ]

    def _segments(
        self, faces: np.ndarray, above: np.ndarray, place: np.ndarray, normal: np.ndarray
    ) -> tuple[np.ndarray, np.ndarray, np.ndarray]:
        """(first, second point of each face's segment, points (n, 3) where edges are cut). Around a face the
        plane is passed once downwards and once upwards: from the first to the second goes its segment."""
        next_above = np.roll(above, -1, axis=1)
        row = np.arange(len(faces))
        down, up = (np.argmax(v, axis=1) for v in (above & ~next_above, ~above & next_above))
        edges = self.edges_of_faces[faces]
        chosen = np.array([edges[row, up], edges[row, down]])
        unique, number = np.unique(chosen, return_inverse=True)
        number = number.reshape(chosen.shape)
        a, b = (self.corners[ends] for ends in self.edges[unique].T)
        first, second = (_height(p, place, normal) for p in (a, b))
        share = first / (first - second)
        return number[1], number[0], a + share[:, None] * (b - a)


def _height(points: np.ndarray, place: np.ndarray, normal: np.ndarray) -> np.ndarray:
    """Above the plane; written out, so that a point has the same height wherever it stands."""
    x, y, z = (points[..., k] - place[k] for k in range(3))
    return x * normal[0] + y * normal[1] + z * normal[2]


def _chained(begin: np.ndarray, end: np.ndarray, count: int) -> list[np.ndarray]:
    """Points of each loop in order."""
    following = np.full(count, -1)
    following[begin] = end
    graph = coo_matrix((np.ones(begin.size), (begin, end)), shape=(count, count))
    _, label = connected_components(graph, directed=False)
    found = []
    for k in range(int(label.max()) + 1):
        first = int(np.flatnonzero(label == k)[0])
        order, here = [first], int(following[first])
        while here not in (first, -1) and len(order) <= count:
            order.append(here)
            here = int(following[here])
        found.append(np.array(order))
    return found


def _measured(points: np.ndarray, place: np.ndarray, axes: np.ndarray) -> tuple:
    """(points, signed area, perimeter, centroid in space) of a loop."""
    following = np.roll(points, -1, axis=0)
    cross = points[:, 0] * following[:, 1] - points[:, 1] * following[:, 0]
    area = 0.5 * float(cross.sum())
    perimeter = float(np.linalg.norm(following - points, axis=1).sum())
    if abs(area) < 1e-15:
        return points, 0.0, perimeter, place
    middle = ((points + following) * cross[:, None]).sum(axis=0) / (6.0 * area)
    return points, area, perimeter, place + middle @ axes
