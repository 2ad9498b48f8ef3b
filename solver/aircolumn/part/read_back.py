"""An area schedule from a mesh of an air column: cut square to its centre line from end to end.

From one flat end the cuts follow the centroids: the way on turns as much as it did between the last two
steps. Then all are cut anew square to the smooth curve through the centroids, until these no
longer move. Area and perimeter of a cut are those of its polygon.
"""

from __future__ import annotations

from dataclasses import dataclass
from itertools import pairwise
from typing import TYPE_CHECKING

import numpy as np

from aircolumn.display_units import said_place, said_point
from aircolumn.errors import ComputationError
from aircolumn.part.cuts import Cutter, Loop
from aircolumn.space.centre_line import CentreLine, smooth_line

if TYPE_CHECKING:
    from trimesh import Trimesh

STEP = 0.15  # of the bore, from cut to cut
MOST_CUTS = 1500
ROUNDS, STILL = 6, 2e-4  # of cutting anew; of the bore: centroids that move by less stand still
FLAT = 0.3  # deg, between neighbours of one flat face
SAME = 0.02  # of an end's area: the cut close behind it is as large
BEHIND = 0.02  # of the bore, where that cut is


@dataclass(frozen=True, eq=False)
class EndFace:
    """A flat end: centroid, normal into the column, area (in the units of the mesh)."""

    centre: np.ndarray
    inward: np.ndarray
    area: float


@dataclass(frozen=True, eq=False)
class Schedule:
    """What was read, m: the centre line; distances, areas and perimeters (n,); volume of the mesh, m3."""

    line: CentreLine
    distance: np.ndarray
    area: np.ndarray
    perimeter: np.ndarray
    volume: float

    @property
    def held(self) -> float:
        """Volume between the cuts, m3."""
        return float(np.trapezoid(self.area, self.distance))

    def tightest(self) -> float:
        """Radius over the most bent stretch that is as long as the bore, m."""
        bore = float(np.sqrt(4.0 * np.mean(self.area) / np.pi))
        s = np.linspace(0.0, max(self.line.length - bore, 0.0), 200)
        first, second = self.line.at(s)[1], self.line.at(s + bore)[1]
        turned = np.arccos(np.clip(np.sum(first * second, axis=1), -1.0, 1.0))
        return float(bore / max(turned.max(), 1e-9))


def schedule_of(mesh: Trimesh, start: np.ndarray | None = None, stop: np.ndarray | None = None) -> Schedule:
    """The area schedule of a mesh in metres.

    Parameters
    ----------
    mesh : trimesh.Trimesh
        Closed, one body, its faces outwards (mesh_file.read_mesh).
    start, stop : (3,) array, optional
        m, near the first and the last end; left out: from the larger end to the smaller.

    Returns
    -------
    Schedule

    Raises
    ------
    ComputationError
        If no two ends are found, or the way from one to the other is lost or crosses itself.
    """
    cutter = Cutter(mesh)
    first, last = _two_ends(mesh, cutter, start, stop)
    centroids = _followed(cutter, first, last)
    line = smooth_line(centroids)
    loops: list[Loop] = []
    for _ in range(ROUNDS):
        line, loops, moved = _cut_anew(cutter, line, first, last, len(centroids))
        if moved < STILL:
            break
    distance = np.linspace(0.0, line.length, len(loops))
    areas = np.array([loop.area for loop in loops])
    around = np.array([loop.perimeter for loop in loops])
    for s, loop in zip(distance, loops, strict=True):
        if loop.crosses:
            raise ComputationError(
                f"the column crosses itself {said_place(s)} from its beginning,"
                f" at {said_point(loop.centre)}: no area can be read there"
            )
    return Schedule(line, distance, areas, around, float(mesh.volume))


def _two_ends(
    mesh: Trimesh, cutter: Cutter, start: np.ndarray | None, stop: np.ndarray | None
) -> tuple[EndFace, EndFace]:
    """The ends, in flow order."""
    ends = _flat_ends(mesh, cutter)
    if len(ends) < 2:
        raise ComputationError(
            f"{len(ends)} flat ends were found, and two are needed: cut the column square at both ends"
        )
    if start is None and stop is None:
        two = sorted(sorted(ends, key=lambda e: e.area)[:2], key=lambda e: -e.area)
        return two[0], two[1]
    near = {name: p for name, p in (("start", start), ("stop", stop)) if p is not None}
    found = {name: min(ends, key=lambda e: float(np.linalg.norm(e.centre - p))) for name, p in near.items()}
    for name, other in (("start", "stop"), ("stop", "start")):
        if name not in found:
            rest = [e for e in ends if e is not found[other]]
            found[name] = min(rest, key=lambda e: e.area)
    if found["start"] is found["stop"]:
        raise ComputationError("both points are nearest to the same end")
    return found["start"], found["stop"]


def _flat_ends(mesh: Trimesh, cutter: Cutter) -> list[EndFace]:
    """Flat faces behind which the column goes on as wide as they are."""
    import trimesh

    adjacency = mesh.face_adjacency[mesh.face_adjacency_angles < np.radians(FLAT)]
    groups = trimesh.graph.connected_component_labels(adjacency, node_count=len(mesh.faces))
    areas = np.bincount(groups, weights=mesh.area_faces)
    least = 0.02 * np.max(areas)
    found = []
    for label in np.flatnonzero(areas >= least):
        faces = np.flatnonzero(groups == label)
        weight = mesh.area_faces[faces]
        inward = -np.average(mesh.face_normals[faces], axis=0, weights=weight)
        inward /= np.linalg.norm(inward)
        centre = np.average(mesh.triangles_center[faces], axis=0, weights=weight)
        if np.ptp(mesh.triangles[faces].reshape(-1, 3) @ inward) > 0.01 * np.sqrt(areas[label]):
            continue  # bent
        behind = cutter.nearest(centre + BEHIND * np.sqrt(areas[label]) * inward, inward)
        if behind is not None and abs(behind.area / areas[label] - 1.0) < SAME:
            found.append(EndFace(centre, inward, float(areas[label])))
    return found


def _followed(cutter: Cutter, first: EndFace, last: EndFace) -> np.ndarray:
    """Centroids of cuts from one end to the other, (n, 3)."""
    places, chord, turn = [first.centre], first.inward, np.zeros(3)
    bore = np.sqrt(4.0 * first.area / np.pi)
    while True:
        step = STEP * bore
        way = _unit(chord + turn)
        ahead = places[-1] + step * way
        left = float((ahead - last.centre) @ last.inward)
        if np.linalg.norm(ahead - last.centre) < 2.0 * bore and left < 0.5 * step:
            break
        loop = cutter.nearest(ahead, _unit(chord + 1.5 * turn))
        if loop is None or len(places) > MOST_CUTS or np.linalg.norm(loop.centre - ahead) > bore:
            raise ComputationError(
                f"the way from one end to the other is lost after {said_point(places[-1])}: the column"
                " branches, folds or changes too fast there; say where it begins and ends: --start, --stop"
            )
        before, chord = chord, _unit(loop.centre - places[-1])
        turn = chord - before
        places.append(loop.centre)
        bore = np.sqrt(4.0 * loop.area / np.pi)
    return np.array([*places, last.centre])


def _unit(vector: np.ndarray) -> np.ndarray:
    return vector / np.linalg.norm(vector)


def _cut_anew(
    cutter: Cutter, line: CentreLine, first: EndFace, last: EndFace, count: int
) -> tuple[CentreLine, list[Loop], float]:
    """(line through the centroids of cuts square to ``line``, those cuts, how far they moved in bores)."""
    s = np.linspace(0.0, line.length, count)
    place, along, _ = line.at(s)
    along[0], along[-1] = first.inward, -last.inward
    bore = np.sqrt(4.0 * first.area / np.pi)
    place[0] += BEHIND * bore * along[0]  # the end itself is a face, not a cut
    place[-1] -= BEHIND * bore * along[-1]
    loops = []
    for p, t in zip(place, along, strict=True):
        loop = cutter.nearest(p, t)
        if loop is None:
            raise ComputationError(
                "the column cannot be cut square to its centre line; is it bent too tightly?"
            )
        loops.append(loop)
    centroids = np.array([loop.centre for loop in loops])
    moved = np.max(np.linalg.norm(centroids - place, axis=1)) / bore
    centroids[0], centroids[-1] = first.centre, last.centre
    if any(np.linalg.norm(b - a) < 0.02 * bore for a, b in pairwise(centroids)):
        raise ComputationError("cuts fall together: the column is bent too tightly to be cut square")
    return smooth_line(centroids), loops, float(moved)
