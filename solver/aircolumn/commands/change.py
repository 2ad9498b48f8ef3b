"""``change``: two results, or engine files, side by side."""

from __future__ import annotations

import json
from dataclasses import dataclass
from functools import partial
from pathlib import Path
from typing import TYPE_CHECKING

import numpy as np

from aircolumn.commands import options
from aircolumn.commands.datasets import netcdf
from aircolumn.commands.options import option, positional
from aircolumn.commands.results import Answer, Origin
from aircolumn.curves.change import FIGURES, change, changed_input
from aircolumn.curves.curve import compare
from aircolumn.engine.description.given import check_speeds
from aircolumn.engine.description.reader import load
from aircolumn.errors import RequestError
from aircolumn.output.change.text import change_text, write_change
from aircolumn.output.plain import LabelledTable
from aircolumn.output.replace import ORIGIN, finish_replacing

if TYPE_CHECKING:
    import xarray as xr


@dataclass(frozen=True)
class _Before(options.Arguments):
    before: Path = positional(
        type=Path,
        metavar="BEFORE",
        help="engine file, or a folder with results of curve, compare or report",
    )


@dataclass(frozen=True)
class Request(options.GivenSpeeds, options.Keeps, options.OneRunner, _Before):
    """What ``change`` is asked."""

    file: Path = positional(type=Path, metavar="AFTER", help="the same, after the change")
    runner: str | None = option(help="only this candidate")


def run(request: Request) -> Answer[LabelledTable]:
    """Before and after; what is not among results is computed."""
    places = request.before, request.file
    before, after = (load(_engine_file(place)) for place in places)
    request.choose_units(after)
    speeds = None if request.rpm is None else check_speeds(request.rpm)  # None: locate humps too
    sides = []
    with request.progress() as progress:
        for place, description in zip(places, (before, after), strict=True):
            known = request.rpm is None and place.is_dir()
            sides.append(_read(place) if known else compare(description, speeds, progress))
    data = change(sides[0], sides[1], after.engine.speeds, request.runner)
    text = change_text(data, changed_input(before.source, after.source))

    def write(folder: Path, origin: Origin) -> None:
        from aircolumn.output.change.pictures import plot_change  # slow to load

        write_change(data, folder / "change.csv")
        netcdf(data, folder / "change.nc", origin)
        plot_change(data, folder / "change")

    return Answer([text], write, after.source.files, result=partial(LabelledTable.of, data))


def _engine_file(place: Path) -> Path:
    """The engine file, or its copy among results. Raises RequestError."""
    if not place.is_dir():
        return place
    finish_replacing(place)
    origin = place / ORIGIN
    if not origin.is_file():
        raise RequestError(f"{place} has no {ORIGIN}: it is not a folder of results")
    try:
        return place / Path(json.loads(origin.read_text(encoding="utf-8"))["file"]).name
    except (OSError, ValueError, KeyError, TypeError, RecursionError):
        raise RequestError(f"{origin} is damaged") from None


def _read(folder: Path) -> xr.Dataset:
    """The curves among results. Raises RequestError."""
    import xarray as xr

    found = [p for name in ("compare", "report", "curve*") for p in sorted(folder.glob(f"{name}.nc"))]
    if not found:
        raise RequestError(f"{folder} holds no curves; run curve, compare or report first")
    if len(found) > 1:
        several = ", ".join(path.name for path in found)
        raise RequestError(f"{folder} holds several curves ({several}); keep one of them there")
    try:
        if not found[0].is_file():
            raise OSError("no file")
        data = xr.load_dataset(found[0], engine="scipy")
        if data.rpm.size == 0 or np.any(np.diff(data.rpm) <= 0.0):
            raise ValueError("speeds")
        return data[[*FIGURES, *(n for n in ("asked", "own") if n in data)]]
    except Exception:  # what a damaged file leads to depends on where it is damaged
        raise RequestError(f"{found[0]} is damaged, or holds no curves") from None
