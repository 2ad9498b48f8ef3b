"""The filling account as a table and a CSV file."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING

import numpy as np

from aircolumn.display_units import column_heading, unit
from aircolumn.output.data_files import digits, write_rows
from aircolumn.output.tables import fitted

if TYPE_CHECKING:
    import xarray as xr


SHIFTS = "~"  # marks entries of an account that act through others


def account_table(data: xr.Dataset) -> str:
    """The filling account in points of VE: from 100 by what each effect takes or gives to VE."""
    width = max(len(e) for e in data.entry.values)
    rows = [["full at ambient density".ljust(width), *("100.0 " for _ in data.rpm.values)]]
    shifts = shifting(data)
    for k, entry in enumerate(data.entry.values):
        cells = [
            unit("share").number(v, sign="+") + (SHIFTS if shift else " ")
            for v, shift in zip(data.account.values[k], shifts[k], strict=True)
        ]
        rows.append([entry.ljust(width), *cells])
    rows.append(["VE, %".ljust(width), *(f"{100 * v:.1f} " for v in data.ve.values)])
    heading = ["points of VE at rpm".ljust(width), *(f"{rpm:.0f} " for rpm in data.rpm.values)]
    note = (
        "Each entry: VE with the effect less VE without it, mean of removing them one after another"
        " downwards and upwards."
    )
    if shifts.any():
        note += (
            f"\n{SHIFTS}: the two orders differ by more than the entry itself. It acts through"
            " the others, mostly by a shift of the tuning."
        )
    return fitted(heading, rows) + "\n" + note


def shifting(data: xr.Dataset) -> np.ndarray:
    """Which entries of an account (entry, rpm) the swing between the orders outweighs by more than
    a point."""
    swing = np.abs(data.swing.values)
    return (swing > np.abs(data.account.values)) & (swing > 0.01)


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
