"""What searches, sensitivity and tolerance studies found, as labelled datasets: varied keys in the
units they were written in, all else SI. (Sweeps: sweep.py.)"""

from __future__ import annotations

from collections.abc import Sequence
from typing import TYPE_CHECKING

import numpy as np

from aircolumn.study.aims import SI_UNITS, aim_words

if TYPE_CHECKING:
    import xarray as xr

    from aircolumn.study.models import Aim
    from aircolumn.study.plan import Plan
    from aircolumn.study.search import RunnerSearch, SearchResult
    from aircolumn.study.sensitivity import Indices
    from aircolumn.study.tolerance import Band


def _axes(data: xr.Dataset, plan: Plan, rows: Sequence[tuple[float, float]]) -> None:
    """The varied keys of every curve as coordinates."""
    for k, axis in enumerate(plan.axes):
        values = [row[k] for row in rows]
        data.coords[axis.name] = ("curve", values, {"units": axis.unit or "1", "long_name": axis.key})


def search_dataset(search: RunnerSearch, found: SearchResult) -> xr.Dataset:
    """Every curve a search computed: the aims, by how much limits are kept, torque over speed."""
    import xarray as xr

    plan, known = search.plan, found.known
    data = xr.Dataset(coords={"rpm": ("rpm", plan.speeds, {"units": "rev/min"})})
    _axes(data, plan, plan.scaled([k.share for k in known]))
    for n, aim in enumerate(search.aims):
        about = {"units": SI_UNITS[aim.of], "long_name": aim_words(aim)}
        data["second_aim" if n else "aim"] = ("curve", [k.aims[n] for k in known], about)
    for n, limit in enumerate(search.asked.limits):
        said = f"torque over the limit at {limit.at:.0f} rpm"
        about = {"units": "N m", "long_name": said}
        data[f"over_limit_{limit.at:.0f}"] = ("curve", [k.margins[n] for k in known], about)
    data["torque"] = (
        ("curve", "rpm"),
        np.array([k.torque for k in known]),
        {"units": "N m", "long_name": "brake torque of the engine"},
    )
    best = [np.array_equal(k.share, found.best.share) for k in known]
    data["best"] = ("curve", np.array(best, dtype=np.int8), {"units": "1", "long_name": "the best"})
    data.attrs = {"title": plan.engine.title, "aim_with_cells_halved": found.recheck}
    return data


def indices_dataset(plan: Plan, aim: Aim, indices: Indices) -> xr.Dataset:
    """Sobol indices of every varied key."""
    import xarray as xr

    data = xr.Dataset(coords={"key": [a.key for a in plan.axes]})
    for name, values, meaning in (
        ("first_order", indices.first, "share of the variance by the key alone"),
        ("first_order_half_width", indices.first_wide, "95 % interval of first_order, half"),
        ("total", indices.total, "share of the variance with the key's interactions"),
        ("total_half_width", indices.total_wide, "95 % interval of total, half"),
    ):
        data[name] = ("key", values, {"units": "1", "long_name": meaning})
    data.attrs = {
        "title": plan.engine.title,
        "aim": aim_words(aim),
        "aim_units": SI_UNITS[aim.of],
        "aim_mean": indices.mean,
        "aim_standard_deviation": indices.deviation,
    }
    return data


def band_dataset(plan: Plan, band: Band) -> xr.Dataset:
    """Torque and VE as drawn, their band, and the slopes."""
    import xarray as xr

    data = xr.Dataset(coords={"rpm": ("rpm", band.rpm, {"units": "rev/min"})})
    for name, units in (("torque", "N m"), ("ve", "1")):
        for part, meaning in (("", "as drawn"), ("_low", "least"), ("_high", "greatest")):
            about = {"units": units, "long_name": f"{name}, {meaning}"}
            data[name + part] = ("rpm", getattr(band, name + part), about)
    for axis in plan.axes:
        about = {
            "units": f"N m / {axis.unit}" if axis.unit else "N m",
            "long_name": f"change of torque with {axis.key}",
        }
        data[f"torque_per_{axis.name}"] = ("rpm", band.slopes[axis.name], about)
    data.attrs = {"title": plan.engine.title, "curves": band.curves}
    return data
