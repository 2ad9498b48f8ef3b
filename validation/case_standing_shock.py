"""A widening nozzle, from subsonic flow through a standing shock to supersonic flow.

Air at rest at P0, T0 flows through a throat into a cone and out against lower and lower pressure.
Exact quasi-one-dimensional solution: isentropic on both sides of a normal shock, whose place
follows from the stagnation pressure that the outlet needs (NACA Report 1135; closed form). The
shock is found where the computed pressure passes the mean of those before and behind it.
Everything must stay positive while the flow starts from rest.
"""

import numpy as np
from scipy.optimize import brentq

from aircolumn import GasState, Network, Shape, perfect_gas
from validation.check import Check
from validation.gas_constants import GAMMA as G
from validation.gas_constants import P0, T0, R

SHAPE = Shape([0.0, 0.1, 0.2, 0.5], [0.05, 0.05, 0.03, 0.045])
THROAT_AT, CELLS = 0.2, 100
SOURCE = "NACA Report 1135 (closed form)"
SHOCKS, SUPERSONIC = (0.85, 0.75, 0.65, 0.55), (0.40, 0.10)  # outlet over inlet pressure


def area_ratio(mach):
    """A/A*."""
    return ((2 + (G - 1) * mach**2) / (G + 1)) ** ((G + 1) / (2 * (G - 1))) / mach


def total_ratio(mach):
    """p0/p."""
    return (1 + 0.5 * (G - 1) * mach**2) ** (G / (G - 1))


def shock_totals(mach):
    """Stagnation pressure behind a normal shock over that before it."""
    a = ((G + 1) * mach**2 / ((G - 1) * mach**2 + 2)) ** (G / (G - 1))
    return a * ((G + 1) / (2 * G * mach**2 - (G - 1))) ** (1 / (G - 1))


def exact(ratio):
    """(distance of the shock, Mach number before it, Mach number at the outlet)."""
    throat, outlet = SHAPE.area(THROAT_AT), SHAPE.area(SHAPE.length)

    def total_behind(mach):  # choked: p0 A* is the same on both sides
        return brentq(lambda m: area_ratio(m) - outlet / throat * shock_totals(mach), 1e-3, 1.0)

    def off(mach):
        return shock_totals(mach) / total_ratio(total_behind(mach)) - ratio

    before = brentq(off, 1.001, 2.3)
    bore = np.sqrt(4 / np.pi * throat * area_ratio(before))
    place = np.interp(bore, SHAPE.diameter[-2:], SHAPE.distance[-2:])
    return float(place), before, total_behind(before)


def march(ratio, cells=CELLS):
    """(profile of the steady flow, lowest pressure and density on the way)."""
    net = Network(perfect_gas(G, R))
    net.reservoir("before", P0, T0)
    net.reservoir("behind", ratio * P0, T0)
    net.duct("nozzle", SHAPE, cells, GasState(pressure=ratio * P0, temperature=T0))
    net.opening("nozzle", "left", "before")
    net.opening("nozzle", "right", "behind")
    run = net.ready()
    least = [np.inf, np.inf]
    for _ in range(60):
        run.march(0.005)
        profile = run.profile("nozzle")
        least = [min(least[0], profile.p.min()), min(least[1], profile.rho.min())]
    return profile, least


def shock_place(profile, before):
    """Distance at which the pressure passes the mean of both sides of the shock."""
    p, x = profile.p, profile.x
    foot = P0 / total_ratio(before)
    level = foot * (1 + G / (G + 1) * (before**2 - 1))
    k = int(np.flatnonzero((p[:-1] < level) & (p[1:] >= level) & (x[1:] > THROAT_AT))[0])
    return float(x[k] + (x[k + 1] - x[k]) * (level - p[k]) / (p[k + 1] - p[k]))


def checks():
    """Shock within 1 % of the nozzle's length, Mach numbers and pressures within 1 %."""
    rows = []

    def add(label, reference, computed, tolerance=0.01, kind="relative"):
        rows.append(Check("standing shock", label, reference, computed, tolerance, SOURCE, kind))

    choked = 0.6847314563772704 * P0 * SHAPE.area(THROAT_AT) / np.sqrt(R * T0)
    least = np.inf
    for ratio in SHOCKS:
        place, before, outlet = exact(ratio)
        profile, lowest = march(ratio)
        least = min(least, *lowest)
        name = f"outlet at {ratio:.2f} p0"
        add(
            f"{name}: place of the shock, m",
            place,
            shock_place(profile, before),
            0.01 * SHAPE.length,
            "absolute",
        )
        mach = profile.u / profile.a
        add(f"{name}: Mach number before it", before, float(mach.max()))
        add(f"{name}: Mach number at the outlet", outlet, float(mach[-1]))
        add(f"{name}: pressure at the outlet", ratio * P0, float(profile.p[-1]))
    for ratio in SUPERSONIC:
        profile, lowest = march(ratio)
        least = min(least, *lowest)
        mach = brentq(lambda m: area_ratio(m) - SHAPE.area(0.5) / SHAPE.area(0.2), 1.0, 5.0)
        name = f"outlet at {ratio:.2f} p0, no shock"
        add(f"{name}: Mach number", mach, float(profile.u[-1] / profile.a[-1]))
        add(f"{name}: pressure", P0 / total_ratio(mach), float(profile.p[-1]))
        flow = profile.rho * profile.u * profile.area
        add(f"{name}: mass flow", choked, float(flow[-1]))
    add("lowest pressure and density on the way", 0.0, least, kind="at least")
    return rows


def draw(axes):
    """Pressure along the nozzle."""
    for ratio in (0.97, *SHOCKS, SUPERSONIC[-1]):
        profile, _ = march(ratio)
        axes.plot(profile.x, profile.p / P0, lw=1.2, label=f"outlet at {ratio:.2f} p0")
        if ratio in SHOCKS:
            axes.axvline(exact(ratio)[0], color="#999999", lw=0.8, ls=":")
    axes.set(xlabel="distance, m", ylabel="p / p0", title="Standing shock (dotted: exact place)")
    axes.legend(fontsize=8)
