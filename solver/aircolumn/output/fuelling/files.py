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
    from aircolumn.fuelling.session import ControlTable


def write_table(found: ControlTable, folder: Path) -> None:
    """fuelling.csv, a row a cell; with a tuned table, one of its form beside it."""
    if found.tuned is not None and found.moved is not None:
        tuned = found.tuned
        values = np.where(found.moved.changed, found.moved.values, np.nan)
        (folder / f"fuelling-{tuned.path.name}").write_bytes(tuned.written(values))
    write_rows(folder / "fuelling.csv", *_rows(found))


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
    if m is not None and found.tuned is not None:
        columns += [
            (f"VE tuned, {found.old}", share, found.tuned.values),
            (f"VE, {found.name}", share, m.values),
            ("change", share, m.ratio - 1.0),
            ("change known to", share, m.doubt.ratio),
        ]
    if metered is not None:
        columns += [("fuel a cycle and cylinder", mass, metered.fuel), ("duty", share, metered.duty)]
    heads = ["rpm", column_heading("load", load), *(column_heading(name, u) for name, u, _ in columns)]
    heads += ["pulse [ms]"] * (metered is not None) + ["state"]
    rows = []
    for i, rpm in enumerate(at.rpm):
        for j, one in enumerate(at.loads):
            cells = [float(u.of(values[i, j])) for _, u, values in columns]
            pulse = [] if metered is None else [1e3 * float(metered.pulse[i, j])]
            rows.append([float(rpm), float(load.of(one)), *cells, *pulse, _state(found, i, j)])
    return heads, rows


def _state(found: ControlTable, i: int, j: int) -> str:
    m = found.moved
    if not found.at.reached[i, j] or (m is not None and m.beyond[i, j]):
        return "out of reach"
    if m is None:
        return "predicted"
    return "left as it is" if m.left[i, j] else "changed"
