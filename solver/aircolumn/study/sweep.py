"""Every case of a plan at every speed: from the store, or computed and stored."""

from __future__ import annotations

from collections.abc import Callable, Iterator, Sequence
from contextlib import closing
from dataclasses import dataclass
from pathlib import Path
from typing import TYPE_CHECKING, Any

import numpy as np

from aircolumn.curves.to_xarray import labelled_speeds
from aircolumn.engine.description.base import required
from aircolumn.engine.model.figures import FIGURES
from aircolumn.study.executors import Cores
from aircolumn.study.plan import Case, Plan
from aircolumn.study.store import Store
from aircolumn.study.tasks import NAMES, Outcome, Task, solver_version

if TYPE_CHECKING:
    import xarray as xr

    from aircolumn.protocols import ProgressCallback
    from aircolumn.study.executors import Executor

NO_ENGINE = "no engine: "
BLOCK = 500  # cases laid out at a time


def tasks_of(case: Case, speeds: np.ndarray, warm: bool, refinement: float = 1.0) -> list[Task]:
    """A case's tasks: one a speed, or, started warm, one for all from the highest speed down."""
    solver, engine = solver_version(), required(case.engine)
    if warm:
        # Fast cycles first: they are cheap, and the slower ones then start near their own.
        return [Task(engine, tuple(map(float, speeds[::-1])), True, solver, refinement)]
    return [Task(engine, (float(n),), False, solver, refinement) for n in speeds]


def compute_missing(
    tasks: Sequence[Task], store: Store, executor: Executor, progress: ProgressCallback | None = None
) -> None:
    """Compute and store what the store has not.

    progress(done, total) is called when a task is on disk.
    """
    unlike = {tuple(task.keys()): task for task in tasks}  # engines alike are computed once
    keys = list(unlike)
    missing = [(t, k) for k, t in unlike.items() if len(store.get(k)) < len(k)]
    total = sum(map(len, keys))
    done = total - sum(len(k) for _, k in missing)
    if progress:
        progress(done, total)
    # Slow speeds take longest: started first, they do not keep one core busy at the end.
    missing.sort(key=lambda pair: min(pair[0].speeds))
    for number, outcomes in executor.run([t for t, _ in missing]):
        store.put(missing[number][1], outcomes)
        done += len(outcomes)
        if progress:
            progress(done, total)


def outcomes_of(
    case: Case, speeds: np.ndarray, warm: bool, store: Store, refinement: float = 1.0
) -> list[Outcome]:
    """Outcomes of a computed case by speed; without an engine, the reason."""
    if case.engine is None:
        return [Outcome(None, NO_ENGINE + case.reason)] * len(speeds)
    found: dict[float, Outcome] = {}
    for task in tasks_of(case, speeds, warm, refinement):
        keys = task.keys()
        stored = store.get(keys)
        found.update((n, stored[k]) for n, k in zip(task.speeds, keys, strict=True))
    return [found[float(n)] for n in speeds]


def computed(
    plan: Plan,
    rows: Sequence[tuple[float, ...]],
    store: Store,
    executor: Executor,
    progress: ProgressCallback | None = None,
    refinement: float = 1.0,
) -> Iterator[list[Outcome]]:
    """Yield the outcomes of every case by speed, ``rows`` being the values of each (Plan.case);
    what is missing is computed and stored first.

    Cases are laid out BLOCK at a time: a study may have more of them than fit into memory.
    """
    warm = plan.study.warm_start and refinement == 1.0
    for start in range(0, len(rows), BLOCK):
        cases = [plan.case(values) for values in rows[start : start + BLOCK]]
        tasks = [t for c in cases if c.engine for t in tasks_of(c, plan.speeds, warm, refinement)]
        told = progress and _part_of(progress, start, len(cases), len(rows), len(plan.speeds))
        compute_missing(tasks, store, executor, told)
        for case in cases:
            yield outcomes_of(case, plan.speeds, warm, store, refinement)


def _part_of(progress: ProgressCallback, start: int, count: int, cases: int, speeds: int) -> Callable:
    """Progress of a block of ``count`` cases as that of all; points alike or without an engine
    count as done."""

    def told(done: int, total: Any) -> None:
        progress((start + count) * speeds - (total - done), cases * speeds)

    return told


@dataclass(frozen=True)
class Sweep:
    """All points of a plan as a Dataset, and what failed: (values, rpm, reason)."""

    data: Any
    failures: list[tuple]


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
    before = store.written
    found = swept(plan, store, executor or Cores(), progress)
    return found.data, found.failures, store.written - before


def swept(plan: Plan, store: Store, executor: Executor, progress: ProgressCallback | None = None) -> Sweep:
    """As sweep, from an open store."""
    points = np.full((len(plan.rows), len(plan.speeds), len(NAMES)), np.nan)
    failures = []
    found = computed(plan, plan.rows, store, executor, progress)
    for values, row, outcomes in zip(plan.rows, points, found, strict=True):
        for rpm, point, outcome in zip(plan.speeds, row, outcomes, strict=True):
            if outcome.figures is None:
                failures.append((values, float(rpm), outcome.reason))
            else:
                point[:] = outcome.figures
    return Sweep(sweep_dataset(plan, points), failures)


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
    for k, (name, (unit, meaning)) in enumerate(FIGURES.items()):
        data[name] = ((*dims, "rpm"), points[:, :, k].reshape(*shape, len(plan.speeds)))
        data[name].attrs = {"units": unit, "long_name": meaning}
    data.attrs = {"title": plan.engine.title, "solver": solver_version()}
    return data
