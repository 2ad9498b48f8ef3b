"""Curves of the made-up engine, known beforehand."""

import numpy as np
import xarray as xr
from tests import made_up

SPEEDS = np.arange(1500.0, 6001.0, 500.0)
RUNNERS = {"short": 0.29, "middle": 0.43, "long": 0.65}  # m
# SAE J607 at 99 kPa, 25 degC, 40 % (water's vapour pressure at 25 degC 3169.8 Pa, IAPWS).
J607 = 29.92 * 3386.389 / (99e3 - 0.4 * 3169.8) * (537.0 / 520.0) ** 0.5


def by_hand(demo):
    """{runner: [figures at each speed]} of the demo, with the corrected ones."""
    table = {}
    for name in RUNNERS:
        points = [made_up.point(demo.with_runner(name), n).figures for n in SPEEDS]
        table[name] = [p | {f"{k}_corrected": J607 * p[k] for k in ("torque", "power")} for p in points]
    return table


def netcdf(ran, name):
    """The Dataset that a command wrote."""
    (path,) = ran[name].out.glob("*.nc")
    return xr.load_dataset(path)
