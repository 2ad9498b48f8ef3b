"""Every figure of a measured session by runner and speed, as rows and as a Dataset (SI)."""

import numpy as np

from aircolumn.dyno.atmosphere import STANDARDS
from aircolumn.dyno.measured_curve import mean_of


def pull_table(s):
    """(headings, rows) of every figure by runner and speed, SI."""
    headings = [
        "runner", "rpm [rev/min]", "torque observed [N m]", "torque corrected [N m]",
        "half-width [N m]", "torque predicted, corrected [N m]", "correction [1]",
        "ve measured [1]", "ve predicted [1]", "power corrected [W]",
        "power predicted, corrected [W]",
        "air-fuel ratio [1]", "pressure [Pa]", "temperature [K]", "humidity [1]",
    ]  # fmt: skip
    rows = []
    for name, o in s.overlays.items():
        c = o.curve
        ratio = mean_of(c.readings.get("air_fuel_ratio", np.full((1, len(c.rpm)), np.nan)))
        omega = c.rpm * np.pi / 30.0
        columns = [
            c.rpm, mean_of(c.observed), o.torque, o.torque_half_width, o.torque_predicted,
            o.correction, o.ve, o.ve_predicted, o.torque * omega, o.torque_predicted * omega, ratio,
            *(np.mean(v, axis=0) for v in (c.air.pressure, c.air.temperature, c.air.humidity)),
        ]  # fmt: skip
        rows += [[name, *values] for values in zip(*columns, strict=True)]
    return headings, rows


def dataset(s):
    """The same as an xarray Dataset with dimensions runner and rpm; NaN where a runner has none."""
    import xarray as xr

    headings, rows = pull_table(s)
    parts = []
    for name in s.overlays:
        columns = np.array([r[1:] for r in rows if r[0] == name], dtype=float).T
        data = xr.Dataset(coords={"rpm": ("rpm", columns[0], {"units": "rev/min"})})
        for heading, values in zip(headings[2:], columns[1:], strict=True):
            title, _, unit = heading.rstrip("]").rpartition(" [")
            key = title.replace(", ", "_").replace(" ", "_").replace("-", "_")
            data[key] = ("rpm", values, {"units": unit, "long_name": title})
        parts.append(data.expand_dims(runner=[name]))
    data = xr.concat(parts, "runner", join="outer")
    data.attrs = {"title": s.description.engine.title, "standard": STANDARDS[s.standard].title}
    return data
