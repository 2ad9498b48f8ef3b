"""One cycle as a CSV file."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING

from aircolumn.display_units import column_heading, unit_of
from aircolumn.output.data_files import digits, write_rows

if TYPE_CHECKING:
    import xarray as xr


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
