"""What commands found, as plain data for scripts (--json): SI, angles in degrees, speeds in rev/min; what is
not known is null."""

from __future__ import annotations

from dataclasses import fields, is_dataclass
from pathlib import Path
from typing import TYPE_CHECKING, Any

import numpy as np

from aircolumn.curves.interest import Range

if TYPE_CHECKING:
    import xarray as xr


def as_plain(value: Any) -> Any:
    """A value, or a dataclass, mapping or sequence of values, as JSON can hold it."""
    if isinstance(value, Range):
        return {"words": value.words, "pieces": [list(piece) for piece in value.pieces]}
    if is_dataclass(value) and not isinstance(value, type):
        return {f.name: as_plain(getattr(value, f.name)) for f in fields(value)}
    if isinstance(value, dict):
        return {str(k): as_plain(v) for k, v in value.items()}
    if isinstance(value, np.ndarray):
        return as_plain(value.tolist())
    if isinstance(value, (list, tuple, set)):
        return [as_plain(v) for v in value]
    if isinstance(value, (bool, str, type(None))):
        return value
    if isinstance(value, Path):
        return str(value)
    if isinstance(value, (int, np.integer)):
        return int(value)
    number = float(value)
    return number if np.isfinite(number) else None


def plain_dataset(data: xr.Dataset, *names: str) -> dict[str, Any]:
    """A Dataset: its coordinates, and its figures (those of ``names``, if given) with units and meaning."""
    chosen = [str(n) for n in data.data_vars if not names or n in names]
    coordinates = {d for n in chosen for d in data[n].dims}
    return {
        "coordinates": {str(d): as_plain(data[d].values) for d in data.coords if d in coordinates},
        "figures": {
            n: {
                "unit": str(data[n].attrs.get("units", "")),
                "meaning": str(data[n].attrs.get("long_name", "")),
                "over": [str(d) for d in data[n].dims],
                "values": as_plain(data[n].values),
            }
            for n in chosen
        },
    }
