"""Points as labelled datasets (xarray), SI."""

from __future__ import annotations

from collections.abc import Sequence
from typing import TYPE_CHECKING

import numpy as np

from aircolumn.curves.points import PointGrid
from aircolumn.display_units import said_place
from aircolumn.engine.description.engine_file import Engine
from aircolumn.point_figures import DERIVED, FIGURES

if TYPE_CHECKING:
    import xarray as xr

FAILURE = {"units": "1", "long_name": "why the point could not be computed"}


def labelled_speeds(data: xr.Dataset) -> None:
    """Name and unit of a Dataset's speeds."""
    data["rpm"].attrs = {"units": "rev/min", "long_name": "engine speed"}


def curve_dataset(grid: PointGrid, names: Sequence[str], speeds: np.ndarray, engine: Engine) -> xr.Dataset:
    """A grid of points, one row a runner, as a Dataset with dimensions runner and rpm."""
    import xarray as xr

    first = grid.any_point()
    data = xr.Dataset(coords={"runner": list(names), "rpm": speeds})
    labelled_speeds(data)
    for name, f in FIGURES.items():
        data[name] = (("runner", "rpm"), grid.figure(name))
        data[name].attrs = f.attributes
    data.attrs = _about(engine)
    cylinders = max(p.ve_cylinder.size for row in grid.points for p in row if p is not None)
    data.coords["cylinder"] = np.arange(1, cylinders + 1)
    each = grid.table(lambda p: np.broadcast_to(p.ve_cylinder, cylinders), np.full(cylinders, np.nan))
    data["ve_cylinder"] = (("runner", "rpm", "cylinder"), each)
    data["ve_cylinder"].attrs = DERIVED["ve_cylinder"].attributes
    for side, si in (("mass", "kg"), ("energy", "J")):
        entries = list(getattr(first.ledger, side))
        data.coords[f"{side}_entry"] = entries
        values = grid.table(
            lambda p, s=side: list(getattr(p.ledger, s).values()), np.full(len(entries), np.nan)
        )
        data[f"{side}_ledger"] = (("runner", "rpm", f"{side}_entry"), values)
        data[f"{side}_ledger"].attrs = {
            "units": si,
            "long_name": f"{side} ledger over the cycles accounted for (in positive)",
        }
    add_reasons(data, ("runner", "rpm"), grid.reasons)
    return data


def own_curve(data: xr.Dataset, runner: str | None = None) -> xr.Dataset:
    """One runner's curve in a Dataset, at the speeds that are its own: what is read off it is the
    same whatever it is set beside."""
    one = data if runner is None else data.sel(runner=runner)
    return one.isel(rpm=np.flatnonzero(one.own.values)) if "own" in one.coords else one


def add_reasons(
    data: xr.Dataset, dims: str | tuple[str, str], reasons: np.ndarray, meaning: str = FAILURE["long_name"]
) -> None:
    """The variable ``failure`` of a Dataset, if a point is missing."""
    if any(np.ravel(reasons)):
        data["failure"] = (dims, reasons)
        data["failure"].attrs = {**FAILURE, "long_name": meaning}


def _about(engine: Engine) -> dict:
    air = engine.intake.ambient
    return {
        "title": engine.title,
        "reference": "VE at ambient density unless said",
        "ambient_pressure_Pa": air.pressure,
        "ambient_temperature_K": air.temperature,
        "relative_humidity": air.humidity,
        "supplied": int(engine.intake.supply is not None),
        "model": "one cylinder computed, the others repeat it in their turn"
        if not engine.computes_every_cylinder
        else "whole manifold, every cylinder computed",
    }


def shown_ve(data: xr.Dataset) -> tuple[str, str]:
    """The VE that says most of the runner, and the density it refers to: with supplied air that in
    the plenum."""
    return ("ve_plenum", "plenum") if data.attrs.get("supplied") else ("ve", "ambient")


def shown_figure(data: xr.Dataset, name: str) -> tuple[str, str]:
    """Torque or power as it was asked for, and what it is stated at: a standard, or as observed."""
    corrected = f"{name}_corrected"
    return (corrected, data.attrs["standard"]) if corrected in data else (name, "observed")


def failed_points(data: xr.Dataset) -> list[tuple[str, float, str]]:
    """(what was computed: a runner, a size in mm, or "" for a single curve; rpm; reason) of the
    points a Dataset lacks."""
    if "failure" not in data:
        return []
    rows = [("", data)]
    if data.failure.ndim == 2:
        over = data.failure.dims[0]
        names = [str(v) if over == "runner" else f"{said_place(v)}" for v in data[over].values]
        rows = [(name, data.isel({over: k})) for k, name in enumerate(names)]
    return [
        (name, float(rpm), str(reason))
        for name, one in rows
        for rpm, reason in zip(one.rpm.values, one.failure.values, strict=True)
        if reason
    ]
