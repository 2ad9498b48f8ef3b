"""Every case of a plan at every speed: from the store, or computed and stored."""

from contextlib import closing
from dataclasses import dataclass
from typing import Any

import numpy as np

from aircolumn.curves.labelled import labelled_speeds
from aircolumn.description.parts import given
from aircolumn.engine.figures import FIGURES
from aircolumn.study.executors import Threads
from aircolumn.study.plan import Case, Plan
from aircolumn.study.store import Store
from aircolumn.study.work import NAMES, Outcome, Task, solver_version

NO_ENGINE = "no engine: "


def tasks_of(case: Case, speeds, warm: bool, refinement: float = 1.0) -> list[Task]:
    """A case's tasks: one a speed, or, started warm, one for all from the highest speed down."""
    solver, engine = solver_version(), given(case.engine)
    if warm:
        # Fast cycles first: they are cheap, and the slower ones then start near their own.
        return [Task(engine, tuple(map(float, speeds[::-1])), True, solver, refinement)]
    return [Task(engine, (float(n),), False, solver, refinement) for n in speeds]


def compute_missing(tasks, store: Store, executor, progress=None):
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


def outcomes_of(cases, speeds, warm: bool, store: Store, refinement: float = 1.0):
    """Outcomes [case][speed] of computed cases; a case without an engine has its reason."""
    table = []
    for case in cases:
        if case.engine is None:
            table.append([Outcome(None, NO_ENGINE + case.reason)] * len(speeds))
            continue
        found: dict[float, Outcome] = {}
        for task in tasks_of(case, speeds, warm, refinement):
            keys = task.keys()
            stored = store.get(keys)
            found.update((n, stored[k]) for n, k in zip(task.speeds, keys, strict=True))
        table.append([found[float(n)] for n in speeds])
    return table


def computed(plan: Plan, cases, store: Store, executor, progress=None, refinement: float = 1.0):
    """Outcomes [case][speed] of cases at the plan's speeds, what is missing computed and stored."""
    warm = plan.study.warm_start and refinement == 1.0
    tasks = [t for c in cases if c.engine for t in tasks_of(c, plan.speeds, warm, refinement)]
    compute_missing(tasks, store, executor, progress)
    return outcomes_of(cases, plan.speeds, warm, store, refinement)


@dataclass(frozen=True)
class Sweep:
    """All points of a plan as a Dataset, and what failed: (values, rpm, reason)."""

    data: Any
    failures: list[tuple]


def sweep(plan: Plan, store, executor=None, progress=None):
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
    found = swept(plan, store, executor or Threads(), progress)
    return found.data, found.failures, store.written - before


def swept(plan: Plan, store: Store, executor, progress=None) -> Sweep:
    """As sweep, from an open store."""
    cases = plan.cases
    table = computed(plan, cases, store, executor, progress)
    failures = [
        (case.values, float(n), o.reason)
        for case, row in zip(cases, table, strict=True)
        for n, o in zip(plan.speeds, row, strict=True)
        if o.figures is None
    ]
    return Sweep(dataset(plan, cases, table), failures)


def best_per_speed(data, figure="torque"):
    """(values, case numbers) of the best case at each speed; -1 and NaN where all failed."""
    table = data[figure].values.reshape(-1, data.sizes["rpm"])
    sound = np.isfinite(table)
    best = np.where(sound, table, -np.inf).argmax(axis=0)
    there = sound.any(axis=0)
    values = np.where(there, table[best, np.arange(table.shape[1])], np.nan)
    return values, np.where(there, best, -1)


def dataset(plan: Plan, cases, table):
    """Outcomes as an xarray Dataset: a grid has a dimension for each varied key, a sample or list
    the dimension ``case``; varied keys keep their unit, figures are SI; failed points are NaN."""
    import xarray as xr

    shape = plan.grid_shape()
    dims = [a.name for a in plan.axes] if shape else ["case"]
    shape = shape or (len(cases),)
    data = xr.Dataset(coords={"rpm": plan.speeds})
    labelled_speeds(data)
    if dims == ["case"]:
        data.coords["case"] = plan.case_names
    for k, axis in enumerate(plan.axes):
        grid = dims[0] != "case"
        values = list(axis.values) if grid else [case.values[k] for case in cases]
        data.coords[axis.name] = (axis.name if grid else "case", values)
        data[axis.name].attrs = {"units": axis.unit or "1", "long_name": axis.key}
    nothing = np.full(len(NAMES), np.nan)
    points = np.array([[nothing if o.figures is None else o.figures for o in row] for row in table])
    for k, (name, (unit, meaning)) in enumerate(FIGURES.items()):
        data[name] = ((*dims, "rpm"), points[:, :, k].reshape(*shape, len(plan.speeds)))
        data[name].attrs = {"units": unit, "long_name": meaning}
    data.attrs = {"title": plan.engine.title, "solver": solver_version()}
    return data
