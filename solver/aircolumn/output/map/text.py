"""The ridge of a tuning map beside rules of thumb, as a table."""

from __future__ import annotations

from typing import TYPE_CHECKING

from aircolumn.display_units import unit
from aircolumn.output.tables import fitted

if TYPE_CHECKING:
    import xarray as xr


def map_table(data: xr.Dataset) -> str:
    """The ridge of a tuning map beside the rules of thumb: K that the neck-and-volume rule would
    need, and how far off the quarter wave of one order is."""
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
        "neck and volume: K",
        f"{wave}, off %",
    ]
    return "\n\n".join(filter(None, (fitted(headings, lines), data.attrs["cells"])))
