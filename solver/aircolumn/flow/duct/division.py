"""How a duct is divided: reaches in which the bore changes gradually, cut into cells, and sudden
changes of bore between them.

What the solver must not miss, whatever the size of its cells:

- Volumes of cells are exact integrals of the shape.
- Kinks of the shape and its narrowest places stand at nodes. Kinks that would move ln F by less
  than KINK are smoothed by the cells; those nearer than SHORTEST cells to another node are left
  out, unless they move it by more than STRONG: then the cells there are smaller. They are smaller
  too where the bore changes fast, above all where it changes back and forth.
- A change of bore at a wall steeper than a cone of SUDDEN degrees (whole angle) separates, and no
  such flow is one-dimensional: it is a sudden change between two reaches (ends/bore_change.py), put where
  it keeps the volume. It loses Borda-Carnot's head when the flow widens, and when it narrows

      K = 0.5 (1 - A2/A1) sqrt(sin(angle/2))     on the head in the narrow bore

  (Crane Technical Paper 410, contraction with an angle above 45 degrees; 180 degrees for a step),
  times 10^(-7.7 r/D) where the wall goes on to turn into the narrow bore with radius r (Idelchik,
  Handbook of Hydraulic Resistance, diagram 3-4: rounded entries).
  The same source takes the full loss of a sudden widening for angles above 45 degrees.
- A reach between two sudden changes that is shorter than SHORTEST cells becomes part of one, and
  so does a narrow one shorter than HALF of its bore, in which the flow finds no time to spread: a
  throat without length, whose air keeps its inertia; the reaches beside it are lengthened by what
  holds its volume. At a duct's end a narrow stretch stays, as long as that, a wide one goes.

The choices of steepness do not look at the cells, so results converge under refinement.
"""

from collections.abc import Sequence
from dataclasses import dataclass, replace
from itertools import pairwise
from typing import Any

import numpy as np

from aircolumn.flow.duct.geometry import Shape

NARROWER = 0.99  # of the smaller area beside it: a throat that narrows by less is none
SUDDEN = 45.0  # deg, whole angle of the cone
STEEP = 2.0 * np.tan(np.radians(0.5 * SUDDEN))  # change of bore per length
NEARLY_NONE = 2.0 * np.tan(np.radians(5.0))  # change of bore per length
MINOR = 0.02  # of ln F: what is steep but smaller than this is smoothed by the cells
KINK, STRONG = 0.03, 0.3  # of ln F
NARROW_FIRST = 2.0  # a kink that narrows counts so many times
SHORTEST = 0.4  # of a cell
HALF = 0.5  # of the bore
MOST_GIVEN = 0.5  # of the volume of a neighbour
# Growth of ln F over a cell, where the shape is to be resolved; so many times less beside a narrow
# or a wide place, but there for no cells shorter than LEAST of the usual ones.
STEEPEST, WAVES, LEAST = 0.15, 3.0, 0.25


@dataclass(frozen=True)
class Change:
    """A sudden change of bore at ``position`` (m): areas before, behind and in the throat (m2),
    loss coefficients of narrowing into the throat, forward and backward, on its dynamic head, and
    the inertance of the throat's air beyond that of the reaches (1/m)."""

    position: float
    before: float
    after: float
    throat: float
    loss_forward: float
    loss_back: float
    inertance: float = 0.0


@dataclass(frozen=True)
class Reach:
    """A stretch of a duct without sudden changes.

    shape: over its own length; start: its distance from the duct's beginning, m; edges: distances
    of its nodes from there, m.
    """

    start: float
    shape: Shape
    edges: np.ndarray

    @property
    def cells(self) -> int:
        """Number of cells."""
        return self.edges.size - 1

    def volumes(self) -> np.ndarray:
        """Volume of each cell, m3."""
        return np.diff(self.shape.volume_to(self.edges))


@dataclass
class _Stretch:
    """A reach before it is cut: the points of its shape, distances from the duct's beginning."""

    x: np.ndarray
    d: np.ndarray

    @property
    def length(self) -> float:
        return float(self.x[-1] - self.x[0])

    def shape(self) -> Shape:
        return Shape(self.x - self.x[0], self.d)


def divide(shape: Shape, cell: float, steepest: float = STEEPEST) -> tuple[list[Reach], list[Any]]:
    """(reaches, changes between them) of ``shape`` for cells of about ``cell`` metres.

    steepest: largest growth of ln F over one cell.
    """
    inlet_runs, changes = _split(shape)
    _lump(inlet_runs, changes, SHORTEST * cell)
    reaches = []
    for s in inlet_runs:
        own = s.shape()
        edges = _edges(own, cell, steepest)
        reaches.append(Reach(float(s.x[0]), own, edges))
    return reaches, changes


def sudden_changes(shape: Shape) -> list[Change]:
    """The sudden changes of bore in ``shape``, as its steepness alone decides."""
    return _split(shape)[1]


def narrowing_loss(share: float, angle: float) -> float:
    """Loss coefficient of narrowing to ``share`` of the area at a wall of ``angle`` degrees (whole
    angle, 45 to 180), on the head in the narrow bore (Crane TP-410)."""
    return 0.5 * (1.0 - share) * np.sqrt(np.sin(np.radians(0.5 * angle)))


def _split(shape: Shape) -> tuple[list[_Stretch], list[Change]]:
    """Stretches and sudden changes of a shape."""
    x, d = shape.distance.copy(), shape.diameter.copy()
    regions = _steep_regions(x, d)
    inlet_runs, changes = [], []
    before_x, before_d = [x[0]], [d[0]]
    k = 0
    for i, j in regions:
        before_x += list(x[k + 1 : i + 1])
        before_d += list(d[k + 1 : i + 1])
        at = _volume_position(x[i : j + 1], d[i : j + 1])
        inlet_runs.append(_stretch([*before_x, at], [*before_d, d[i]]))
        angle = 180.0 if x[j] == x[i] else 2.0 * np.degrees(np.arctan(0.5 * abs(d[j] - d[i]) / (x[j] - x[i])))
        rounded = 10.0 ** (-7.7 * _rounding(x, d, i, j))
        changes.append(_change(at, d[i], d[j], angle, rounded))
        before_x, before_d = [at, x[j]], [d[j], d[j]]
        k = j
    inlet_runs.append(_stretch([*before_x, *x[k + 1 :]], [*before_d, *d[k + 1 :]]))
    return inlet_runs, changes


def _stretch(x: Sequence[float], d: Sequence[float]) -> _Stretch:
    """Points without repeated distances (a minor step keeps its mean bore)."""
    xs, ds = [x[0]], [d[0]]
    for at, bore in zip(x[1:], d[1:], strict=True):
        if at - xs[-1] <= 1e-12:
            ds[-1] = 0.5 * (ds[-1] + bore)
        else:
            xs.append(at)
            ds.append(bore)
    return _Stretch(np.array(xs), np.array(ds))


def _steep_regions(x: np.ndarray, d: np.ndarray) -> list[tuple[int, int]]:
    """(first, last) point of every run of steep segments that rise, or fall, together."""
    steps = np.diff(d)
    steep = np.abs(steps) > STEEP * np.diff(x) * (1.0 + 1e-9)
    regions: list[tuple[int, int]] = []
    for k in np.flatnonzero(steep):
        joins = regions and regions[-1][1] == k and steps[k] * steps[k - 1] > 0.0
        if joins:
            regions[-1] = (regions[-1][0], int(k) + 1)
        else:
            regions.append((int(k), int(k) + 1))
    return [r for r in regions if abs(2.0 * np.log(d[r[1]] / d[r[0]])) > MINOR]


def _volume_position(x: np.ndarray, d: np.ndarray) -> float:
    """Where an abrupt change from d[0] to d[-1] leaves the volume between as it is."""
    if x[-1] == x[0]:
        return float(x[0])
    own = np.sum(np.diff(x) * (d[:-1] ** 2 + d[:-1] * d[1:] + d[1:] ** 2)) / 3.0
    share = (own / (x[-1] - x[0]) - d[-1] ** 2) / (d[0] ** 2 - d[-1] ** 2)
    return float(x[0] + share * (x[-1] - x[0]))


def _rounding(x: np.ndarray, d: np.ndarray, i: int, j: int) -> float:
    """Radius over narrow bore with which the wall turns from a steep stretch (points ``i`` to
    ``j``) into the narrow bore: the stretch in which its angle falls from SUDDEN to nearly none is
    that of an arc between these angles."""
    end, way = (j, 1) if d[j] < d[i] else (i, -1)
    k = end
    while 0 <= k + way < x.size:
        run, fall = abs(x[k + way] - x[k]), d[k] - d[k + way]
        if run == 0.0 or fall / run <= NEARLY_NONE:
            break
        k += way
    arc = np.sin(np.arctan(0.5 * STEEP)) - np.sin(np.arctan(0.5 * NEARLY_NONE))
    return float(abs(x[k] - x[end]) / arc / d[k])


def _change(at: float, d1: float, d2: float, angle: float, rounded: float) -> Change:
    before, after = 0.25 * np.pi * d1 * d1, 0.25 * np.pi * d2 * d2
    throat = min(before, after)
    losses = (rounded * narrowing_loss(throat / area, angle) for area in (before, after))
    return Change(at, before, after, throat, *losses)


def _lump(inlet_runs: Sequence[_Stretch], changes: Sequence[Any], shortest: float) -> None:
    """Take short stretches into the changes beside them (in place)."""
    while changes:
        choking_margin = [_spare_length(inlet_runs, changes, k, shortest) for k in range(len(inlet_runs))]
        k = int(np.argmin(choking_margin))
        if choking_margin[k] >= 0.0:
            return
        if k in (0, len(inlet_runs) - 1):
            _lump_at_end(inlet_runs, changes, k, shortest)
        else:
            _lump_between(inlet_runs, changes, k)


def _spare_length(inlet_runs: Any, changes: Any, k: int, shortest: Any) -> float:
    """By how much stretch ``k`` is longer than one that has to go, m."""
    least = shortest
    if 0 < k < len(inlet_runs) - 1:
        left, right = changes[k - 1], changes[k]
        if left.before > left.after and right.after > right.before:
            least = max(shortest, HALF * float(inlet_runs[k].d.min()))
    return inlet_runs[k].length - least


def _lump_at_end(inlet_runs: Any, changes: Any, k: int, shortest: Any) -> None:
    """A short stretch at the duct's end: its neighbour takes its place and its volume; but a narrow
    one, or one behind a throat, stays and is lengthened to ``shortest``, by a volume that its
    neighbour gives."""
    own, other = inlet_runs[k], inlet_runs[1 if k == 0 else -2]
    change = changes[0 if k == 0 else -1]
    throat = change.throat < NARROWER * min(change.before, change.after)
    if throat or own.d.min() < other.d[0 if k == 0 else -1]:
        more = shortest * (1.0 + 1e-9) - own.length
        volume = other.shape().volume()
        _extend(own, more, k == 0)
        far = other.x[-1 if k == 0 else 0]
        share = 0.25 * np.pi * own.d[0 if k == 0 else -1] ** 2 * more / volume
        share = min(share, MOST_GIVEN)  # on a mesh so coarse that it is only to start from
        other.x = far + (other.x - far) * (1.0 - share)
        return
    gone = inlet_runs.pop(k)
    changes.pop(0 if k == 0 else -1)
    beside = inlet_runs[0 if k == 0 else -1]
    area = 0.25 * np.pi * beside.d[0 if k == 0 else -1] ** 2
    _extend(beside, gone.shape().volume() / area, k == 0)


def _lump_between(inlet_runs: Any, changes: Any, k: int) -> None:
    """A short stretch between two changes: one change with a throat, halfway."""
    gone, left, right = inlet_runs.pop(k), inlet_runs[k - 1], inlet_runs[k]
    first, second = changes[k - 1], changes.pop(k)
    throat = min(first.throat, second.throat, 0.25 * np.pi * float(gone.d.min()) ** 2)
    more = gone.shape().volume() / (first.before + second.after)  # m, for each side
    inertance = gone.shape().inertance() - more * (1.0 / first.before + 1.0 / second.after)
    changes[k - 1] = replace(
        first,
        position=0.5 * (gone.x[0] + gone.x[-1]),
        after=second.after,
        throat=throat,
        loss_forward=max(first.loss_forward, second.loss_forward),
        loss_back=max(first.loss_back, second.loss_back),
        inertance=first.inertance + second.inertance + max(inertance, 0.0),
    )
    _extend(left, more, False)
    _extend(right, more, True)


def _extend(stretch: Any, length: float, at_start: Any) -> None:
    """Lengthen a stretch with its own bore."""
    if length <= 1e-12:
        return
    if at_start:
        stretch.x = np.concatenate([[stretch.x[0] - length], stretch.x])
        stretch.d = np.concatenate([[stretch.d[0]], stretch.d])
    else:
        stretch.x = np.concatenate([stretch.x, [stretch.x[-1] + length]])
        stretch.d = np.concatenate([stretch.d, [stretch.d[-1]]])


def _edges(shape: Shape, cell: float, steepest: float) -> np.ndarray:
    """Nodes of one reach: at the kinks that matter, evenly between them."""
    kinks = _kinks(shape.distance, shape.diameter, SHORTEST * cell)
    log = 2.0 * np.log(shape.diameter)
    growths = np.diff(log[kinks])
    turns = np.zeros(len(kinks), dtype=bool)  # narrow and wide places
    turns[1:-1] = growths[1:] * growths[:-1] < 0.0
    edges = [np.array([0.0])]
    for k, (i, j) in enumerate(pairwise(kinks)):
        length = shape.distance[j] - shape.distance[i]
        growth = np.sum(np.abs(np.diff(log[i : j + 1]))) - 1e-9
        count = max(1, round(length / cell), int(np.ceil(growth / steepest)))
        if turns[k] or turns[k + 1]:
            fine = min(np.ceil(WAVES * growth / steepest), np.floor(length / (LEAST * cell)))
            count = max(count, int(fine))
        edges.append(np.linspace(shape.distance[i], shape.distance[j], count + 1)[1:])
    return np.concatenate(edges)


def _kinks(x: np.ndarray, d: np.ndarray, shortest: float) -> list[int]:
    """Points of the shape that get a node: the first and last, and between two of them the one that
    lies furthest off the cone from one to the other (Douglas & Peucker 1973, on ln F)."""
    chosen, open_ = [0, x.size - 1], [(0, x.size - 1)]
    while open_:
        i, j = open_.pop()
        if j - i < 2:
            continue
        inner = np.arange(i + 1, j)
        cone = d[i] + (d[j] - d[i]) * (x[inner] - x[i]) / (x[j] - x[i])
        off = 2.0 * np.log(d[inner] / cone)
        off = np.where(off < 0.0, -NARROW_FIRST * off, off)
        room = np.minimum(x[inner] - x[i], x[j] - x[inner]) >= shortest
        off = np.where(room | (off > STRONG), off, 0.0)
        k = int(np.argmax(off))
        if off[k] > KINK:
            chosen.append(int(inner[k]))
            open_ += [(i, int(inner[k])), (int(inner[k]), j)]
    return sorted(chosen)
