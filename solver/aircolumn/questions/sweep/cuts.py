"""What pictures show of a grid of cases: a slice, a mean over speed, some of its curves."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

from aircolumn.engine.description.base import required
from aircolumn.questions.sweep.ties import best_case, range_of

if TYPE_CHECKING:
    import xarray as xr

    from aircolumn.curves.interest import Range
    from aircolumn.study.plan import Plan

MOST_CURVES = 9


def slice_of(plan: Plan, data: xr.Dataset, first: int = 1) -> dict[str, int]:
    """Where the axes from number ``first`` on are cut for a picture: as the study says, else at the
    best case."""
    best = best_case(plan, data)
    shape = required(plan.grid_shape())
    middle = tuple(n // 2 for n in shape)
    at = middle if best is None else tuple(map(int, np.unravel_index(best, shape)))
    cuts = zip(plan.axes[first:], at[first:], strict=True)
    return {a.name: plan.slice.get(a.name, k) for a, k in cuts}


def cut_of(plan: Plan, data: xr.Dataset) -> tuple[xr.Dataset, str]:
    """The data over the first axis and speed, the other axes cut; and that in words."""
    cut = slice_of(plan, data)
    texts = [
        f"{a.name} {a.values[k]:.4g} {a.unit}".rstrip()
        if not isinstance(a.values[k], str)
        else f"{a.name} {a.values[k]}"
        for a, k in zip(plan.axes[1:], cut.values(), strict=True)
    ]
    return data.isel(cut), ", ".join(texts)


def mean_torque(plan: Plan, data: xr.Dataset) -> tuple[np.ndarray, Range]:
    """Mean torque [N m] over the range that matters, (first key, second key); and that range.

    Further keys are cut as in other pictures; without a range that matters, over all speeds.
    """
    first, second = plan.axes[:2]
    torque = data.torque.isel(slice_of(plan, data, 2))
    torque = torque.transpose(first.name, second.name, "rpm").values
    rpm = data.rpm.values
    span = range_of(plan, rpm)
    return np.array([[span.mean(rpm, t) for t in row] for row in torque]), span


def shown_curves(curves: int, most: int = MOST_CURVES) -> np.ndarray:
    """Which of ``curves`` curves to draw: ``most`` of them, evenly over all."""
    return np.unique(np.linspace(0, curves - 1, min(curves, most)).round().astype(int))
