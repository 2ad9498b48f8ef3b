"""Runners against one of them: torque gained and lost at every speed and on average over ranges.

The ranges are the one that matters (``speeds.interest_from``, ``interest_to``) and what lies below and
above it, where a runner that is better in it has its price; without one, all speeds. Differences between
runners that were computed on the same cells lose what is common to their numerical errors.
"""

from __future__ import annotations

from collections.abc import Collection
from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

from aircolumn.curves.interest import Range, all_speeds, interest
from aircolumn.curves.summary import runner_mean
from aircolumn.curves.to_xarray import shown_figure
from aircolumn.errors import RequestError, no_such

if TYPE_CHECKING:
    import xarray as xr

    from aircolumn.engine.description.computing import Speeds


@dataclass(frozen=True)
class Gain:
    """Torque of ``runner`` less that of ``base``: N m at the speeds ``rpm`` (rev/min; NaN where one could
    not be computed); means over ranges {range: (N m, relative)}."""

    runner: str
    base: str
    rpm: np.ndarray
    torque: np.ndarray
    means: dict[Range, tuple[float, float]]


def gains(data: xr.Dataset, base: str, speeds: Speeds) -> list[Gain]:
    """The gain of every other runner of a comparison against ``base``. Raises RequestError if there is no
    such runner, or no other."""
    names = [str(n) for n in data.runner.values]
    if base not in names:
        raise RequestError(no_such("runner", base, names))
    check_others(names, base)
    return [_gain(data, name, base, speeds) for name in names if name != base]


def check_others(names: Collection[str], base: str) -> None:
    """Raise RequestError if there is no runner to set against ``base``."""
    if len(names) < 2:
        raise RequestError(f"there is no other runner to set against '{base}'")


def ranges_of(speeds: Speeds, rpm: np.ndarray) -> list[Range]:
    """The range that matters first, then what lies below and above it; all speeds without one."""
    low, high = float(rpm[0]), float(rpm[-1])
    span = interest(speeds, rpm)
    if span is None:
        return [all_speeds(rpm)] if low < high else []
    beside = ((low, span.start), (span.stop, high))
    return [span, *(Range.between(a, b) for a, b in beside if a < b)]


def _gain(data: xr.Dataset, name: str, base: str, speeds: Speeds) -> Gain:
    figure, _ = shown_figure(data, "torque")
    torque = data[figure].sel(runner=name).values - data[figure].sel(runner=base).values
    means = {}
    for span in ranges_of(speeds, data.rpm.values):
        own, other = (runner_mean(data, figure, n, span) for n in (name, base))
        means[span] = own - other, own / other - 1.0
    return Gain(name, base, data.rpm.values, torque, means)
