"""What makes no difference in a sweep: cases that are level with the best, keys that do not matter.

A lead of less than TIE is none, as everywhere (curves/summary.py).
"""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

from aircolumn.curves.interest import Range, all_speeds, interest
from aircolumn.curves.summary import TIE

if TYPE_CHECKING:
    import xarray as xr

    from aircolumn.study.axes import Axis
    from aircolumn.study.plan import Plan

FEW = 3  # words or names that are listed


def range_of(plan: Plan, rpm: np.ndarray) -> Range:
    """The range of speeds that means are taken over: that of interest, or all of it."""
    return interest(plan.engine.speeds, rpm) or all_speeds(rpm)


def means_of(plan: Plan, data: xr.Dataset) -> np.ndarray:
    """Mean torque of every case over that range, N m; NaN where points are missing."""
    rpm = data.rpm.values
    table = data.torque.values.reshape(-1, rpm.size)
    span = range_of(plan, rpm)
    return np.array([span.mean(rpm, torque) for torque in table])


def level(values: np.ndarray) -> np.ndarray:
    """Which of ``values`` (cases, first dimension) are within TIE of the greatest; none of NaN."""
    with np.errstate(invalid="ignore"):
        greatest = np.max(np.where(np.isfinite(values), values, -np.inf), axis=0)
        return values >= greatest - TIE * np.abs(greatest)


def level_words(plan: Plan, cases: np.ndarray) -> str:
    """The values that the cases with these numbers have, key by key; a case alone as it is."""
    rows = [plan.rows[k] for k in cases]
    if len(rows) == 1:
        return plan.case_words(rows[0])
    if plan.study.cases is not None:
        names = [str(plan.case_names[k]) for k in cases]
        return " or ".join(names) if len(names) <= FEW else f"any of {len(names)} cases"
    return ", ".join(
        _span(axis, {row[n] for row in rows}, {row[n] for row in plan.rows})
        for n, axis in enumerate(plan.axes)
    )


def _span(axis: Axis, held: set, tried: set) -> str:
    if held == tried and len(tried) > 1:
        return f"any {axis.name}"
    if len(held) <= FEW and any(isinstance(v, str) for v in held):
        return f"{axis.name} {' or '.join(sorted(map(str, held)))}"
    if any(isinstance(v, str) for v in held):
        return f"{axis.name}: {len(held)} of {len(tried)}"
    low, high = min(held), max(held)
    number = f"{low:.4g}" if low == high else f"{low:.4g} to {high:.4g}"
    return f"{axis.name} {number} {axis.unit}".rstrip()


def without_effect(plan: Plan, data: xr.Dataset) -> list[tuple[str, float, float]]:
    """(key, effect on mean torque, on torque at any one speed) of the keys that do not matter: all
    else equal, no value has a mean torque that leads another's by TIE. Effects are the largest
    differences along the key, relative. For full grids, and a key alone."""
    shape = plan.grid_shape() or ((len(plan.rows),) if len(plan.axes) == 1 else ())
    if data.sizes["rpm"] < 2 or not shape:
        return []
    means = means_of(plan, data).reshape(shape)
    torque = data.torque.values.reshape(*shape, -1)
    found = []
    for k, axis in enumerate(plan.axes):
        if shape[k] < 2:
            continue
        effects = [_spread(values, k) for values in (means, torque)]
        if effects[0] < TIE:
            found.append((axis.name, effects[0], effects[1]))
    return found


def _spread(values: np.ndarray, k: int) -> float:
    """The largest relative difference along dimension ``k``; infinite if nothing is known."""
    sound = np.isfinite(values)
    high = np.max(np.where(sound, values, -np.inf), axis=k)
    low = np.min(np.where(sound, values, np.inf), axis=k)
    known = np.isfinite(high) & (high > 0.0)
    return float(np.max((high[known] - low[known]) / high[known])) if known.any() else np.inf


def best_case(plan: Plan, data: xr.Dataset) -> int | None:
    """The case with the most torque on average; without means, at the middle speed; None if that
    is not known."""
    means = means_of(plan, data) if data.sizes["rpm"] > 1 else np.array([np.nan])
    if not np.isfinite(means).any():
        means = data.torque.values.reshape(-1, data.sizes["rpm"])[:, data.sizes["rpm"] // 2]
    return int(np.nanargmax(means)) if np.isfinite(means).any() else None
