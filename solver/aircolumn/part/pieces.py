"""A part in pieces that fit a printer's bed, with joints between them.

A spigot of the piece before stands in a socket of the next, on a straight stretch: a bent one could not be
put in. For an O-ring the spigot has a groove, 0.8 of the cord deep and 1.35 wide (common practice; ISO 3601-2
has the housings). Where there is no straight stretch, flanges do.
"""

from __future__ import annotations

from dataclasses import dataclass
from itertools import pairwise
from typing import TYPE_CHECKING, Any

import numpy as np

from aircolumn.display_units import said_place, said_sizes
from aircolumn.errors import RequestError
from aircolumn.part.runner import THROUGH, RunnerPart, Solids, copied
from aircolumn.part.sweep import MM, drilled, prism, tube
from aircolumn.space.cross_section import CrossSection

if TYPE_CHECKING:
    from manifold3d import Manifold

RASTER = 0.005  # m, between places for a joint
MOST_PIECES = 12
GROOVE_DEPTH, GROOVE_WIDTH, UNDER_GROOVE = 0.8, 1.35, 0.0015  # of the cord; m
EDGE = 2.2  # bolt holes' diameters, from the outside to the edge of a joint's flange


@dataclass(frozen=True)
class Piece:
    """A piece: from where to where along the runner, m, and its solid."""

    start: float
    stop: float
    solid: Manifold


def pieces_of(part: RunnerPart, plenum: Solids | None = None) -> list[Piece]:
    """The part in as few pieces as fit its bed, as alike in length as can be; one piece without a bed.

    plenum: what the first piece has in front of the runners. Raises RequestError if no pieces fit.
    """
    bed = part.part.bed
    whole = whole_piece(part, plenum)
    if bed is None or fits_bed(whole.solid, bed):
        return [whole]
    places = _places(part)
    cuts = _fewest(part, plenum, places, whole)
    even = [_nearest(places, x) for x in np.linspace(part.begin, part.end, len(cuts) + 2)[1:-1]]
    for chosen in (even, cuts):
        if len(set(chosen)) < len(chosen):
            continue
        found = [_piece(part, a, b, plenum) for a, b in pairwise([part.begin, *chosen, part.end])]
        if all(fits_bed(piece.solid, bed) for piece in found):
            return found
    raise RequestError(_too_large(part, whole))


def whole_piece(part: RunnerPart, plenum: Solids | None = None) -> Piece:
    """The part in one piece."""
    return _piece(part, part.begin, part.end, plenum)


def _fewest(part: RunnerPart, plenum: Solids | None, places: np.ndarray, whole: Piece) -> list[float]:
    """Cuts, each as far from the one before as the bed allows."""
    bed = part.part.bed or []
    cuts: list[float] = []
    start = part.begin
    while not cuts or not fits_bed(_piece(part, start, part.end, plenum).solid, bed):  # the whole does not
        ahead = places[places > start + RASTER]
        low, high = 0, len(ahead)  # the first that is too far
        while low < high:
            middle = (low + high) // 2
            if fits_bed(_piece(part, start, float(ahead[middle]), plenum).solid, bed):
                low = middle + 1
            else:
                high = middle
        if low == 0 or len(cuts) + 2 > MOST_PIECES:
            raise RequestError(_too_large(part, whole))
        start = float(ahead[low - 1])
        cuts.append(start)
    return cuts


def _too_large(part: RunnerPart, whole: Piece) -> str:
    bed, size = said_sizes(part.part.bed or []), said_sizes(np.sort(extents(whole.solid))[::-1] / MM, 3)
    wide = float(np.ptp(part.shifts[:, 0])) if len(part.shifts) > 1 else 0.0
    more = f"; its runners alone are {said_place(wide)} apart, so make them one by one" if wide else ""
    return (
        f"no joints were found with which the part of {size} fits a bed of {bed}{more}; take a larger bed, a"
        " shorter joint, or joint: {kind: flange}, which needs no straight stretch"
    )


def _nearest(places: np.ndarray, x: float) -> float:
    return float(places[np.argmin(np.abs(places - x))])


def _places(part: RunnerPart) -> np.ndarray:
    """Where a joint may be, m."""
    joint = part.part.joint
    flanges = [
        f.thickness if f is not None else 0.0 for f in (part.part.plenum_flange, part.part.port_flange)
    ]
    first = part.begin + part.lip + flanges[0] + RASTER
    last = part.end - flanges[1] - RASTER
    if joint.kind == "flange":
        return np.arange(first + joint.thickness, last - joint.thickness, RASTER)
    s = np.arange(first, last - joint.length - part.part.wall, RASTER)
    reach = np.linspace(0.0, joint.length, 7)
    bent = np.linalg.norm(part.passage.line.at((s[:, None] + reach).ravel())[2], axis=1).reshape(s.size, -1)
    return s[bent.max(axis=1, initial=0.0) < 1e-6]


def fits_bed(solid: Manifold, bed: Any) -> bool:
    """Whether a solid fits a bed (m), turned as it fits best."""
    return bool(np.all(np.sort(extents(solid)) <= MM * np.sort(bed) + 1e-6))


def extents(solid: Manifold) -> np.ndarray:
    """Sides of the smallest box around a solid, mm."""
    import trimesh

    mesh = solid.hull().to_mesh()
    return np.asarray(trimesh.bounds.oriented_bounds(np.asarray(mesh.vert_properties)[:, :3])[1])


def _piece(part: RunnerPart, start: float, stop: float, plenum: Solids | None) -> Piece:
    """From one joint (or end) to the next."""
    first, last = start == part.begin, stop == part.end
    found = Solids()
    if first and plenum is not None:
        found.adds += plenum.adds
        found.cuts += plenum.cuts
    if part.part.joint.kind == "flange":
        _extend(found, part.between(start, stop))
        for at, way in [(start, 1.0)] * (not first) + [(stop, -1.0)] * (not last):
            _extend(found, _flange(part, at, way))
        return Piece(start, stop, found.whole())
    body = start if first else start + part.part.joint.length
    _extend(found, part.between(body, stop))
    one = Solids()
    if not first:
        _extend(one, _socket(part, start))
    if not last:
        _extend(one, _spigot(part, stop))
    _extend(found, Solids(copied(one.adds, part.shifts), copied(one.cuts, part.shifts)))
    return Piece(start, stop, found.whole())


def _extend(found: Solids, more: Solids) -> None:
    found.adds += more.adds
    found.cuts += more.cuts


def _spigot_outside(part: RunnerPart, at: float) -> CrossSection:
    """Of the widest section within the joint."""
    joint, wall = part.part.joint, part.part.wall
    ends = [part.passage.one_section(s) for s in (at, at + joint.length)]
    groove = GROOVE_DEPTH * joint.cord + UNDER_GROOVE if joint.kind == "o_ring" else 0.0
    return max(ends, key=lambda c: c.area).grown(max(wall, groove))


def _spigot(part: RunnerPart, at: float) -> Solids:
    """The end of the piece before, which stands in the next."""
    joint, outside = part.part.joint, _spigot_outside(part, at)
    tip = at + joint.length - joint.gap
    found = Solids([prism(part.passage, at - part.part.wall, tip, outside)])
    found.cuts.append(tube(part.passage, at - part.part.wall - THROUGH, tip + THROUGH))
    if joint.kind == "o_ring":
        middle, half = at + 0.5 * joint.length, 0.5 * GROOVE_WIDTH * joint.cord
        around = prism(part.passage, middle - half, middle + half, outside.grown(0.01))
        kept = outside.grown(-GROOVE_DEPTH * joint.cord)
        found.cuts.append(around - prism(part.passage, middle - 2 * half, middle + 2 * half, kept))
    return found


def _socket(part: RunnerPart, at: float) -> Solids:
    """The beginning of a piece, in which the spigot of the one before stands."""
    joint, wall = part.part.joint, part.part.wall
    inside = _spigot_outside(part, at).grown(joint.gap)
    shoulder = at + joint.length
    collar = prism(part.passage, at, shoulder + wall, inside.grown(wall))
    return Solids(
        [collar],
        [
            prism(part.passage, at - THROUGH, shoulder, inside),
            tube(part.passage, shoulder - THROUGH, shoulder + wall + THROUGH),
        ],
    )


def _flange(part: RunnerPart, at: float, way: float) -> Solids:
    """A plate with a bolt at each corner."""
    joint = part.part.joint
    outside = part.passage.one_section(at, part.part.wall)
    edge = EDGE * joint.bolt_hole
    width, height = outside.width + 2.0 * edge, outside.height + 2.0 * edge
    plate = CrossSection(width, height, edge)
    x, y = 0.5 * (width - edge), 0.5 * (height - edge)
    bolts = [(i * x, j * y) for i in (-1, 1) for j in (-1, 1)]
    adds = [prism(part.passage, at, at + way * joint.thickness, plate)]
    cuts = drilled(part.passage, at, joint.thickness, bolts, joint.bolt_hole)
    cuts.append(tube(part.passage, at - 2 * joint.thickness, at + 2 * joint.thickness))
    return Solids(copied(adds, part.shifts), copied(cuts, part.shifts))
