"""Tables and labelled data as files."""

from __future__ import annotations

import csv
from collections.abc import Sequence
from pathlib import Path
from typing import TYPE_CHECKING, Any

import numpy as np

from aircolumn.errors import printable

if TYPE_CHECKING:
    import xarray as xr


def digits(value: Any, count: int = 10) -> str:
    """A number as text, never minus zero; nothing where it is not known."""
    return "" if np.isnan(value) else f"{value + 0.0:.{count}g}"


def harmless(cell: int | str) -> int | str:
    """A cell that a spreadsheet takes for text, not for a formula; without control characters."""
    if not isinstance(cell, str):
        return cell
    text = printable(cell)
    if text[:1] in ("=", "@", "+", "-") and not _is_number(text):
        return f"'{text}"
    return text


def _is_number(text: str) -> bool:
    try:
        float(text)
    except ValueError:
        return False
    return True


def write_rows(path: Path, headings: Sequence[str], rows: Any) -> None:
    """A CSV file; numbers to ten digits."""
    with open(path, "w", newline="", encoding="utf-8") as file:
        table = csv.writer(file, lineterminator="\n")
        table.writerow(map(harmless, headings))
        for row in rows:
            table.writerow([digits(v) if isinstance(v, (float, np.floating)) else harmless(v) for v in row])


def write_netcdf(data: xr.Dataset, path: Path) -> None:
    """The Dataset as NetCDF (version 3, readable by every tool). What cannot be printed of a file's
    name, such as bytes that are no text, is written as its code."""
    texts = {k: printable(v) if isinstance(v, str) else v for k, v in data.attrs.items()}
    data.assign_attrs(texts).to_netcdf(path, engine="scipy")
