"""Made-up pulls of the made-up engine: three of each manifold that differ by a known share, with
hidden values that the fit must find. What the commands make of them is known beforehand."""

import re

import numpy as np
import pytest
from scipy.stats import t as student
from tests import made_up

from aircolumn.measured.calibration import with_values

SPEEDS = np.arange(2000.0, 4501.0, 250.0)
GAINS = np.array([0.998, 1.0, 1.002])  # of the pulls: standard deviation 0.2 %
HIDDEN = {"discharge": 0.95, "fmep": 0.12e5, "cam": 2.0}
VOLUME = np.pi / 4 * 0.089**2 * 0.1 * 4
AIR = {"long": (98.0e3, 301.15, 0.35), "short": (98.3e3, 302.15, 0.35)}  # Pa, K, share
AFR = {"long": 13.0 + 0.02 * np.arange(3), "short": 13.3 + 0.02 * np.arange(3)}
SPARK = {"long": 24.0 + 0.1 * np.arange(3), "short": 24.5 + 0.1 * np.arange(3)}
RATE = {"long": (299.0, 300.0, 301.0), "short": (299.0, 300.0, 301.0)}  # rpm/s
VAPOUR = {301.15: 3782.0, 302.15: 4008.0}  # saturation, Pa (IAPWS: 28 and 29 degC)


def dry(name):
    p, t, h = AIR[name]
    return p - h * VAPOUR[t]


def density(name):
    _p, t, h = AIR[name]
    return dry(name) / (287.055 * t) + h * VAPOUR[t] / (461.52 * t)


def j1349(name):
    return 1.18 * (99e3 / dry(name)) * ((AIR[name][1] - 0.15) / 298.0) ** 0.5 - 0.18


def in_its_air(engine, name):
    pressure, temperature, humidity = AIR[name]
    air = engine.intake.ambient.changed(pressure=pressure, temperature=temperature, humidity=humidity)
    mixture = engine.mixture.changed(air_fuel_ratio=float(AFR[name].mean()))
    return engine.with_intake(ambient=air).changed(mixture=mixture)


def figures(engine, name, figure):
    """A figure of the made-up engine in the air of a manifold's pulls, at every speed."""
    return np.array([made_up.point(in_its_air(engine, name), n).figures[figure] for n in SPEEDS])


def write(folder, demo, name, drop=()):
    """A logger's file of three pulls, its hidden values in; one torque and one oil reading bad."""
    engine = with_values(demo.with_runner(name), HIDDEN)
    torque, air = (figures(engine, name, f) for f in ("torque", "air_flow"))
    pressure, temperature, humidity = AIR[name]
    columns = {
        "pull": lambda k: np.full(SPEEDS.size, k + 1.0),
        "time [s]": lambda k: (SPEEDS - SPEEDS[0]) / RATE[name][k],
        "rpm": lambda k: SPEEDS,
        "torque [N m]": lambda k: torque * GAINS[k],
        "air flow [kg/h]": lambda k: 3600.0 * air * GAINS[k] ** 2,
        "AFR": lambda k: np.full(SPEEDS.size, AFR[name][k]),
        "spark [deg]": lambda k: np.full(SPEEDS.size, SPARK[name][k]),
        "coolant [degC]": lambda k: np.full(SPEEDS.size, 88.0 + k),
        "oil [degC]": lambda k: np.full(SPEEDS.size, 104.0 + 3.0 * k),
        "inlet air [degC]": lambda k: np.full(SPEEDS.size, temperature - 273.15),
        "barometer [kPa]": lambda k: np.full(SPEEDS.size, 1e-3 * pressure),
        "humidity [%]": lambda k: np.full(SPEEDS.size, 100.0 * humidity),
        "gear": lambda k: np.full(SPEEDS.size, 4.0),
    }
    kept = {h: c for h, c in columns.items() if h not in drop}
    lines = ["# made up\n", ",".join(kept) + "\n"]
    for k in range(3):
        for row in zip(*(c(k) for c in kept.values()), strict=True):
            lines.append(",".join(f"{v:.12g}" for v in row) + "\n")
    spoiled = lines[-1].split(",")
    lines.append(",".join([*spoiled[:3], "???", *spoiled[4:]]))
    path = folder / f"{name}.csv"
    path.write_text("".join(lines))
    return path


def section(ran, start):
    """The printed report from the line that begins with ``start``."""
    return ran.said[re.search(f"^{re.escape(start)}", ran.said, re.MULTILINE).start() :]


def near(cells, values, within):
    """Printed numbers and their hand calculation, to the last digit printed."""
    assert [float(c) for c in cells] == pytest.approx(list(values), abs=within)


def by_hand(demo):
    """Hand calculation: {runner: {figure: values at each speed}}."""
    table = {}
    for name in AIR:
        true, plain = with_values(demo.with_runner(name), HIDDEN), demo.with_runner(name)
        observed = figures(true, name, "torque")
        air = figures(true, name, "air_flow") * np.mean(GAINS**2)
        ratio = j1349(name)
        table[name] = {
            "observed": observed,
            "corrected": observed * ratio,
            "correction": ratio,
            "half": student.ppf(0.975, 2) * 0.002 / 3**0.5 * observed * ratio,
            "predicted": figures(plain, name, "torque") * ratio,
            "ve": air / (VOLUME * SPEEDS / 120.0 * density(name)),
            "ve_predicted": figures(plain, name, "ve_delivered"),
            "tuned": figures(true, name, "torque") * ratio,
            "ve_tuned": figures(true, name, "ve_delivered"),
        }
    return table
