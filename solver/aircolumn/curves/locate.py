"""Speeds added where a curve needs them: until humps, hollows and crossings are located.

Speeds 500 rpm apart miss humps or cut them off. Points are added in rounds, between those there
are:

- where a curve is rough: where a point lies off the cubic through its four nearest neighbours by
  more than ROUGH of the curve's height, the intervals beside it are halved;
- at the top of the parabola through each hump or hollow that stands out by PROMINENCE and its
  neighbours, until a point lies within half of ``within`` of it and its neighbours are close;
- where the straight line between two curves' points says that they cross.

It ends when nothing is wanted any more or the budget is spent. All curves get all speeds.
"""

from dataclasses import dataclass
from itertools import combinations

import numpy as np
from scipy.signal import find_peaks

from aircolumn.curves.points import PointGrid, as_grid, points
from aircolumn.engine.figures import OperatingPoint
from aircolumn.errors import ComputationError

ROUGH = 0.01
PROMINENCE = 0.005  # of the curve's height; smaller humps and hollows are not looked for
CLOSE = 5.0  # times ``within``: how far a hump's neighbours may lie for its parabola to be trusted


@dataclass(frozen=True)
class Located:
    """Rising speeds (rev/min), the points there of all engines, and whether the budget ended it."""

    speeds: np.ndarray
    grid: PointGrid
    cut_short: bool


def located(engines, speeds, within: float, most: int, progress=None, workers=None) -> Located:
    """Points of several engines at ``speeds`` and at those that locate what their curves of VE and
    torque show within ``within`` rev/min (0: none are added), at most ``most`` of them.

    Raises ComputationError if no point at all could be computed.
    """
    start, speeds = len(speeds), np.asarray(speeds, dtype=float)
    found: dict[tuple, OperatingPoint] = {}
    failures: dict[tuple, str] = {}
    due, cut_short = list(speeds), False
    while due:
        jobs = [((i, n), engine, float(n), 1.0) for i, engine in enumerate(engines) for n in due]
        before, total = len(found) + len(failures), len(engines) * len(speeds)
        told = None if progress is None else (lambda n, _, b=before, t=total: progress(b + n, t))
        _compute(jobs, found, failures, told, workers)
        grid = as_grid([[(i, n) for n in speeds] for i in range(len(engines))], found, failures)
        due = wanted(speeds, [grid.figure("ve"), grid.figure("torque")], within)
        room = start + most - len(speeds)
        cut_short = len(due) > room
        due = due[:room]
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


def wanted(speeds, figures, within: float) -> list[float]:
    """Speeds to add, most wanted first. figures: arrays (curves, speeds); crossings are looked for
    between the curves of the last one."""
    if within <= 0.0 or len(speeds) < 4:
        return []
    tops, halves = [], []
    for values in (row for figure in figures for row in figure):
        known = np.isfinite(values)
        if np.count_nonzero(known) < 4:
            continue
        x, y = speeds[known], values[known] / np.nanmax(np.abs(values))
        tops += _tops(x, y, within)
        halves += _rough(x, y, within)
    for first, second in combinations(figures[-1], 2):
        tops += _meetings(speeds, first - second, within)
    return _apart([*tops, *halves], speeds, 0.5 * within)


def _tops(x, y, within) -> list[float]:
    """Tops of the parabolas through humps and hollows that no point lies close to."""
    found = []
    for sign in (1.0, -1.0):
        for k in find_peaks(sign * y, prominence=PROMINENCE)[0]:
            (a, b, c), (l, m, r) = x[k - 1 : k + 2], y[k - 1 : k + 2]
            rise, fall = (m - l) / (b - a), (m - r) / (c - b)
            top = b + 0.5 * (rise * (c - b) - fall * (b - a)) / (rise + fall)
            if abs(top - b) > 0.5 * within:
                found.append(top)
            elif max(b - a, c - b) > CLOSE * within:
                found += [0.5 * (p + q) for p, q in ((a, b), (b, c)) if q - p > CLOSE * within]
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


def _meetings(x, gap, within) -> list[float]:
    """Where curves cross between points that stand further apart than ``within``."""
    found = []
    for k in np.flatnonzero(gap[:-1] * gap[1:] < 0.0):
        if x[k + 1] - x[k] > within:
            found.append(x[k] + (x[k + 1] - x[k]) * gap[k] / (gap[k] - gap[k + 1]))
    return found


def _apart(found, speeds, least) -> list[float]:
    """Whole speeds, in order, no closer than ``least`` to each other or to what there is."""
    kept: list[float] = []
    for n in (float(round(n)) for n in found):
        if all(abs(n - other) >= least for other in [*speeds, *kept]):
            kept.append(n)
    return kept
