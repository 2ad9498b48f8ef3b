"""The tuning map as a CSV file."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING

from aircolumn.display_units import column_heading, unit
from aircolumn.output.data_files import digits, write_rows

if TYPE_CHECKING:
    import xarray as xr


def write_map(data: xr.Dataset, path: Path) -> None:
    """A tuning map as CSV: one row a length or bore; VE at each speed, then ridge and rules."""
    vary = data.attrs["vary"]
    size, ve = unit("length"), unit("share")
    headings = [
        column_heading(vary, size),
        *(column_heading(f"ve at {rpm:.10g} rpm", ve) for rpm in data.rpm.values),
        "ridge [rpm]",
        *(f"neck and volume K {k:g} [rpm]" for k in data.k.values),
        *(f"quarter wave order {q} [rpm]" for q in data.order.values),
    ]
    rows = []
    for i, value in enumerate(data[vary].values):
        one = data.isel({vary: i})
        values = [
            size.of(value),
            *ve.of(one.ve.values),
            float(one.ridge),
            *one.neck_and_volume.values,
            *one.quarter_wave.values,
        ]
        rows.append([digits(v, 8) for v in values])
    write_rows(path, headings, rows)
