"""Answers that are Datasets."""

from __future__ import annotations

from collections.abc import Callable, Iterable, Sequence
from functools import partial
from pathlib import Path
from typing import TYPE_CHECKING, Any

from aircolumn.commands.results import Answer, Origin
from aircolumn.curves.to_xarray import failed_points
from aircolumn.engine.description.text_file import AsRead
from aircolumn.output.curves.text import gaps_text
from aircolumn.output.data_files import write_netcdf
from aircolumn.output.plain import LabelledTable

if TYPE_CHECKING:
    import xarray as xr


def with_gaps(
    texts: Sequence[str],
    data: xr.Dataset,
    write: Callable[[Path, Origin], None],
    sources: Iterable[AsRead],
    result: Callable[[], Any] | None = None,
) -> Answer[Any]:
    """The answer of a Dataset of points, some of which may be missing: these are listed at the end. result:
    makes what --json prints (left out: the Dataset itself)."""
    failed = failed_points(data)
    listed = f"\n{gaps_text(data)}" if failed else ""
    result = result or partial(LabelledTable.of, data)
    return Answer([*texts, listed], write, sources, len(failed), data.ve.size, result=result)


def netcdf(data: xr.Dataset, path: Path, origin: Origin) -> None:
    """A Dataset as NetCDF, with where it comes from."""
    write_netcdf(data.assign_attrs(origin), path)
