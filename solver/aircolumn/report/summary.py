"""What a reader looks for in curves: peaks, crossings, means over the range that matters."""

from dataclasses import dataclass

import numpy as np


@dataclass(frozen=True)
class Peak:
    """Highest computed value and the engine speed (rev/min) where it stands."""

    rpm: float
    value: float


def peak(rpm, values) -> Peak:
    """The highest computed point of a curve."""
    k = int(np.argmax(values))
    return Peak(float(rpm[k]), float(values[k]))


def crossings(rpm, first, second) -> list[float]:
    """Speeds, rev/min, at which two curves cross (straight lines between computed points)."""
    rpm = np.asarray(rpm, dtype=float)
    gap = np.asarray(first, dtype=float) - np.asarray(second, dtype=float)
    found = []
    for k in range(gap.size - 1):
        if gap[k] * gap[k + 1] < 0.0:
            found.append(float(rpm[k] + (rpm[k + 1] - rpm[k]) * gap[k] / (gap[k] - gap[k + 1])))
        elif gap[k] == 0.0 and k > 0 and gap[k - 1] * gap[k + 1] < 0.0:
            found.append(float(rpm[k]))
    return found


def mean_over(rpm, values, start: float, stop: float) -> float:
    """Mean of a curve from ``start`` to ``stop`` rev/min (straight lines between points).

    Raises ValueError if the range does not lie within the computed speeds.
    """
    rpm, values = np.asarray(rpm, dtype=float), np.asarray(values, dtype=float)
    if not rpm[0] <= start < stop <= rpm[-1]:
        raise ValueError("the range does not lie within the computed speeds")
    inner = rpm[(rpm > start) & (rpm < stop)]
    x = np.concatenate([[start], inner, [stop]])
    return float(np.trapezoid(np.interp(x, rpm, values), x) / (stop - start))


def interest_range(speeds, rpm) -> tuple[float, float] | None:
    """The part of the file's range of interest that was computed, or None."""
    if speeds.interest_from is None:
        return None
    start, stop = max(speeds.interest_from, rpm[0]), min(speeds.interest_to, rpm[-1])
    return (start, stop) if start < stop else None


def all_crossings(data, figure: str) -> list[tuple[str, str, float]]:
    """(runner, runner, rpm) of every crossing of ``figure`` between two runners of a Dataset."""
    names, rpm = list(data.runner.values), data.rpm.values
    return [
        (str(a), str(b), at)
        for i, a in enumerate(names)
        for b in names[i + 1 :]
        for at in crossings(rpm, data[figure].sel(runner=a), data[figure].sel(runner=b))
    ]
