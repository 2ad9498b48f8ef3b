"""Results to a folder: all files appear together, or none does."""

import csv
import json
import os
import shutil
import tempfile
from contextlib import contextmanager
from pathlib import Path

import numpy as np

from aircolumn.errors import RequestError


@contextmanager
def result_folder(path):
    """Yield a scratch folder whose files are moved into ``path`` when the block succeeds.

    Files already there with other names stay. Raises RequestError if ``path`` cannot be a folder.
    """
    path = Path(path)
    try:
        if path.exists() and not path.is_dir():
            raise RequestError(f"--out {path} is a file; a folder is expected")
        path.parent.mkdir(parents=True, exist_ok=True)
        scratch = Path(tempfile.mkdtemp(prefix=".aircolumn-", dir=path.parent))
    except OSError as error:
        raise RequestError(f"--out {path} cannot be written: {error.strerror}") from None
    try:
        yield scratch
        path.mkdir(exist_ok=True)
        for item in sorted(scratch.iterdir()):
            item.replace(path / item.name)
    finally:
        shutil.rmtree(scratch, ignore_errors=True)


def check_writable(path):
    """Raise RequestError if ``path`` cannot be made or filled as a folder."""
    path = Path(path)
    there = next(p for p in (path.absolute(), *path.absolute().parents) if p.exists())
    if not there.is_dir():
        raise RequestError(f"--out {path}: {there} is a file, not a folder")
    if not os.access(there, os.W_OK | os.X_OK):
        raise RequestError(f"--out {path} cannot be written: no permission in {there}")


def write_origin(origin: dict, file: Path, out: Path, folder: Path):
    """Where results come from (command, version, date) and a copy of the file they are of."""
    (folder / "origin.json").write_text(json.dumps(origin, indent=1) + "\n")
    if (out / file.name).absolute() != file.absolute():
        shutil.copyfile(file, folder / file.name)


def digits(value, count: int = 10) -> str:
    """A number as text; nothing where it is not known."""
    return "" if np.isnan(value) else f"{value:.{count}g}"


def write_rows(path, headings, rows):
    """A CSV file; numbers to ten digits."""
    with open(path, "w", newline="") as file:
        table = csv.writer(file, lineterminator="\n")
        table.writerow(headings)
        for row in rows:
            table.writerow([digits(v) if isinstance(v, (float, np.floating)) else v for v in row])


def write_csv(data, path):
    """Figures of a Dataset as CSV, one row a point, units in the headings (SI)."""
    names = [n for n in data.data_vars
             if set(data[n].dims) <= {"runner", "rpm"} and n != "failure"]  # fmt: skip
    frame = {f"{n} [{data[n].attrs['units']}]": data[n].values.ravel() for n in names}
    if data.sizes["cylinder"] > 1:
        for k in data.cylinder.values:
            frame[f"ve of cylinder {k} [1]"] = data.ve_cylinder.sel(cylinder=k).values.ravel()
    runners = [str(r) for r in data.runner.values] if "runner" in data.dims else [""]
    points = [(name, f"{rpm:.10g}") for name in runners for rpm in data.rpm.values]
    frame = {name: [digits(v) for v in values] for name, values in frame.items()}
    if "failure" in data:
        frame["failure"] = data.failure.values.ravel()
    rows = zip(points, zip(*frame.values(), strict=True), strict=True)
    write_rows(path, ["runner", "rpm [rev/min]", *frame], [[*p, *values] for p, values in rows])


def write_switched(manifolds, path):
    """What switchable manifolds give as CSV, one row a speed."""
    headings = ["manifold", "rpm [rev/min]", "runner in use", "torque [N m]", "ve [1]"]
    write_rows(path, headings, (
        [m.name, f"{rpm:.10g}", runner, float(torque), float(ve)] for m in manifolds
        for rpm, runner, torque, ve in zip(m.rpm, m.runner, m.torque, m.ve, strict=True)
    ))  # fmt: skip


def write_account(data, path):
    """The filling account as CSV: one row an entry, one column a speed, in points of VE."""
    rows = [
        [entry, *(digits(100 * v, 6) for v in values)]
        for entry, values in zip(data.entry.values, data.account.values, strict=True)
    ]
    rows.append(["VE", *(digits(100 * v) for v in data.ve.values)])
    write_rows(path, ["points of VE", *(f"{rpm:.10g} rpm" for rpm in data.rpm.values)], rows)


def write_series(data, path):
    """What a trace has against crank angle as CSV, runner and port at the valve."""
    at_valve = data.isel(distance=-1)
    columns = {"angle [deg]": data.angle.values}
    for name in data.data_vars:
        place = " at the valve" if "distance" in data[name].dims else ""
        columns[f"{name}{place} [{data[name].attrs['units']}]"] = at_valve[name].values
    rows = zip(*columns.values(), strict=True)
    write_rows(path, list(columns), ([f"{v:.8g}" for v in row] for row in rows))


def write_map(data, path):
    """A tuning map as CSV: one row a length or bore; VE at each speed, then ridge and rules."""
    vary = data.attrs["vary"]
    headings = [
        f"{vary} [m]",
        *(f"VE at {rpm:.10g} rpm" for rpm in data.rpm.values),
        "ridge [rev/min]",
        *(f"neck and volume K {k:g} [rev/min]" for k in data.k.values),
        *(f"quarter wave order {q} [rev/min]" for q in data.order.values),
    ]
    rows = []
    for i, value in enumerate(data[vary].values):
        one = data.isel({vary: i})
        values = [value, *one.ve.values, float(one.ridge),
                  *one.neck_and_volume.values, *one.quarter_wave.values]  # fmt: skip
        rows.append([digits(v, 8) for v in values])
    write_rows(path, headings, rows)


def write_netcdf(data, path):
    """The Dataset as NetCDF (version 3, readable by every tool)."""
    data.to_netcdf(path, engine="scipy")
