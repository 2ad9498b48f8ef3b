"""The control unit's table as files: in the form of the tuned one, and every cell with all that is known of
it."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING

import numpy as np

from aircolumn.display_units import column_heading, unit
from aircolumn.output.data_files import write_rows
from aircolumn.output.fuelling.words import load_kind

if TYPE_CHECKING:
    from aircolumn.fuelling.logged import LogAsks
    from aircolumn.fuelling.session import ControlTable


def write_table(found: ControlTable, folder: Path) -> None:
    """fuelling.csv, a row a cell; with a tuned table, one of its form beside it; with pulls, what they ask,
    a row a speed; the trim of each cylinder, a row a speed."""
    tuned = found.own.table
    if tuned is not None and found.moved is not None:
        values = np.where(found.moved.changed, found.moved.values, np.nan)
        (folder / f"fuelling-{tuned.path.name}").write_bytes(tuned.written(values))
    write_rows(folder / "fuelling.csv", *_rows(found))
    if found.log is not None:
        write_rows(folder / "fuelling-pulls.csv", *_asked(found.log))
    if found.trim is not None:
        heads = ["rpm", *(f"cylinder {k + 1} [%]" for k in range(found.trim.shape[1]))]
        rows = [[float(n), *(100.0 * row).tolist()] for n, row in zip(found.at.rpm, found.trim, strict=True)]
        write_rows(folder / "fuelling-trim.csv", heads, rows)


def _asked(log: LogAsks) -> tuple[list[str], list[list]]:
    """(headings, a row a speed) of what pulls ask."""
    share, pressure = unit("share"), unit("pressure")
    columns = [
        ("manifold pressure", pressure, log.pressure),
        ("VE measured", share, log.measured),
        ("VE in the table", share, log.table),
        ("correction", share, log.correction),
        ("known to", share, np.full(len(log.rpm), log.known_to)),
    ]
    heads = ["rpm", *(column_heading(name, u) for name, u, _ in columns)]
    cells = [[float(u.of(values[k])) for _, u, values in columns] for k in range(len(log.rpm))]
    return heads, [[float(n), *row] for n, row in zip(log.rpm, cells, strict=True)]


def _rows(found: ControlTable) -> tuple[list[str], list[list]]:
    """(headings, a row a cell)."""
    at, m, metered = found.at, found.moved, found.metered
    load, angle, mass, share = unit(load_kind(at)), unit("angle"), unit("mass"), unit("share")
    pressure = unit("pressure")
    columns = [
        ("throttle angle", angle, at.angle),
        ("manifold pressure", pressure, at.figures["plenum_pressure"]),
        ("VE predicted", share, found.filling),
        ("air a cycle and cylinder", mass, found.air),
        ("residual", share, at.figures["residual"]),
    ]
    tuned = found.own.table
    if m is not None and tuned is not None:
        columns += [
            (f"VE tuned, {found.own.old}", share, tuned.values),
            (f"VE, {found.name}", share, m.values),
            ("change", share, m.ratio - 1.0),
            ("change known to", share, m.doubt.ratio),
        ]
    if metered is not None:
        columns += [("fuel a cycle and cylinder", mass, metered.fuel), ("duty", share, metered.duty)]
    heads = ["rpm", column_heading("load", load), *(column_heading(name, u) for name, u, _ in columns)]
    heads += ["lambda", *(["pulse [ms]"] if metered is not None else []), "state"]
    rows = []
    for i, rpm in enumerate(at.rpm):
        for j, one in enumerate(at.loads):
            cells = [float(u.of(values[i, j])) for _, u, values in columns]
            plain = [float(found.target[i, j])]
            plain += [] if metered is None else [1e3 * float(metered.pulse[i, j])]
            rows.append([float(rpm), float(load.of(one)), *cells, *plain, _state(found, i, j)])
    return heads, rows


def _state(found: ControlTable, i: int, j: int) -> str:
    m = found.moved
    if not found.at.reached[i, j] or (m is not None and m.beyond[i, j]):
        return "out of reach"
    if m is None:
        return "predicted"
    return "left as it is" if m.left[i, j] else "changed"
