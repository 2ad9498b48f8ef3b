"""Every figure of a measured session by runner and speed, as arrays and as a Dataset (SI)."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

from aircolumn.measured.atmosphere import title_of
from aircolumn.measured.measured_curve import mean_of_pulls

if TYPE_CHECKING:
    import xarray as xr

    from aircolumn.measured.session import Session

#: (title, SI unit, kind of quantity) of what a measured session has at each speed
COLUMNS = (
    ("torque observed", "N m", "torque"),
    ("torque corrected", "N m", "torque"),
    ("half-width of torque", "N m", "torque"),
    ("torque predicted, corrected", "N m", "torque"),
    ("correction", "1", "number"),
    ("ve measured", "1", "share"),
    ("ve predicted", "1", "share"),
    ("power corrected", "W", "power"),
    ("power predicted, corrected", "W", "power"),
    ("air-fuel ratio", "1", "number"),
    ("pressure", "Pa", "pressure"),
    ("temperature", "K", "temperature"),
    ("humidity", "1", "share"),
    ("between readings", "1", "number"),
)


def pull_rows(s: Session) -> dict[str, np.ndarray]:
    """{runner: array (speeds, 1 + COLUMNS)} of speed (rev/min) and every figure, SI."""
    rows = {}
    for name, o in s.overlays.items():
        c = o.curve
        ratio = mean_of_pulls(c.readings.get("air_fuel_ratio", np.full((1, len(c.rpm)), np.nan)))
        omega = c.rpm * np.pi / 30.0
        columns = [
            c.rpm,
            mean_of_pulls(c.observed),
            o.torque,
            o.torque_half_width,
            o.torque_predicted,
            o.correction,
            o.ve,
            o.ve_predicted,
            o.torque * omega,
            o.torque_predicted * omega,
            ratio,
            *(np.mean(v, axis=0) for v in (c.air.pressure, c.air.temperature, c.air.humidity)),
            c.between,
        ]
        rows[name] = np.array(columns, dtype=float).T
    return rows


def pull_dataset(s: Session) -> xr.Dataset:
    """A measured session as an xarray Dataset with dimensions runner and rpm; NaN where a runner
    has none."""
    import xarray as xr

    parts = []
    for name, rows in pull_rows(s).items():
        data = xr.Dataset(coords={"rpm": ("rpm", rows[:, 0], {"units": "rev/min"})})
        for (title, unit, _), values in zip(COLUMNS, rows.T[1:], strict=True):
            key = title.replace(", ", "_").replace(" ", "_").replace("-", "_")
            data[key] = ("rpm", values, {"units": unit, "long_name": title})
        parts.append(data.expand_dims(runner=[name]))
    data = xr.concat(parts, "runner", join="outer")
    data.attrs = {"title": s.description.engine.title, "standard": title_of(s.standard)}
    return data
