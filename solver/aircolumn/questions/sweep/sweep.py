"""Every case of a plan at every speed."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from contextlib import closing
from dataclasses import dataclass
from pathlib import Path
from typing import TYPE_CHECKING, Any

import numpy as np

from aircolumn.curves.to_xarray import labelled_speeds
from aircolumn.point_figures import FIGURES
from aircolumn.questions.sweep import ties
from aircolumn.sources import solver_version
from aircolumn.study.cells import cells_of
from aircolumn.study.executors import Cores
from aircolumn.study.plan import Plan
from aircolumn.study.points import computed, computed_grid, goes_in_close_steps
from aircolumn.study.store import Store
from aircolumn.study.tasks import NAMES, Outcome

if TYPE_CHECKING:
    import xarray as xr

    from aircolumn.protocols import ProgressCallback
    from aircolumn.study.cells import StudyCells
    from aircolumn.study.executors import Executor


@dataclass(frozen=True)
class Sweep:
    """All points of a plan as a Dataset, and what failed: (values, rpm, reason); again: how many
    points were computed again on shorter cells, being the best."""

    data: Any
    failures: list[tuple]
    again: int


def sweep(
    plan: Plan,
    store: Store | str | Path,
    executor: Executor | None = None,
    progress: ProgressCallback | None = None,
) -> tuple[xr.Dataset, list[tuple[Any, float, str]], int]:
    """Compute all cases of a study.

    Parameters
    ----------
    plan : Plan
        Of a study file (read_study).
    store : Store, str or Path
        Finished points, or the path of their file.
    executor : optional
        All cores of this machine if left out (study/executors.py).
    progress : callable, optional
        Called as progress(done, total) when points are on disk.

    Returns
    -------
    data : xarray.Dataset
        A dimension for each varied key, or ``case``; figures in SI.
    failures : list of (values, rpm, reason)
    computed : int
        Points that were not in the store.

    Raises
    ------
    RequestError
        For a file that is no store.
    """
    if not isinstance(store, Store):
        with closing(Store(store)) as opened:
            return sweep(plan, opened, executor, progress)
    executor = executor or Cores()
    cells, before = cells_of(plan, store, executor), store.written
    found = swept(plan, cells, store, executor, progress)
    return found.data, found.failures, store.written - before


def swept(
    plan: Plan,
    cells: StudyCells,
    store: Store,
    executor: Executor,
    progress: ProgressCallback | None = None,
) -> Sweep:
    """As sweep, from an open store; the points that are best at their speed, and the case that is best on
    average, again on the cells of the final accuracy."""
    points = np.full((len(plan.rows), len(plan.speeds), len(NAMES)), np.nan)
    reasons: dict[tuple[int, int], str] = {}

    def fill(case: int, places: Iterable[int], outcomes: Sequence[Outcome]) -> None:
        for n, outcome in zip(places, outcomes, strict=True):
            reasons.pop((case, n), None)
            points[case, n] = np.nan if outcome.figures is None else outcome.figures
            if outcome.figures is None:
                reasons[case, n] = outcome.reason

    screened = plan.on(cells.screening)
    if goes_in_close_steps(plan):
        found = computed_grid(screened, store, executor, progress)
    else:
        found = computed(screened, plan.rows, store, executor, progress)
    for k, outcomes in enumerate(found):
        fill(k, range(len(plan.speeds)), outcomes)
    again = np.zeros(points.shape[:2], dtype=bool)
    while cells.screens and (wanted := best_points(plan, points) & ~again).any():
        for k, row in enumerate(wanted):
            if row.any():
                at, values = np.flatnonzero(row), [plan.rows[k]]
                (outcomes,) = computed(plan.on(cells.final, plan.speeds[at]), values, store, executor)
                fill(k, map(int, at), outcomes)
        again |= wanted
    told = [(plan.rows[k], float(plan.speeds[n]), why) for (k, n), why in sorted(reasons.items())]
    data = sweep_dataset(plan, points)
    if cells.screening is not None and cells.final is not None:
        fine = again if cells.screens else np.ones_like(again)
        accuracy = np.where(fine, cells.final.accuracy, cells.screening.accuracy)
        about = {"units": "1", "long_name": "accuracy asked for of VE and torque"}
        data["accuracy"] = (data.torque.dims, accuracy.reshape(data.torque.shape), about)
    return Sweep(data, told, int(again.sum()))


def best_points(plan: Plan, points: np.ndarray) -> np.ndarray:
    """Which points (cases, speeds) have the most torque at their speed, or belong to the case that has the
    most on average; none of those that failed."""
    data, best = sweep_dataset(plan, points), np.zeros(points.shape[:2], dtype=bool)
    for n, case in enumerate(best_per_speed(data)[1]):
        best[case, n] = case >= 0
    if len(plan.speeds) > 1 and np.isfinite(means := ties.means_of(plan, data)).any():
        best[int(np.nanargmax(means))] = True
    return best


def best_per_speed(data: xr.Dataset, figure: str = "torque") -> tuple[np.ndarray, np.ndarray]:
    """(values, case numbers) of the best case at each speed; -1 and NaN where all failed."""
    table = data[figure].values.reshape(-1, data.sizes["rpm"])
    sound = np.isfinite(table)
    best = np.where(sound, table, -np.inf).argmax(axis=0)
    there = sound.any(axis=0)
    values = np.where(there, table[best, np.arange(table.shape[1])], np.nan)
    return values, np.where(there, best, -1)


def sweep_dataset(plan: Plan, points: np.ndarray) -> xr.Dataset:
    """Figures (cases x speeds x NAMES) as an xarray Dataset: a grid has a dimension for each varied
    key, a sample or list the dimension ``case``; varied keys keep their unit, figures are SI;
    failed points are NaN."""
    import xarray as xr

    shape = plan.grid_shape()
    dims = [a.name for a in plan.axes] if shape else ["case"]
    shape = shape or (len(points),)
    data = xr.Dataset(coords={"rpm": plan.speeds})
    labelled_speeds(data)
    if dims == ["case"]:
        data.coords["case"] = plan.case_names
    for k, axis in enumerate(plan.axes):
        grid = dims[0] != "case"
        values = list(axis.values) if grid else [row[k] for row in plan.rows]
        data.coords[axis.name] = (axis.name if grid else "case", values)
        data[axis.name].attrs = {"units": axis.unit or "1", "long_name": axis.key}
    for k, (name, f) in enumerate(FIGURES.items()):
        data[name] = ((*dims, "rpm"), points[:, :, k].reshape(*shape, len(plan.speeds)))
        data[name].attrs = f.attributes
    data.attrs = {"title": plan.engine.title, "solver": solver_version()}
    return data
