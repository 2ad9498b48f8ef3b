"""What commands found, as plain data for scripts (--json): SI, angles in degrees, speeds in rev/min; what is
not known is null."""

from __future__ import annotations

from dataclasses import dataclass, fields, is_dataclass
from pathlib import Path
from typing import TYPE_CHECKING, Any

import numpy as np

if TYPE_CHECKING:
    import xarray as xr

    from aircolumn.curves.interest import Range


def as_plain(value: Any) -> Any:
    """A value, or a dataclass, mapping or sequence of values, as JSON can hold it."""
    if is_dataclass(value) and not isinstance(value, type):
        return {f.name.rstrip("_"): as_plain(getattr(value, f.name)) for f in fields(value)}
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


@dataclass(frozen=True)
class TableFigure:
    """A figure of a table, over the coordinates named."""

    unit: str
    meaning: str
    over: list[str]
    values: Any


@dataclass(frozen=True)
class LabelledTable:
    """A Dataset: its coordinates and its figures."""

    coordinates: dict[str, list]
    figures: dict[str, TableFigure]

    @classmethod
    def of(cls, data: xr.Dataset, *names: str) -> LabelledTable:
        """The figures of ``names`` (left out: all) and their coordinates."""
        chosen = [str(n) for n in data.data_vars if not names or n in names]
        coordinates = {d for n in chosen for d in data[n].dims}
        return cls(
            {str(d): data[d].values.tolist() for d in data.coords if d in coordinates},
            {
                n: TableFigure(
                    str(data[n].attrs.get("units", "")),
                    str(data[n].attrs.get("long_name", "")),
                    [str(d) for d in data[n].dims],
                    data[n].values,
                )
                for n in chosen
            },
        )


@dataclass(frozen=True)
class SpeedRange:
    """A range of speeds in words, and its pieces: speed and weight where each begins and ends."""

    words: str
    pieces: list[list[float]]

    @classmethod
    def of(cls, span: Range) -> SpeedRange:
        """A range of curves/interest.py."""
        return cls(span.words, [list(piece) for piece in span.pieces])
