"""What a reader looks for in curves: peaks, crossings, means over the range that matters."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING, Any

import numpy as np

from aircolumn.curves.humps import humps
from aircolumn.curves.to_xarray import own_curve

if TYPE_CHECKING:
    import xarray as xr

    from aircolumn.curves.interest import Range


@dataclass(frozen=True)
class Peak:
    """Highest computed value and the engine speed (rev/min) where it stands."""

    rpm: float
    value: float


def peak(rpm: np.ndarray, values: Any) -> Peak:
    """The highest computed point of a curve (points that are NaN could not be computed)."""
    k = int(np.nanargmax(values))
    return Peak(float(rpm[k]), float(values[k]))


WELL_LOCATED = 250.0  # rev/min between two computed speeds: nearer, a hump or crossing has its place


def around(rpm: np.ndarray, at: float) -> tuple[float, float]:
    """The computed speeds next to ``at`` on either side, which is itself left out; ``at`` where there is
    none."""
    x = np.asarray(rpm, dtype=float)
    return max(x[x < at], default=at), min(x[x > at], default=at)


def loosely(rpm: np.ndarray, at: float) -> tuple[float, float] | None:
    """The speeds between which a hump or crossing found at ``at`` lies, if they are further apart than
    WELL_LOCATED."""
    low, high = around(rpm, at)
    return (low, high) if high - low > WELL_LOCATED else None


def widest_gap(rpm: np.ndarray, span: Range) -> float:
    """The widest gap between computed speeds of a range, rev/min."""
    x = np.unique(rpm)
    needed = x[max(np.searchsorted(x, span.start, "right") - 1, 0) : np.searchsorted(x, span.stop) + 1]
    return float(np.max(np.diff(needed), initial=0.0))


NEARLY = 0.02  # of the highest: humps so near to it are told beside it
PROMINENCE = 0.005  # of the highest value; smaller humps are none


def high_humps(rpm: np.ndarray, values: np.ndarray) -> list[Peak]:
    """Every hump within NEARLY of the highest value, the highest point first, then by speed."""
    known = np.isfinite(values)
    x, y = np.asarray(rpm, dtype=float)[known], np.asarray(values, dtype=float)[known]
    top = peak(x, y)
    others = [
        Peak(float(x[k]), float(y[k]))
        for k in humps(y, PROMINENCE * abs(top.value))
        if y[k] >= (1.0 - NEARLY) * top.value and x[k] != top.rpm
    ]
    return [top, *others]


def runner_mean(data: xr.Dataset, figure: str, runner: str, span: Range) -> float:
    """Mean of a runner's own curve over a range."""
    one = own_curve(data, runner)
    return span.mean(one.rpm.values, one[figure].values)


TIE = 0.005  # relative lead below which two curves count as level


def crossings(rpm: np.ndarray, first: Any, second: Any) -> list[float]:
    """Speeds, rev/min, at which the lead passes from one curve to the other.

    Straight lines between computed points; leads of less than TIE do not count, so that curves
    lying on each other do not cross over and over.
    """
    rpm = np.asarray(rpm, dtype=float)
    first, second = np.asarray(first, dtype=float), np.asarray(second, dtype=float)
    both = np.isfinite(first) & np.isfinite(second)
    rpm, first, second = rpm[both], first[both], second[both]
    gap = first - second
    leads = np.abs(gap) > TIE * 0.5 * (np.abs(first) + np.abs(second))
    found, leader = [], None
    for k in np.flatnonzero(leads):
        if leader is not None and gap[k] * gap[leader] < 0.0:
            found.append(last_meeting(rpm[leader : k + 1], gap[leader : k + 1]))
        leader = k
    return found


def last_meeting(rpm: np.ndarray, gap: np.ndarray) -> float:
    """Where the piecewise straight ``gap`` between two curves, which ends on the other side than it
    began, last passes zero."""
    k = np.flatnonzero(gap[:-1] * gap[-1] <= 0.0)[-1]
    return float(rpm[k] + (rpm[k + 1] - rpm[k]) * gap[k] / (gap[k] - gap[k + 1]))


def all_crossings(data: xr.Dataset, figure: str) -> list[tuple[str, str, float]]:
    """(runner, runner, rpm) of every crossing of ``figure`` between two runners of a Dataset."""
    names, rpm = list(data.runner.values), data.rpm.values
    return [
        (str(a), str(b), at)
        for i, a in enumerate(names)
        for b in names[i + 1 :]
        for at in crossings(rpm, data[figure].sel(runner=a), data[figure].sel(runner=b))
    ]
