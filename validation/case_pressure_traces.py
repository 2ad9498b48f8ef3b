"""Methods for measured cylinder pressures: loss angle, pegging by compression, statistics of cycles.

Loss angle: compression and expansion of a perfect gas that loses heat (or gas) at a steady rate around top
dead centre are integrated in small steps,

    dp = -gamma p dV/V + (gamma - 1) dQ/V + gamma p dm/m

and the peak found must lie where the thermodynamic loss angle has it (Pipitone & Beccari, Applied Thermal
Engineering 30, 2010, and texts on cylinder-pressure measurement; from memory). Pegging: a polytrope with a
wrong level gets its level back; with n wrong by 0.01 the level is off as least squares of the same two
columns have it in closed form. Cycles: standard error of the mean against scipy.stats.sem.
"""

import numpy as np
from scipy.stats import sem

from aircolumn.measured.traces.cycles import AT, Cycles
from aircolumn.measured.traces.dead_centre import loss_angle
from aircolumn.measured.traces.pegging import COMPRESSION, polytropic_level
from validation.check import Check

LOSS = "thermodynamic loss angle (from memory)"
CLEARANCE, SWEPT, GAMMA = 4e-5, 5e-4, 1.37
STEP = 0.005  # deg


def volume(angle):
    """Of a cylinder with a long rod, m3."""
    return CLEARANCE + 0.5 * SWEPT * (1.0 - np.cos(np.radians(angle)))


def motored(heat, leak):
    """Pressure over AT with J and a share of the mass lost per deg within 20 deg of the top."""
    angle = np.arange(-180.0, 180.0, STEP)
    v, change = volume(angle), np.diff(volume(angle))
    p = np.empty_like(angle)
    p[0] = 1e5
    for k in range(angle.size - 1):
        near = abs(angle[k]) < 20.0
        gained = -GAMMA * p[k] * change[k] / v[k]
        if near:
            gained += STEP * ((GAMMA - 1.0) * heat / v[k] + GAMMA * p[k] * leak)
        p[k + 1] = p[k] + gained
    order = np.argsort(angle % 720.0)
    return np.interp(AT, (angle % 720.0)[order], p[order])


def loss_checks():
    """Heat alone, gas alone, both."""
    curvature = 0.5 * SWEPT * np.radians(1.0) ** 2  # d2V/dangle2 at the top
    rows = []
    for name, heat, leak in (("heat", -0.9, 0.0), ("gas", 0.0, -4e-4), ("heat and gas", -0.6, -3e-4)):
        p = motored(heat, leak)
        due = -((GAMMA - 1.0) / GAMMA * heat / p.max() + CLEARANCE * leak) / curvature
        rows.append(Check("loss angle", f"{name} lost, deg", due, loss_angle(p), 0.03, LOSS, "absolute"))
    return rows


def pegging_checks():
    """A polytrope with a wrong level."""
    v = volume(AT)
    rows, constant = [], 1e5 * (CLEARANCE + SWEPT) ** 1.33
    for level in (-2e4, 5e3):
        found = float(polytropic_level(constant * v**-1.33 - level, v, 1.33))
        rows.append(Check("pegging", f"level {level:g} Pa", level, found, 0.01, "closed form", "absolute"))
    inside = (COMPRESSION[0] <= AT) & (COMPRESSION[1] >= AT)
    x, y = v[inside] ** -1.34, constant * v[inside] ** -1.33
    slope = np.cov(x, y, bias=True)[0, 1] / x.var()  # a straight line by least squares
    due = float(slope * x.mean() - y.mean())
    found = float(polytropic_level(constant * v**-1.33, v, 1.34))
    rows.append(Check("pegging", "exponent off by 0.01, Pa", due, found, 1e-6, "least squares of a line"))
    return rows


def statistics_checks():
    """Mean and its standard error."""
    readings = np.random.default_rng(1).normal(1e5, 500.0, (1, 30, AT.size))
    cycles = Cycles(["p"], readings, np.full(30, 3000.0))
    error = cycles.spread[0] / np.sqrt(cycles.count)
    off = float(np.abs(error - sem(readings[0], axis=0)).max())
    return [
        Check(
            "cycles",
            "standard error of the mean, largest difference, Pa",
            0.0,
            off,
            1e-9,
            "scipy",
            "absolute",
        )
    ]


def checks():
    """All of them."""
    return loss_checks() + pegging_checks() + statistics_checks()
