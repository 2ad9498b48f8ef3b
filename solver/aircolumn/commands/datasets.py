"""Answers that are Datasets."""

from __future__ import annotations

from collections.abc import Callable, Iterable, Sequence
from pathlib import Path
from typing import TYPE_CHECKING

from aircolumn.commands.results import Answer, Origin
from aircolumn.curves.to_xarray import failed_points
from aircolumn.engine.description.text_file import AsRead
from aircolumn.output.curves.gaps import gaps_text
from aircolumn.output.data_files import write_netcdf

if TYPE_CHECKING:
    import xarray as xr


def with_gaps(
    texts: Sequence[str], data: xr.Dataset, write: Callable[[Path, Origin], None], sources: Iterable[AsRead]
) -> Answer:
    """The answer of a Dataset of points, some of which may be missing: these are listed at the end."""
    failed = failed_points(data)
    listed = f"\n{gaps_text(data)}" if failed else ""
    return Answer([*texts, listed], write, sources, len(failed), data.ve.size)


def netcdf(data: xr.Dataset, path: Path, origin: Origin) -> None:
    """A Dataset as NetCDF, with where it comes from."""
    write_netcdf(data.assign_attrs(origin), path)
