"""The ridge of a tuning map beside rules of thumb, and the map as a CSV file."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING

import numpy as np

from aircolumn.display_units import column_heading, unit
from aircolumn.output.data_files import digits, write_rows
from aircolumn.output.tables import fitted

if TYPE_CHECKING:
    import xarray as xr


def map_table(data: xr.Dataset) -> str:
    """The ridge of a tuning map beside the rules of thumb.

    Parameters
    ----------
    data : xarray.Dataset
        By ``tuning_map``.

    Returns
    -------
    str
        A line a size: speed of the highest VE, K that Helmholtz's neck and volume would need, how far off the
        quarter wave of one order is; then where another hump becomes the highest.
    """
    from aircolumn.curves.tuning.tuning_map import rule_errors

    size = unit("length")
    order, rows = rule_errors(data)
    lines = []
    for length, ridge, fits, off in rows:
        if ridge != ridge:
            lines.append([size.number(length), "outside", "", ""])
            continue
        off_by = unit("share").number(off, 0, "+")
        lines.append([size.number(length), f"{ridge:.0f}", f"{fits:.2f}", off_by])
    wave = "quarter wave" if order is None else f"quarter wave, order {order}"
    headings = [
        f"runner {data.attrs['vary']} {size.name}",
        "hump at rpm",
        "Helmholtz K",
        f"{wave}, off %",
    ]
    return "\n\n".join(filter(None, (fitted(headings, lines), *_jumps(data), data.attrs["cells"])))


def _jumps(data: xr.Dataset) -> list[str]:
    """Where the highest hump becomes another: its speed moves against every rule."""
    values, size, found = data[data.attrs["vary"]].values, unit("length"), []
    moves = np.diff(data.ridge.values) * np.diff(data.neck_and_volume.values[0])
    for k in np.flatnonzero(moves < 0.0):
        found.append(
            f"From {size.number(values[k])} to {size.said(values[k + 1])} another hump becomes the highest:"
            " two stand nearly level there. A rule is to be judged by one hump."
        )
    return found


def write_map(data: xr.Dataset, path: Path) -> None:
    """A tuning map as CSV: one row a length or bore; VE at each speed, then ridge and rules."""
    vary = data.attrs["vary"]
    size, ve = unit("length"), unit("share")
    headings = [
        column_heading(vary, size),
        *(column_heading(f"ve at {rpm:.10g} rpm", ve) for rpm in data.rpm.values),
        "ridge [rpm]",
        *(f"Helmholtz (neck and volume) K {k:g} [rpm]" for k in data.k.values),
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
