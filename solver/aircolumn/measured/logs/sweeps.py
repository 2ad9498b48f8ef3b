"""Rows of a log in the order of their times: sweeps up and down, run-downs between them, single steps."""

from itertools import pairwise

import numpy as np

HALF = 0.5  # of the whole range of speeds: a turn so large begins another sweep
STANDS = 0.1  # of the range of speeds: within less it does not change
LEAST_RANGE = 100.0  # rev/min: within less there is no sweep
FEW_POINTS = 8  # rows: fewer are points of one pull in any order
FEW = 3  # rows: fewer are no sweep
COARSE = 0.025  # of the range: so far apart, rows are single steps
SETTLED = 0.7  # of the steps of a sweep go its way; fewer: rows in no order


def legs(rpm: np.ndarray) -> list[tuple[int, int, int]]:
    """(first row, row after the last, 1 rising or -1 falling) of each sweep through more than half of the
    range of speeds, in order; one leg with 0 if the rows are in no order.

    A turning point counts once the speed has come back from it by HALF of the range, so that noise and
    hunting make no sweeps of their own. Where the speed jumps back at once there is no leg between.
    """
    if len(rpm) < FEW_POINTS or np.ptp(rpm) < LEAST_RANGE:
        return [(0, len(rpm), 0)]
    turns = _turning_points(rpm, HALF * float(np.ptp(rpm)))
    found = []
    for start, stop in pairwise(turns):
        way = 1 if rpm[stop] > rpm[start] else -1
        found.append((start, stop + 1, way))
    every = [leg for leg in _without_jumps(found) if not _stands(rpm, leg)]
    ordered = [leg for leg in every if leg[1] - leg[0] >= FEW and _share(rpm, leg) > SETTLED]
    covered, within = (sum(stop - start for start, stop, _ in part) for part in (ordered, every))
    if not ordered or covered < SETTLED * within:
        return [(0, len(rpm), 0)]
    return _stretched(ordered, len(rpm))


def _turning_points(rpm: np.ndarray, least: float) -> list[int]:
    """Row numbers of where the first sweep begins, of the turning points, and of the last extreme."""
    low = high = last = way = 0
    turns: list[int] = []
    for k, speed in enumerate(rpm):
        if not way:
            low, high = (k if speed < rpm[low] else low), (k if speed >= rpm[high] else high)
            if rpm[high] - rpm[low] >= least > 0.0:
                way = 1 if high > low else -1
                turns, last = [min(low, high)], max(low, high)
        elif way * (speed - rpm[last]) >= 0.0:
            last = k
        elif way * (rpm[last] - speed) >= least:
            turns.append(last)
            way, last = -way, k
    return [*turns, last]


def _without_jumps(found: list[tuple[int, int, int]]) -> list[tuple[int, int, int]]:
    """Legs share their turning points: each point goes to the leg that has more rows."""
    result = []
    for k, (start, stop, way) in enumerate(found):
        before = found[k - 1] if k else None
        if before is not None and before[1] - before[0] >= stop - start:
            start += 1
        after = found[k + 1] if k + 1 < len(found) else None
        if after is not None and after[1] - after[0] > stop - start:
            stop -= 1
        result.append((start, stop, way))
    return result


def _stands(rpm: np.ndarray, leg: tuple[int, int, int]) -> bool:
    """Whether a leg is a jump of the speed, after which it stands."""
    inside = rpm[leg[0] : leg[1]]
    return inside.size == 0 or float(np.ptp(inside)) < STANDS * float(np.ptp(rpm))


def _share(rpm: np.ndarray, leg: tuple[int, int, int]) -> float:
    """Share of a leg's steps that go its way."""
    steps = np.diff(rpm[leg[0] : leg[1]])
    return float(np.mean(leg[2] * steps >= 0.0)) if steps.size else 0.0


def _stretched(found: list[tuple[int, int, int]], count: int) -> list[tuple[int, int, int]]:
    """The legs with the rows before, between and after them, which lie with the leg before."""
    starts = [0, *(leg[0] for leg in found[1:])]
    stops = [*starts[1:], count]
    return [(a, b, leg[2]) for a, b, leg in zip(starts, stops, found, strict=True)]


def are_steps(rpm: np.ndarray) -> bool:
    """Whether rows are single steady points, not a sweep logged all the time."""
    speeds = np.unique(np.round(rpm))
    gaps = np.diff(speeds)
    return gaps.size < FEW or float(np.median(gaps)) >= COARSE * float(np.ptp(rpm))
