"""The filling account as a CSV file."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING

from aircolumn.display_units import column_heading, unit
from aircolumn.output.data_files import digits, write_rows

if TYPE_CHECKING:
    import xarray as xr


def write_account(data: xr.Dataset, path: Path) -> None:
    """The filling account as CSV: one row a speed, one column an entry, in points of VE."""
    points = unit("share")
    headings = [f"{entry} [points of VE]" for entry in data.entry.values]
    swings = [f"swing of {heading}" for heading in headings]
    rows = zip(data.rpm.values, data.account.values.T, data.swing.values.T, data.ve.values, strict=True)
    write_rows(
        path,
        ["rpm", column_heading("ve", points), *headings, *swings],
        (
            [f"{rpm:.10g}", digits(points.of(ve)), *(digits(points.of(v), 6) for v in (*own, *swing))]
            for rpm, own, swing, ve in rows
        ),
    )
