"""Curves over engine speed, for one engine or all its candidate runners."""

from __future__ import annotations

from collections.abc import Sequence
from typing import TYPE_CHECKING, Any

import numpy as np
from numpy.typing import ArrayLike

from aircolumn.curves.accuracy import with_chosen_cells
from aircolumn.curves.locate import Located, located
from aircolumn.curves.points import as_grid, compute_points
from aircolumn.curves.speeds import chosen_speeds, even_speeds
from aircolumn.curves.to_xarray import curve_dataset
from aircolumn.curves.uncertainty import LEVELS, grid_convergence
from aircolumn.engine.description.engine_file import Engine
from aircolumn.engine.description.given import description_of, engine_of
from aircolumn.point_figures import DERIVED

if TYPE_CHECKING:
    import xarray as xr

    from aircolumn.engine.description.reader import Description
    from aircolumn.protocols import ProgressCallback


def curve(
    engine: Engine | Description,
    rpm: ArrayLike | None = None,
    progress: ProgressCallback | None = None,
    workers: int | None = None,
) -> xr.Dataset:
    """One engine over speed.

    Parameters
    ----------
    engine : Engine or Description
        Of a Description its ``intake.runner`` is used.
    rpm : sequence of float, optional
        Speeds, rev/min; left out, those of the file, even ones between them, and what locates humps
        and dips (curves/locate.py).
    progress : callable, optional
        Called as progress(points done, points in all).
    workers : int, optional
        Points marched at once; left out, all cores.

    Returns
    -------
    xarray.Dataset
        Dimension rpm; figures (engine/model/figures.py) in SI. Points that could not be computed are NaN,
        with the reason in ``failure``, which is there only if there are such points.

    Raises
    ------
    ComputationError
        If no point could be computed.
    RequestError
        For speeds no engine turns at.

    Examples
    --------
    >>> import aircolumn
    >>> data = curve(aircolumn.load("configs/classroom-single.yaml"), [3000, 4500])
    >>> data.ve.dims, data.torque.attrs["units"]
    (('rpm',), 'N m')
    """
    engine = engine_of(engine)
    data, *_ = _computed({"runner": engine}, engine, rpm, progress, workers)
    return data.squeeze("runner", drop=True)


def compare(
    description: Description,
    rpm: ArrayLike | None = None,
    progress: ProgressCallback | None = None,
    workers: int | None = None,
    uncertainty: bool = False,
) -> xr.Dataset:
    """All candidate runners over speed.

    Parameters
    ----------
    description : Description
        Of an engine file (load).
    rpm, progress, workers
        As for ``curve``.
    uncertainty : bool
        Also compute every point on two other meshes and add the numerical uncertainty of VE as
        ``ve_uncertainty`` (relative; see uncertainty.py).

    Returns
    -------
    xarray.Dataset
        Dimensions runner and rpm; otherwise as for ``curve``.

    Raises
    ------
    ComputationError, RequestError
        As for ``curve``.
    """
    description = description_of(description, "its candidates are compared; curve takes an Engine")
    engine = description.engine
    runners = {name: description.with_runner(name) for name in description.runners}
    data, engines, found = _computed(runners, engine, rpm, progress, workers)
    if uncertainty:
        stated = _uncertainty(engines, found, progress, workers)
        data["ve_uncertainty"] = (("runner", "rpm"), stated)
        data["ve_uncertainty"].attrs = DERIVED["ve_uncertainty"].attributes
    return data


def _computed(
    runners: dict[str, Engine],
    engine: Engine,
    rpm: ArrayLike | None,
    progress: ProgressCallback | None,
    workers: int | None,
) -> tuple[xr.Dataset, dict[str, Engine], Located]:
    """Curves of the engines with each runner, labelled; these engines on the cells chosen; their points.
    engine: that of the file, which says at what speeds."""
    asked = chosen_speeds(engine, rpm)
    first, within, most = _adding(engine, rpm)
    engines, cells = with_chosen_cells(list(runners.values()), first, workers)
    found = located(engines, first, within, most, progress, workers, asked)
    data = _labelled(found, asked, list(runners), engine, cells)
    return data, dict(zip(runners, engines, strict=True)), found


def _adding(engine: Engine, rpm: Any) -> tuple[np.ndarray, float, int]:
    """Speeds to compute first, within how many rev/min to locate, and how many speeds to add to a
    curve at most: none to speeds asked for one by one."""
    s = engine.speeds
    if rpm is not None or s.locate_within <= 0.0:
        return chosen_speeds(engine, rpm), 0.0, 0
    return even_speeds(engine), s.locate_within, s.most_added


def _labelled(
    found: Located, asked: np.ndarray, names: Sequence[str], engine: Engine, cells: str
) -> xr.Dataset:
    data = curve_dataset(found.grid, names, found.speeds, engine)
    data.coords["asked"] = ("rpm", np.isin(found.speeds, asked).astype(np.int8))
    data["asked"].attrs = DERIVED["asked"].attributes
    data.coords["own"] = (("runner", "rpm"), found.own.astype(np.int8))
    data["own"].attrs = {
        "units": "1",
        "long_name": "1: a point of this runner's own curve, 0: added for another's",
    }
    data.attrs |= {"more_wanted": int(found.cut_short), "cells": cells}
    return data


def _uncertainty(
    engines: dict[str, Engine],
    found: Located,
    progress: ProgressCallback | None,
    workers: int | None,
) -> np.ndarray:
    """Numerical uncertainty of VE at the points found, from two more meshes."""
    speeds = found.speeds
    cells = [[(name, n) for n in speeds] for name in engines]
    done = found.grid.points
    ve = {1.0: found.grid.figure("ve")}
    for k, level in enumerate(lv for lv in LEVELS if lv != 1.0):
        jobs = [
            ((name, n), engines[name], float(n), level)
            for row, points_ in zip(cells, done, strict=True)
            for (name, n), point in zip(row, points_, strict=True)
            if point
        ]
        before, total = (1 + k) * found.grid.reasons.size, len(LEVELS) * found.grid.reasons.size
        told = None if progress is None else (lambda n, _, b=before, t=total: progress(b + n, t))
        ve[level] = as_grid(cells, *compute_points(jobs, told, workers)).figure("ve")
    coarse, middle, fine = (ve[level] for level in LEVELS)
    return grid_convergence(coarse, middle, fine, next(iter(engines.values())).numerics.repeat_within)
