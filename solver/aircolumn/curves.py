"""Operating points over engine speed, for one engine or all its candidate runners."""

from concurrent.futures import FIRST_COMPLETED, ThreadPoolExecutor, wait
from os import cpu_count

import numpy as np

from aircolumn.cycle import FIGURES, operating_point
from aircolumn.description.models import EngineFile
from aircolumn.description.reader import Description
from aircolumn.errors import RequestError


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
    """Operating points of ``jobs``, a list of (key, engine, rpm, refinement), as {key: point}.

    The compiled march releases the lock, so threads use all cores. ``progress(done, total)`` is
    called after each point. The first failure stops the rest and is raised.
    """
    results = {}
    # Slow speeds take longest: start them first.
    ordered = sorted(jobs, key=lambda job: job[2])
    with ThreadPoolExecutor(workers or cpu_count() or 1) as pool:
        pending = {pool.submit(operating_point, *job[1:]): job[0] for job in ordered}
        try:
            while pending:
                done, _ = wait(pending, return_when=FIRST_COMPLETED)
                for future in done:
                    results[pending.pop(future)] = future.result()
                    if progress:
                        progress(len(results), len(jobs))
        finally:
            pool.shutdown(wait=True, cancel_futures=True)
    return results


def curve(engine: EngineFile | Description, rpm=None, progress=None, workers=None):
    """One engine over speed: an xarray Dataset with dimension rpm (rev/min), figures in SI.

    engine: a Description (its intake.runner is used) or an EngineFile; rpm: speeds, rev/min, else
    those of the file. Raises ComputationError if a point does not converge.
    """
    if isinstance(engine, Description):
        engine = engine.engine
    speeds = speeds_of(engine) if rpm is None else check_speeds(rpm)
    jobs = [(k, engine, float(n), 1.0) for k, n in enumerate(speeds)]
    found = points(jobs, progress, workers)
    data = dataset([[found[k] for k in range(len(speeds))]], ["runner"], speeds, engine)
    return data.squeeze("runner", drop=True)


def compare(description: Description, rpm=None, progress=None, workers=None, uncertainty=False):
    """All candidate runners over speed: a Dataset with dimensions runner and rpm.

    uncertainty: also compute every point with cells and step halved and add the change of VE as
    ``ve_change`` (the numerical uncertainty). Arguments and errors otherwise as for ``curve``.
    """
    engine = description.engine
    speeds = speeds_of(engine) if rpm is None else check_speeds(rpm)
    names = list(description.runners)
    levels = (1.0, 2.0) if uncertainty else (1.0,)
    jobs = [
        ((name, k, level), description.with_runner(name), float(n), level)
        for name in names
        for k, n in enumerate(speeds)
        for level in levels
    ]
    found = points(jobs, progress, workers)
    table = [[found[name, k, 1.0] for k in range(len(speeds))] for name in names]
    data = dataset(table, names, speeds, engine)
    if uncertainty:
        fine = [[found[name, k, 2.0].figures["ve"] for k in range(len(speeds))] for name in names]
        data["ve_change"] = (("runner", "rpm"), np.abs(np.array(fine) / data["ve"].values - 1.0))
        data["ve_change"].attrs = {
            "units": "1",
            "long_name": "relative change of VE on halving cells and step",
        }
    return data


def dataset(table, names, speeds, engine: EngineFile):
    """Points (runners x speeds) as a labelled xarray Dataset."""
    import xarray as xr

    data = xr.Dataset(coords={"runner": list(names), "rpm": speeds})
    data["rpm"].attrs = {"units": "rev/min", "long_name": "engine speed"}
    for name, (unit, meaning) in FIGURES.items():
        values = [[p.figures[name] for p in row] for row in table]
        data[name] = (("runner", "rpm"), np.array(values))
        data[name].attrs = {"units": unit, "long_name": meaning}
    air = engine.intake.ambient
    data.attrs = {
        "title": engine.title,
        "reference": "VE at ambient density unless said",
        "ambient_pressure_Pa": air.pressure,
        "ambient_temperature_K": air.temperature,
        "relative_humidity": air.humidity,
        "model": "one cylinder computed, the others repeat it in their turn"
        if engine.model == "single"
        else "whole manifold, every cylinder computed",
    }
    data.coords["cylinder"] = np.arange(1, len(table[0][0].ve_cylinder) + 1)
    values = [[p.ve_cylinder for p in row] for row in table]
    data["ve_cylinder"] = (("runner", "rpm", "cylinder"), np.array(values))
    data["ve_cylinder"].attrs = {"units": "1", "long_name": "VE of each cylinder computed"}
    for side in ("mass", "energy"):
        keys = list(getattr(table[0][0].ledger, side))
        data.coords[f"{side}_entry"] = keys
        values = [[[getattr(p.ledger, side)[k] for k in keys] for p in row] for row in table]
        data[f"{side}_ledger"] = (("runner", "rpm", f"{side}_entry"), np.array(values))
        data[f"{side}_ledger"].attrs = {
            "units": "kg" if side == "mass" else "J",
            "long_name": f"{side} ledger over the cycles accounted for (in positive)",
        }
    return data
