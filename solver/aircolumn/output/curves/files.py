"""Curves as CSV files."""

from __future__ import annotations

from collections.abc import Sequence
from pathlib import Path
from typing import TYPE_CHECKING

from aircolumn.display_units import column_heading, unit, unit_of
from aircolumn.output.data_files import digits, write_rows

if TYPE_CHECKING:
    import xarray as xr

    from aircolumn.curves.switchable import Switched


def write_csv(data: xr.Dataset, path: Path) -> None:
    """Figures of a Dataset as CSV, one row a point, in the units that are shown."""
    names = [n for n in data.data_vars if set(data[n].dims) <= {"runner", "rpm"} and n != "failure"]
    units = {n: unit_of(n, data[n].attrs["units"]) for n in names}
    frame = {column_heading(n, u): u.of(data[n].values.ravel()) for n, u in units.items()}
    if data.sizes["cylinder"] > 1:
        for k in data.cylinder.values:
            own = data.ve_cylinder.sel(cylinder=k).values.ravel()
            frame[column_heading(f"ve of cylinder {k}", unit("share"))] = unit("share").of(own)
    runners = [str(r) for r in data.runner.values] if "runner" in data.dims else [""]
    points = [(name, f"{rpm:.10g}") for name in runners for rpm in data.rpm.values]
    frame = {name: [digits(v) for v in values] for name, values in frame.items()}
    if "failure" in data:
        frame["failure"] = data.failure.values.ravel()
    rows = zip(points, zip(*frame.values(), strict=True), strict=True)
    write_rows(path, ["runner", "rpm", *frame], [[*p, *values] for p, values in rows])


def write_switched(manifolds: Sequence[Switched], path: Path) -> None:
    """What switchable manifolds give as CSV, one row a speed."""
    torque, ve = unit("torque"), unit("share")
    headings = [
        "manifold",
        "rpm",
        "runner in use",
        column_heading("torque", torque),
        column_heading("ve", ve),
    ]
    write_rows(
        path,
        headings,
        (
            [m.name, f"{rpm:.10g}", runner, float(torque.of(t)), float(ve.of(v))]
            for m in manifolds
            for rpm, runner, t, v in zip(m.rpm, m.runner, m.torque, m.ve, strict=True)
        ),
    )
