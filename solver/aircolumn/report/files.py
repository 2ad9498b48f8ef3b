"""Files of results: which folder they go to and whether it may take them, tables, NetCDF."""

import csv
import json
import re
import tempfile
from collections.abc import Iterable
from pathlib import Path

import numpy as np

from aircolumn.description.text_file import AsRead
from aircolumn.errors import RequestError, printable
from aircolumn.report.replace import ORIGIN, finish_replacing
from aircolumn.shown import headed, unit, unit_of

STORE = "points.sqlite"  # what a study keeps beside its results, before there are any


def folder_of(file: Path, command: str) -> Path:
    """Where the results of a command on a file go unless said."""
    return Path(f"{file.stem}-{command}")


def check_writable(path):
    """Raise RequestError if ``path`` cannot be made or filled as a folder: tried, not guessed."""
    path = Path(path)
    if path.is_symlink() and not path.exists():
        raise RequestError(f"--out {path} is a link to something that is not there")
    try:
        there = next(p for p in (path.absolute(), *path.absolute().parents) if p.exists())
        if not there.is_dir():
            raise RequestError(f"--out {path}: {there} is a file, not a folder")
        with tempfile.TemporaryFile(dir=there):
            pass
    except OSError as error:
        raise RequestError(f"--out {path} cannot be written: {error.strerror}") from None


#: what files of results are called
_OURS = re.compile(
    r"(account|change|compare|curve|explain|failed|layout|map|omitted|pull|report|study|trace)\b.*"
    r"|.*-(area\.csv|fitted\.yaml)"
)


def check_belongs(path, origin: dict, origin_file: Path):
    """Raise RequestError if the folder ``path`` belongs to another command or file, or has files
    that may be the user's own and would be overwritten. origin_file: what the results are of."""
    path = Path(path)
    finish_replacing(path)
    known = path / ORIGIN
    if known.is_file():
        check_same(path, origin)
        return
    names = sorted(p.name for p in path.iterdir()) if path.is_dir() else []
    like_ours = [n for n in names if _OURS.fullmatch(n) or (n == origin["file"]
                 and (path / n).absolute() != origin_file.absolute())]  # fmt: skip
    if like_ours:
        raise RequestError(
            f"--out {path} has {', '.join(like_ours[:3])}{', ...' if like_ours[3:] else ''}"
            " already, and does not say what they are results of; choose a folder that is empty or"
            " not there"
        )


def check_same(path, origin: dict):
    """Raise RequestError if the folder ``path`` holds results of another command or file."""
    known = Path(path) / ORIGIN
    if not known.is_file():
        return
    try:
        there = json.loads(known.read_text(encoding="utf-8"))
        of = there["command"].split()[1], there["file"], there.get("from", origin["from"])
    except (OSError, ValueError, KeyError, IndexError, AttributeError, RecursionError):
        raise RequestError(
            f"{known} is damaged; choose another --out, or move {path} away"
        ) from None
    if of != (origin["command"].split()[1], origin["file"], origin["from"]):
        raise RequestError(
            f"--out {path} holds results of aircolumn {of[0]} on {of[1]}"
            f"{'' if of[2] == origin['from'] else f' (of {of[2]})'}; choose another --out"
        )


def write_origin(origin: dict, files: Iterable[AsRead], out: Path, folder: Path):
    """Where results come from (command, version, date) and the files they are of, as they were
    read: whatever has become of them since, these are what was computed."""
    (folder / ORIGIN).write_text(json.dumps(origin, indent=1) + "\n", encoding="utf-8")
    for file in files:
        path = folder / file.path.name
        if (out / file.path.name).absolute() != file.path.absolute() and not path.exists():
            path.write_bytes(file.raw)


def digits(value, count: int = 10) -> str:
    """A number as text, never minus zero; nothing where it is not known."""
    return "" if np.isnan(value) else f"{value + 0.0:.{count}g}"


def harmless(cell):
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


def write_rows(path, headings, rows):
    """A CSV file; numbers to ten digits."""
    with open(path, "w", newline="", encoding="utf-8") as file:
        table = csv.writer(file, lineterminator="\n")
        table.writerow(map(harmless, headings))
        for row in rows:
            table.writerow([digits(v) if isinstance(v, (float, np.floating)) else harmless(v)
                            for v in row])  # fmt: skip


def write_csv(data, path):
    """Figures of a Dataset as CSV, one row a point, in the units that are shown."""
    names = [n for n in data.data_vars
             if set(data[n].dims) <= {"runner", "rpm"} and n != "failure"]  # fmt: skip
    units = {n: unit_of(n, data[n].attrs["units"]) for n in names}
    frame = {headed(n, u): u.of(data[n].values.ravel()) for n, u in units.items()}
    if data.sizes["cylinder"] > 1:
        for k in data.cylinder.values:
            own = data.ve_cylinder.sel(cylinder=k).values.ravel()
            frame[headed(f"ve of cylinder {k}", unit("share"))] = unit("share").of(own)
    runners = [str(r) for r in data.runner.values] if "runner" in data.dims else [""]
    points = [(name, f"{rpm:.10g}") for name in runners for rpm in data.rpm.values]
    frame = {name: [digits(v) for v in values] for name, values in frame.items()}
    if "failure" in data:
        frame["failure"] = data.failure.values.ravel()
    rows = zip(points, zip(*frame.values(), strict=True), strict=True)
    write_rows(path, ["runner", "rpm", *frame], [[*p, *values] for p, values in rows])


def write_switched(manifolds, path):
    """What switchable manifolds give as CSV, one row a speed."""
    torque, ve = unit("torque"), unit("share")
    headings = ["manifold", "rpm", "runner in use", headed("torque", torque), headed("ve", ve)]
    write_rows(path, headings, (
        [m.name, f"{rpm:.10g}", runner, float(torque.of(t)), float(ve.of(v))] for m in manifolds
        for rpm, runner, t, v in zip(m.rpm, m.runner, m.torque, m.ve, strict=True)
    ))  # fmt: skip


def write_account(data, path):
    """The filling account as CSV: one row a speed, one column an entry, in points of VE."""
    points = unit("share")
    headings = [f"{entry} [points of VE]" for entry in data.entry.values]
    swings = [f"swing of {heading}" for heading in headings]
    rows = zip(data.rpm.values, data.account.values.T, data.swing.values.T, data.ve.values,
               strict=True)  # fmt: skip
    write_rows(path, ["rpm", headed("ve", points), *headings, *swings], (
        [f"{rpm:.10g}", digits(points.of(ve)), *(digits(points.of(v), 6) for v in (*own, *swing))]
        for rpm, own, swing, ve in rows
    ))  # fmt: skip


def write_series(data, path):
    """What a trace has against crank angle as CSV, runner and port at the valve."""
    at_valve = data.isel(distance=-1)
    columns = {"angle [deg]": data.angle.values}
    for name in data.data_vars:
        place = " at the valve" if "distance" in data[name].dims else ""
        shown = unit_of(name, data[name].attrs["units"])
        columns[headed(name + place, shown)] = shown.of(at_valve[name].values)
    rows = zip(*columns.values(), strict=True)
    write_rows(path, list(columns), ([digits(v, 8) for v in row] for row in rows))


def write_map(data, path):
    """A tuning map as CSV: one row a length or bore; VE at each speed, then ridge and rules."""
    vary = data.attrs["vary"]
    size, ve = unit("length"), unit("share")
    headings = [
        headed(vary, size),
        *(headed(f"ve at {rpm:.10g} rpm", ve) for rpm in data.rpm.values),
        "ridge [rpm]",
        *(f"neck and volume K {k:g} [rpm]" for k in data.k.values),
        *(f"quarter wave order {q} [rpm]" for q in data.order.values),
    ]
    rows = []
    for i, value in enumerate(data[vary].values):
        one = data.isel({vary: i})
        values = [size.of(value), *ve.of(one.ve.values), float(one.ridge),
                  *one.neck_and_volume.values, *one.quarter_wave.values]  # fmt: skip
        rows.append([digits(v, 8) for v in values])
    write_rows(path, headings, rows)


def write_netcdf(data, path):
    """The Dataset as NetCDF (version 3, readable by every tool). What cannot be printed of a file's
    name, such as bytes that are no text, is written as its code."""
    said = {k: printable(v) if isinstance(v, str) else v for k, v in data.attrs.items()}
    data.assign_attrs(said).to_netcdf(path, engine="scipy")
