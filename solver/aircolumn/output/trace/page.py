"""A cycle: its wave on the page, its series as a CSV file."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING

import numpy as np

from aircolumn.display_units import column_heading, unit_of
from aircolumn.output.data_files import digits, write_rows
from aircolumn.output.page.content import EVERY
from aircolumn.output.trace.pictures import EVENT_NAMES

if TYPE_CHECKING:
    import xarray as xr


def cycle(name: str, data: xr.Dataset) -> dict:
    """A cycle of one runner for the moving wave: pressures in hPa over the plenum's mean, whole
    numbers, as the page should be small."""
    angles = np.arange(0.0, 720.0, EVERY)
    reference = data.attrs["reference_pressure_Pa"]
    at = data.interp(angle=angles)
    stroke = at.volume.values - at.volume.values.min()
    return {
        "name": name,
        "rpm": float(data.attrs["rpm"]),
        "distance": np.round(data.distance.values, 4).tolist(),
        **{
            key: np.round(0.01 * (at[key].values.T - reference)).astype(int).tolist()
            for key in ("p", "forward", "backward")
        },
        "piston": np.round(stroke / stroke.max(), 3).tolist(),
        **{
            side: np.round(at[f"{side}_area"].values / at[f"{side}_area"].values.max(), 3).tolist()
            for side in ("intake", "exhaust")
        },
        "events": sorted(_events(data), key=lambda event: event[1]),
    }


def _events(data: xr.Dataset) -> list:
    """[short name, crank angle in degrees] of each valve event."""
    return [[short, float(data.attrs[key] % 720.0)] for key, short in EVENT_NAMES.items()]


def write_series(data: xr.Dataset, path: Path) -> None:
    """What a trace has against crank angle as CSV, runner and port at the valve."""
    at_valve = data.isel(distance=-1)
    columns = {"angle [deg]": data.angle.values}
    for name in data.data_vars:
        place = " at the valve" if "distance" in data[name].dims else ""
        shown = unit_of(name, data[name].attrs["units"])
        columns[column_heading(f"{name}{place}", shown)] = shown.of(at_valve[name].values)
    rows = zip(*columns.values(), strict=True)
    write_rows(path, list(columns), ([digits(v, 8) for v in row] for row in rows))
