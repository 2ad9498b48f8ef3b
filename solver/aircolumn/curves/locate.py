"""Speeds added where a curve needs them: until humps, dips and crossings are located.

Speeds 500 rpm apart miss humps or cut them off, and their means are off. Every curve is computed at
even speeds first (speeds.py: even_speeds). Points are then added to it in rounds, between those
there are:

- where it is rough: where a point lies off the cubic through its four nearest neighbours by more
  than ROUGH of the curve's height, the intervals beside it are halved;
- at the top of the parabola through each hump or dip that stands out by PROMINENCE and its
  neighbours, until a point lies within half of ``within`` of it and its neighbours are close.

What is added to a curve depends on that curve alone: its own points, and so its humps and means,
are the same whatever it is set beside. Last, where the lead passes from one curve
to another and straight lines do not tell well where, points are added to both.

It ends when nothing is wanted any more or the budget is spent, so many speeds for each curve, and
as many for each pair that crosses. Rough places may use some of it, and the last is kept for the
highest hump, which is read off first (SHARES). All curves are computed at all speeds.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from itertools import combinations
from typing import TYPE_CHECKING, Any

import numpy as np

from aircolumn.curves.grown import Grown
from aircolumn.curves.humps import humps
from aircolumn.curves.points import PointGrid, as_grid
from aircolumn.curves.summary import crossings

if TYPE_CHECKING:
    from aircolumn.engine.description.engine_file import Engine
    from aircolumn.protocols import ProgressCallback

ROUGH = 0.01
PROMINENCE = 0.005  # of the curve's height; smaller humps and dips are not looked for
CLOSE = 4.0  # times ``within``: how far a hump's neighbours may lie for its parabola to be trusted
#: Of a curve's budget, up to where it may be spent on: the highest hump; other humps and dips;
#: rough places.
SHARES = (1.0, 0.85, 0.6)


@dataclass(frozen=True)
class Located:
    """Rising speeds (rev/min), the points there of all engines, which speeds are an engine's own
    (engines x speeds: even ones and those added for its own curve), and whether humps, dips or
    crossings are left that the budget did not allow to locate."""

    speeds: np.ndarray
    grid: PointGrid
    own: np.ndarray
    cut_short: bool


def located(
    engines: Sequence[Engine],
    speeds: np.ndarray,
    within: float,
    most: int,
    progress: ProgressCallback | None = None,
    workers: int | None = None,
    asked: np.ndarray | None = None,
) -> Located:
    """Points of several engines at ``speeds`` and at those that locate what their curves of VE and
    torque show within ``within`` rev/min (0: none are added), at most ``most`` of them for each. asked:
    which of ``speeds`` are marched from rest (grown.py); left out, all.

    Raises ComputationError if no point at all could be computed.
    """
    speeds = np.asarray(speeds, dtype=float)
    grown = Grown(engines, speeds, speeds if asked is None else asked)
    search = _Search(grown, within, most, progress, workers)
    while search.compute():
        if not (search.add_to_each() or search.add_crossings()):
            break
    return search.result()


class _Search:
    """The points found so far, and what is still wanted."""

    def __init__(
        self,
        grown: Grown,
        within: float,
        most: int,
        progress: ProgressCallback | None,
        workers: int | None,
    ) -> None:
        self.grown, self.within, self.most = grown, within, most
        self.progress, self.workers = progress, workers
        self.first = len(grown.even)
        self.own = [set(grown.even) for _ in grown.engines]
        self.shared: set[float] = set()  # for crossings
        self.cut = [False] * len(grown.engines)
        self.crossings_cut = False

    @property
    def speeds(self) -> np.ndarray:
        """All, rising."""
        return np.array(sorted(self.shared.union(*self.own)))

    def cells(self) -> list[list[tuple[int, float]]]:
        """Engines' numbers and speeds, in rows."""
        return [[(i, float(n)) for n in self.speeds] for i in range(len(self.grown.engines))]

    def grid(self) -> PointGrid:
        """All points so far."""
        return as_grid(self.cells(), self.grown.found, self.grown.failures)

    def compute(self) -> bool:
        """What is not computed yet; whether there was any."""
        return self.grown.compute([c for row in self.cells() for c in row], self.progress, self.workers)

    def add_to_each(self) -> bool:
        """Speeds that an engine's own curve wants; whether there are any."""
        speeds, grid = self.speeds, self.grid()
        figures = [grid.figure("ve"), grid.figure("torque")]
        added = False
        for i, own in enumerate(self.own):
            mine = np.isin(speeds, list(own))
            kinds = wanted(speeds[mine], [f[i, mine] for f in figures], self.within)
            due: list[float] = []
            for kind, share in zip(kinds, SHARES, strict=True):
                spent = len(own) - self.first + len(due)
                due += kind[: max(round(share * self.most) - spent, 0)]
            self.cut[i] = not {*kinds[0], *kinds[1]} <= set(due)
            own.update(due)
            added = added or bool(due)
        return added

    def add_crossings(self) -> bool:
        """Speeds at which the lead may pass from one curve to another; whether there are any."""
        if self.within <= 0.0:
            return False
        speeds, torque = self.speeds, self.grid().figure("torque")
        pairs = list(combinations(torque, 2))
        meetings = [n for pair in pairs for n in _meetings(speeds, *pair, self.within)]
        wanted_now = _apart(meetings, speeds, self.within)
        due = wanted_now[: max(self.most * len(pairs) - len(self.shared), 0)]
        self.crossings_cut = len(due) < len(wanted_now)
        self.shared.update(due)
        return bool(due)

    def result(self) -> Located:
        """The speeds, the points at them, and whether more were wanted."""
        speeds = self.speeds
        own = np.array([np.isin(speeds, list(mine)) for mine in self.own])
        return Located(speeds, self.grid(), own, any(self.cut) or self.crossings_cut)


def wanted(
    speeds: np.ndarray, curves: Sequence[np.ndarray], within: float
) -> tuple[list[float], list[float], list[float]]:
    """Speeds to add to one engine's ``curves`` (of VE, of torque): for the highest hump of each;
    for other humps, and dips of the first; for rough places."""
    highest: list[float] = []
    others: list[float] = []
    halves: list[float] = []
    if within <= 0.0 or len(speeds) < 4:
        return highest, others, halves
    for number, values in enumerate(curves):
        known = np.isfinite(values)
        if np.count_nonzero(known) < 4:
            continue
        x, y = speeds[known], values[known] / np.nanmax(np.abs(values))
        humps = _tops(x, y, within)
        highest += [speed for height, speed in humps if height == y.max()]
        others += [speed for height, speed in humps if height < y.max()]
        if number == 0:  # dips are told of VE only
            others += [speed for _, speed in _tops(x, -y, within)]
        halves += _rough(x, y, within)
    highest = _apart(highest, speeds, within)
    others = _apart(others, [*speeds, *highest], within)
    return highest, others, _apart(halves, [*speeds, *highest, *others], within)


def _tops(x: np.ndarray, y: np.ndarray, within: float) -> list[tuple[float, float]]:
    """(height, speed) to add at humps whose top is not located: the top of the parabola, or what
    lies between a hump and its neighbours."""
    found = []
    for k in humps(y, PROMINENCE):
        (a, b, c), (l, m, r) = x[k - 1 : k + 2], y[k - 1 : k + 2]
        rise, fall = (m - l) / (b - a), (m - r) / (c - b)
        top = b + 0.5 * (rise * (c - b) - fall * (b - a)) / (rise + fall)
        if abs(top - b) > 0.5 * within:
            found.append((m, top))
        elif max(b - a, c - b) > CLOSE * within:
            found += [(m, 0.5 * (p + q)) for p, q in ((a, b), (b, c)) if q - p > CLOSE * within]
    return found


def _rough(x: np.ndarray, y: np.ndarray, within: float) -> list[float]:
    """Middles of the intervals beside points off the cubic through their neighbours."""
    found = []
    for k in range(1, x.size - 1):
        near = np.argsort(np.abs(x - x[k]))[1:5]
        weights = [np.prod([(x[k] - x[j]) / (x[i] - x[j]) for j in near if j != i]) for i in near]
        if abs(np.dot(weights, y[near]) - y[k]) > ROUGH:
            found += [0.5 * (p + q) for p, q in ((x[k - 1], x[k]), (x[k], x[k + 1])) if q - p > 2.0 * within]
    return found


def _meetings(x: np.ndarray, first: np.ndarray, second: np.ndarray, within: float) -> list[float]:
    """Where the lead passes over, between points further apart than ``within``, unless the straight
    line and the cubic through the four nearest points agree on it."""
    both = np.isfinite(first) & np.isfinite(second)
    x, gap, found = x[both], (first - second)[both], []
    for at in crossings(x, first[both], second[both]):
        k = int(np.searchsorted(x, at))
        if x[k] - x[k - 1] <= within:
            continue
        near = slice(max(k - 2, 0), k + 2)
        *_, slope, off = np.polyfit(x[near] - at, gap[near], x[near].size - 1)
        if abs(off) > 0.5 * within * abs(slope):
            better = at - off / slope if slope else at
            found.append(better if x[k - 1] < better < x[k] else at)
    return found


def _apart(found: Sequence[float], speeds: Any, within: float) -> list[float]:
    """Whole speeds, in order, no closer than half of ``within`` to each other or to what there
    is."""
    kept: list[float] = []
    for n in (float(round(n)) for n in found):
        if all(abs(n - other) >= 0.5 * within for other in [*speeds, *kept]):
            kept.append(n)
    return kept
