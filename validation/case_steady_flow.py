"""Steady duct flow against the gas tables: isentropic cone, Fanno, Rayleigh.

Isentropic: NACA Report 1135 (1953), tables (closed form): p/p0 and A/A* at M 0.3, 0.5, 0.8.
Fanno and Rayleigh: Shapiro, The Dynamics and Thermodynamics of Compressible Fluid Flow, vol. 1
(closed form). Friction varies with Reynolds number here, so 4 f L*/D is compared by integrating
the solver's own 4 f / D between two stations; in Rayleigh flow T0 / T0*(M) must be the same at all
stations. All within 0.1 % in Mach number or pressure.
"""

import numpy as np
from scipy.optimize import brentq

from aircolumn import GasState, Network, Wall, perfect_gas, straight
from aircolumn.flow.duct.walls import fanning, rough_term
from aircolumn.flow.gas.kernels import viscosity
from validation.check import Check
from validation.gas_constants import GAMMA, P0, T0, R

SHAPIRO = "Shapiro vol. 1 (closed form)"
NACA = "NACA Report 1135 (closed form)"


def stagnation_ratio(m):
    """T0 / T."""
    return 1 + 0.5 * (GAMMA - 1) * m**2


def area_ratio(m):
    """A / A*."""
    power = (GAMMA + 1) / (2 * (GAMMA - 1))
    return (2 / (GAMMA + 1) * stagnation_ratio(m)) ** power / m


def fanno(m):
    """4 f L* / D."""
    top = (GAMMA + 1) * m**2 / (2 * stagnation_ratio(m))
    return (1 - m**2) / (GAMMA * m**2) + (GAMMA + 1) / (2 * GAMMA) * np.log(top)


def rayleigh(m):
    """T0 / T0*."""
    return 2 * (GAMMA + 1) * m**2 * stagnation_ratio(m) / (1 + GAMMA * m**2) ** 2


def steady(shape, cells, back, time, wall=None):
    """(Steady profile between a reservoir at (P0, T0) and one at ``back`` Pa, its Mach number)."""
    net = Network(perfect_gas(GAMMA, R))
    net.reservoir("before", P0, T0)
    net.reservoir("after", back, T0)
    state = GasState(pressure=0.5 * (P0 + back), temperature=T0, velocity=50.0)
    net.duct("pipe", shape, cells, state, wall or Wall())
    net.opening("pipe", "left", "before")
    net.opening("pipe", "right", "after")
    run = net.ready()
    run.march(time)
    prof = run.profile("pipe")
    return prof, prof.u / prof.a


def isentropic_checks():
    """A converging cone from M 0.26 to about 0.85."""
    shape = straight(0.3, 0.060, 0.040)
    prof, mach = steady(shape, 120, P0 * stagnation_ratio(0.85) ** (-GAMMA / (GAMMA - 1)), 0.15)
    mass = prof.rho * prof.u * shape.area(prof.x)
    sonic = P0 / np.sqrt(R * T0) * 0.684731  # choked flow per area
    throat = mass.mean() / sonic
    rows = []
    for m, pressure, area in (
        (0.3, 0.93947, 2.03507),
        (0.5, 0.84302, 1.33984),
        (0.8, 0.65602, 1.03823),
    ):
        x = np.interp(m, mach, prof.x)
        got = np.interp(x, prof.x, prof.p) / P0
        rows.append(Check("isentropic cone", f"p/p0 at M {m}", pressure, got, 0.001, NACA))
        found = brentq(lambda k, x=x: area_ratio(k) - float(shape.area(x)) / throat, 0.05, 1.0)
        rows.append(Check("isentropic cone", f"M where A/A* is {area}", found, m, 0.001, NACA))
        rows.append(Check("isentropic cone", f"A/A*({m}) itself", area, area_ratio(m), 5e-6, NACA))
    spread = np.ptp(mass) / mass.mean()
    rows.append(Check("isentropic cone", "mass flow spread", 0.001, spread, 0, NACA, "at most"))
    return rows


def along_fanno(case, duct, x, mach, rate, stretches, source):
    """Mach numbers after stretches (first, last place) of a duct with 4 f / D = ``rate`` along it."""
    rows = []
    for start, stop in stretches:
        left = fanno(mach[start]) - np.trapezoid(rate[start : stop + 1], x[start : stop + 1])
        exact = brentq(lambda m, left=left: fanno(m) - left, 0.05, 0.999)
        label = f"{duct}M after {x[stop] - x[start]:.2f} m from M {mach[start]:.2f}"
        rows.append(Check(case, label, exact, mach[stop], 0.001, source))
    return rows


def fanno_checks():
    """A rough pipe of 30 diameters, choking nearly reached."""
    bore, rough = 0.02, 1e-4
    prof, mach = steady(straight(0.6, bore), 120, 0.6 * P0, 0.15, Wall(friction=1.0, roughness=rough))
    inverse = [viscosity(t) / (abs(q) * bore) for t, q in zip(prof.T, prof.rho * prof.u, strict=True)]
    rate = np.array([4 * fanning(i, rough_term(rough / bore)) / bore for i in inverse])
    rows = along_fanno("Fanno flow", "", prof.x, mach, rate, ((10, 60), (60, 118), (10, 118)), SHAPIRO)
    for m, digits in ((0.2, 14.53327), (0.3, 5.29925), (0.5, 1.06906), (0.7, 0.20814)):
        rows.append(Check("Fanno flow", f"4fL*/D({m}) itself", digits, fanno(m), 3e-5, SHAPIRO))
    return rows


def rayleigh_checks():
    """Wall heat without friction, strong enough to pass a wide range of Mach numbers."""
    prof, mach = steady(straight(0.6, 0.03), 120, 0.62 * P0, 0.3, Wall(heat=8.0, temperature=900.0))
    star = prof.T * stagnation_ratio(mach) / rayleigh(mach)
    rows = []
    reference = float(star[60])
    for k in (6, 30, 90, 114):
        ratio = prof.T[k] * stagnation_ratio(mach[k]) / reference
        exact = brentq(lambda m, ratio=ratio: rayleigh(m) - ratio, 0.02, 0.999)
        label = f"M where T0/T0* is {ratio:.4f}"
        rows.append(Check("Rayleigh flow", label, exact, mach[k], 0.001, SHAPIRO))
    for m, digits in ((0.2, 0.17355), (0.3, 0.34686), (0.5, 0.69136), (0.7, 0.90850)):
        rows.append(Check("Rayleigh flow", f"T0/T0*({m}) itself", digits, rayleigh(m), 3e-5, SHAPIRO))
    return rows


def checks():
    """The three families."""
    return isentropic_checks() + fanno_checks() + rayleigh_checks()


def draw(axes):
    """Mach number along the three pipes against the exact curves."""
    cone = straight(0.3, 0.060, 0.040)
    back = P0 * stagnation_ratio(0.85) ** (-GAMMA / (GAMMA - 1))
    prof, mach = steady(cone, 120, back, 0.15)
    mass = (prof.rho * prof.u * cone.area(prof.x)).mean()
    throat = mass / (P0 / np.sqrt(R * T0) * 0.684731)
    exact = [brentq(lambda m, x=x: area_ratio(m) - float(cone.area(x)) / throat, 0.05, 1.0) for x in prof.x]
    axes.plot(prof.x, exact, "k-", lw=1, label="isentropic, exact")
    axes.plot(prof.x[::6], mach[::6], "o", mfc="none", ms=5, label="cone, computed")
    prof, mach = steady(straight(0.6, 0.03), 120, 0.62 * P0, 0.3, Wall(heat=8.0, temperature=900.0))
    total = prof.T * stagnation_ratio(mach)
    star = total[60] / rayleigh(mach[60])
    exact = [brentq(lambda m, t=t: rayleigh(m) - t / star, 0.02, 0.999) for t in total[2:118]]
    axes.plot(prof.x[2:118], exact, "k--", lw=1, label="Rayleigh, exact for its T0")
    axes.plot(prof.x[2:118:6], mach[2:118:6], "s", mfc="none", ms=5, label="heated, computed")
    axes.set(xlabel="distance, m", ylabel="Mach number", title="Steady flow")
    axes.legend()
