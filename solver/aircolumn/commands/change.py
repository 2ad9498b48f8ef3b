"""``change``: two results, or engine files, side by side."""

import json
from pathlib import Path

import numpy as np

from aircolumn.commands import options
from aircolumn.commands.progress import Progress
from aircolumn.commands.results import netcdf, results
from aircolumn.curves.change import FIGURES, change, changed_keys
from aircolumn.curves.curve import compare
from aircolumn.curves.speeds import check_speeds
from aircolumn.engine.description.reader import load
from aircolumn.errors import RequestError
from aircolumn.output.replace import ORIGIN, finish_replacing


def arguments(parser):
    """BEFORE, AFTER, runner, speeds."""
    text = "engine file, or a folder with results of curve, compare or report"
    parser.add_argument("before", type=Path, metavar="BEFORE", help=text)
    parser.add_argument("file", type=Path, metavar="AFTER", help="the same, after the change")
    options.units_option(parser)
    options.runner(parser, "only this candidate")
    options.speeds(parser)
    options.folder(parser)


def run(args):
    """Compute what is not there yet, print, write."""
    files = [_engine_file(place) for place in (args.before, args.file)]
    before, after = (load(file) for file in files)
    options.choose_units(args, after)
    speeds = None if args.rpm is None else check_speeds(args.rpm)  # None: locate humps too
    sides = []
    with Progress(None) as progress:
        for place, description in ((args.before, before), (args.file, after)):
            known = args.rpm is None and place.is_dir()
            sides.append(_read(place) if known else compare(description, speeds, progress))
    data = change(*sides, after.engine.speeds, args.runner)
    keys = changed_keys(before.source.data, after.source.data)
    # slow to load
    from aircolumn.output.change import change_text, plot_change, write_change

    texts, args.file, args.kept = [change_text(data, keys)], files[1], after.source.files
    with results(args, texts) as folder:
        write_change(data, folder / "change.csv")
        netcdf(args, data, folder / "change.nc")
        plot_change(data, folder / "change")


def _engine_file(place: Path) -> Path:
    """The engine file, or its copy among results."""
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


def _read(folder: Path):
    """The curves among results."""
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
