"""Operating points over engine speed, for one engine or all its candidate runners."""

from concurrent.futures import FIRST_COMPLETED, ThreadPoolExecutor, wait
from os import cpu_count

import numpy as np

from aircolumn.cycle import FIGURES, operating_point
from aircolumn.description.models import EngineFile
from aircolumn.description.reader import Description
from aircolumn.errors import ComputationError, RequestError
from aircolumn.uncertainty import LEVELS, grid_convergence


def speeds_of(engine: EngineFile) -> np.ndarray:
    """The speeds the file asks for, rev/min, the last one included."""
    s = engine.speeds
    count = int(np.floor((s.stop - s.start) / s.step + 1e-9)) + 1
    speeds = s.start + s.step * np.arange(count)
    return speeds if s.stop - speeds[-1] < 1e-6 else np.append(speeds, s.stop)


def check_speeds(speeds) -> np.ndarray:
    """Speeds as a rising array. Raises RequestError for anything an engine cannot turn at."""
    values = np.atleast_1d(np.asarray(speeds, dtype=float))
    if values.size == 0 or not np.all(np.isfinite(values)):
        raise RequestError("give at least one finite engine speed in rpm")
    if np.any(values < 100.0) or np.any(values > 30000.0):
        raise RequestError("engine speeds must be from 100 to 30000 rpm")
    return np.unique(values)


def points(jobs, progress=None, workers: int | None = None):
    """Operating points of ``jobs``, a list of (key, engine, rpm, refinement).

    Returns ({key: point}, {key: reason}): what was computed, and why the rest could not be. The
    compiled march releases the lock, so threads use all cores. ``progress(done, total)`` is called
    after each point. Raises ComputationError if no point at all could be computed.
    """
    results, failures = {}, {}
    # Slow speeds take longest: start them first.
    ordered = sorted(jobs, key=lambda job: job[2])
    with ThreadPoolExecutor(workers or cpu_count() or 1) as pool:
        pending = {pool.submit(operating_point, *job[1:]): job[0] for job in ordered}
        try:
            while pending:
                done, _ = wait(pending, return_when=FIRST_COMPLETED)
                for future in done:
                    key = pending.pop(future)
                    try:
                        results[key] = future.result()
                    except ComputationError as error:
                        failures[key] = str(error)
                    if progress:
                        progress(len(results) + len(failures), len(jobs))
        finally:
            pool.shutdown(wait=True, cancel_futures=True)
    if failures and not results:
        raise ComputationError(next(iter(failures.values())))
    return results, failures


def all_points(jobs, progress=None, workers: int | None = None) -> dict:
    """As points, where every one is needed. Raises ComputationError if one is missing."""
    results, failures = points(jobs, progress, workers)
    for reason in failures.values():
        raise ComputationError(reason)
    return results


def curve(engine: EngineFile | Description, rpm=None, progress=None, workers=None):
    """One engine over speed: an xarray Dataset with dimension rpm (rev/min), figures in SI.

    engine: a Description (its intake.runner is used) or an EngineFile; rpm: speeds, rev/min, else
    those of the file. Points that could not be computed are NaN, with the reason in ``failure``
    (which is there only if there are such points). Raises ComputationError if all are.
    """
    if isinstance(engine, Description):
        engine = engine.engine
    speeds = speeds_of(engine) if rpm is None else check_speeds(rpm)
    jobs = [(("runner", k), engine, float(n), 1.0) for k, n in enumerate(speeds)]
    data = dataset(*points(jobs, progress, workers), ["runner"], speeds, engine)
    return data.squeeze("runner", drop=True)


def compare(description: Description, rpm=None, progress=None, workers=None, uncertainty=False):
    """All candidate runners over speed: a Dataset with dimensions runner and rpm.

    uncertainty: also compute every point on two other meshes and add the numerical uncertainty of
    VE as ``ve_uncertainty`` (see uncertainty.py). Arguments and errors otherwise as for ``curve``.
    """
    engine = description.engine
    speeds = speeds_of(engine) if rpm is None else check_speeds(rpm)
    names = list(description.runners)
    levels = LEVELS if uncertainty else (1.0,)
    jobs = [
        ((name, k, level), description.with_runner(name), float(n), level)
        for name in names
        for k, n in enumerate(speeds)
        for level in levels
    ]
    found, failures = points(jobs, progress, workers)
    at_default = [{key[:2]: v for key, v in d.items() if key[2] == 1.0} for d in (found, failures)]
    data = dataset(*at_default, names, speeds, engine)
    if uncertainty:
        ve = [[[_ve(found, (name, k, level)) for level in LEVELS] for k in range(len(speeds))]
              for name in names]  # fmt: skip
        stated = grid_convergence(*np.moveaxis(ve, 2, 0), engine.numerics.repeat_within)
        data["ve_uncertainty"] = (("runner", "rpm"), stated)
        data["ve_uncertainty"].attrs = {
            "units": "1",
            "long_name": "numerical uncertainty of VE, relative (grid convergence index)",
        }
    return data


def _ve(found, key) -> float:
    return found[key].figures["ve"] if key in found else np.nan


def dataset(found, failures, names, speeds, engine: EngineFile):
    """Points, and reasons of missing ones, by (runner, number of speed) as a labelled Dataset."""
    import xarray as xr

    keys = [[(name, k) for k in range(len(speeds))] for name in names]
    first = next(iter(found.values()))
    data = xr.Dataset(coords={"runner": list(names), "rpm": speeds})
    data["rpm"].attrs = {"units": "rev/min", "long_name": "engine speed"}

    def table(value, missing):
        return np.array([[value(found[k]) if k in found else missing for k in row] for row in keys])

    for name, (unit, meaning) in FIGURES.items():
        data[name] = (("runner", "rpm"), table(lambda p, n=name: p.figures[n], np.nan))
        data[name].attrs = {"units": unit, "long_name": meaning}
    air = engine.intake.ambient
    data.attrs = {
        "title": engine.title,
        "reference": "VE at ambient density unless said",
        "ambient_pressure_Pa": air.pressure,
        "ambient_temperature_K": air.temperature,
        "relative_humidity": air.humidity,
        "model": "one cylinder computed, the others repeat it in their turn"
        if not engine.whole
        else "whole manifold, every cylinder computed",
    }
    cylinders = max(p.ve_cylinder.size for p in found.values())
    data.coords["cylinder"] = np.arange(1, cylinders + 1)
    each = table(lambda p: np.broadcast_to(p.ve_cylinder, cylinders), np.full(cylinders, np.nan))
    data["ve_cylinder"] = (("runner", "rpm", "cylinder"), each)
    data["ve_cylinder"].attrs = {"units": "1", "long_name": "VE of each cylinder computed"}
    for side in ("mass", "energy"):
        entries = list(getattr(first.ledger, side))
        data.coords[f"{side}_entry"] = entries
        values = table(
            lambda p, s=side: list(getattr(p.ledger, s).values()), np.full(len(entries), np.nan)
        )
        data[f"{side}_ledger"] = (("runner", "rpm", f"{side}_entry"), values)
        data[f"{side}_ledger"].attrs = {
            "units": "kg" if side == "mass" else "J",
            "long_name": f"{side} ledger over the cycles accounted for (in positive)",
        }
    if failures:
        reasons = [[failures.get(k, "") for k in row] for row in keys]
        data["failure"] = (("runner", "rpm"), np.array(reasons, dtype=object))
        data["failure"].attrs = {"units": "1", "long_name": "why the point could not be computed"}
    return data


def failed_points(data) -> list[tuple[str, float, str]]:
    """(what was computed: a runner, a size in mm, or "" for a single curve; rpm; reason) of the
    points a Dataset lacks."""
    if "failure" not in data:
        return []
    rows = [("", data)]
    if data.failure.ndim == 2:
        over = data.failure.dims[0]
        names = [str(v) if over == "runner" else f"{1e3 * v:.0f} mm" for v in data[over].values]
        rows = [(name, data.isel({over: k})) for k, name in enumerate(names)]
    return [
        (name, float(rpm), str(reason))
        for name, one in rows
        for rpm, reason in zip(one.rpm.values, one.failure.values, strict=True)
        if reason
    ]
