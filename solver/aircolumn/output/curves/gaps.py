"""Points that could not be computed."""

from __future__ import annotations

from typing import TYPE_CHECKING

from aircolumn.curves.to_xarray import failed_points

if TYPE_CHECKING:
    import xarray as xr


def gaps_text(data: xr.Dataset) -> str:
    """The points that could not be computed, with the reason; "" if there are none."""
    failed = failed_points(data)
    if not failed:
        return ""
    lines = [f"  {name + ', ' if name else ''}{rpm:.0f} rpm: {why}" for name, rpm, why in failed]
    return "\n".join(["Not computed (-):", *lines])
