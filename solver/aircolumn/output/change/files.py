"""What a change did, as a CSV file."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING

from aircolumn.curves.change import SIDES
from aircolumn.display_units import column_heading, unit
from aircolumn.output.change.text import KINDS
from aircolumn.output.data_files import write_rows

if TYPE_CHECKING:
    import xarray as xr


def write_change(data: xr.Dataset, path: Path) -> None:
    """One row a runner and speed as CSV."""
    heads, columns = ["runner", "rpm"], []
    for name, kind in KINDS.items():
        for side in SIDES:
            heads.append(column_heading(f"{name} {side}", unit(kind)))
            columns.append(unit(kind).of(data[name].sel(side=side).values))
    write_rows(
        path,
        heads,
        (
            [str(runner), float(rpm), *(float(c[i, k]) for c in columns)]
            for i, runner in enumerate(data.runner.values)
            for k, rpm in enumerate(data.rpm.values)
        ),
    )
