"""Speeds added where a curve needs them: until humps, hollows and crossings are located.

Speeds 500 rpm apart miss humps or cut them off. Points are added in rounds, between those there
are:

- where a curve is rough: where a point lies off the cubic through its four nearest neighbours by
  more than ROUGH of the curve's height, the intervals beside it are halved;
- at the top of the parabola through each hump or hollow that stands out by PROMINENCE and its
  neighbours, until a point lies within half of ``within`` of it and its neighbours are close;
- where straight lines through the points of two curves say that the lead passes over.

It ends when nothing is wanted any more or the budget is spent. Rough places may use some of it,
and the last is kept for the highest hump of each curve, which is read off first (SHARES). All
curves get all speeds.
"""

from dataclasses import dataclass
from itertools import combinations

import numpy as np

from aircolumn.curves.humps import humps
from aircolumn.curves.points import PointGrid, as_grid, points
from aircolumn.curves.summary import crossings
from aircolumn.engine.figures import OperatingPoint
from aircolumn.errors import ComputationError

ROUGH = 0.01
PROMINENCE = 0.005  # of the curve's height; smaller humps and hollows are not looked for
CLOSE = 3.0  # times ``within``: how far a hump's neighbours may lie for its parabola to be trusted
#: Of the budget, up to where it may be spent on: the highest humps; other humps, hollows and
#: crossings; rough places.
SHARES = (1.0, 0.85, 0.6)


@dataclass(frozen=True)
class Located:
    """Rising speeds (rev/min), the points there of all engines, and whether humps, hollows or
    crossings are left that the budget did not allow to locate."""

    speeds: np.ndarray
    grid: PointGrid
    cut_short: bool


def located(engines, speeds, within: float, most: int, progress=None, workers=None) -> Located:
    """Points of several engines at ``speeds`` and at those that locate what their curves of VE and
    torque show within ``within`` rev/min (0: none are added), at most ``most`` of them.

    Raises ComputationError if no point at all could be computed.
    """
    speeds = np.asarray(speeds, dtype=float)
    found: dict[tuple, OperatingPoint] = {}
    failures: dict[tuple, str] = {}
    due, cut_short = list(speeds), False
    asked = len(speeds)
    while due:
        jobs = [((i, n), engine, float(n), 1.0) for i, engine in enumerate(engines) for n in due]
        before, total = len(found) + len(failures), len(engines) * len(speeds)
        told = None if progress is None else (lambda n, _, b=before, t=total: progress(b + n, t))
        _compute(jobs, found, failures, told, workers)
        grid = as_grid([[(i, n) for n in speeds] for i in range(len(engines))], found, failures)
        kinds = wanted(speeds, [grid.figure("ve"), grid.figure("torque")], within)
        due = []
        for kind, share in zip(kinds, SHARES, strict=True):
            due += kind[: max(round(share * most) - (len(speeds) - asked) - len(due), 0)]
        cut_short = not {*kinds[0], *kinds[1]} <= set(due)
        speeds = np.sort(np.concatenate([speeds, due]))
    return Located(speeds, grid, cut_short)


def _compute(jobs, found, failures, progress, workers):
    """Points and reasons of jobs into those there are."""
    try:
        more, reasons = points(jobs, progress, workers)
    except ComputationError:
        if not found:
            raise
        more, reasons = {}, {job[0]: "could not be computed" for job in jobs}
    found.update(more)
    failures.update(reasons)


def wanted(speeds, figures, within: float) -> tuple[list[float], list[float], list[float]]:
    """Speeds to add: for the highest hump of each curve; for other humps, hollows and crossings;
    for rough places. figures: arrays (curves, speeds); crossings are looked for between the curves
    of the last one."""
    highest: list[float] = []
    others: list[float] = []
    halves: list[float] = []
    if within <= 0.0 or len(speeds) < 4:
        return highest, others, halves
    for values in (row for figure in figures for row in figure):
        known = np.isfinite(values)
        if np.count_nonzero(known) < 4:
            continue
        x, y = speeds[known], values[known] / np.nanmax(np.abs(values))
        humps = _tops(x, y, within)
        highest += [speed for height, speed in humps if height == y.max()]
        others += [speed for height, speed in humps if height < y.max()]
        others += [speed for _, speed in _tops(x, -y, within)]
        halves += _rough(x, y, within)
    for first, second in combinations(figures[-1], 2):
        others += _meetings(speeds, first, second, within)
    highest = _apart(highest, speeds, within)
    others = _apart(others, [*speeds, *highest], within)
    return highest, others, _apart(halves, [*speeds, *highest, *others], within)


def _tops(x, y, within) -> list[tuple[float, float]]:
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


def _rough(x, y, within) -> list[float]:
    """Middles of the intervals beside points off the cubic through their neighbours."""
    found = []
    for k in range(1, x.size - 1):
        near = np.argsort(np.abs(x - x[k]))[1:5]
        weights = [np.prod([(x[k] - x[j]) / (x[i] - x[j]) for j in near if j != i]) for i in near]
        if abs(np.dot(weights, y[near]) - y[k]) > ROUGH:
            found += [0.5 * (p + q) for p, q in ((x[k - 1], x[k]), (x[k], x[k + 1]))
                      if q - p > 2.0 * within]  # fmt: skip
    return found


def _meetings(x, first, second, within) -> list[float]:
    """Where the lead passes over between points that stand further apart than ``within``."""
    found = []
    for at in crossings(x, first, second):
        k = np.searchsorted(x, at)
        if x[k] - x[k - 1] > within:
            found.append(at)
    return found


def _apart(found, speeds, within) -> list[float]:
    """Whole speeds, in order, no closer than half of ``within`` to each other or to what there
    is."""
    kept: list[float] = []
    for n in (float(round(n)) for n in found):
        if all(abs(n - other) >= 0.5 * within for other in [*speeds, *kept]):
            kept.append(n)
    return kept
