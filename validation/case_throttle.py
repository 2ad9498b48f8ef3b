"""A butterfly throttle, and a plain orifice, as the end of a duct: steady flow both ways.

Gas flows from one large space through a short duct without friction to another, past a throat of
effective area Cd A at the duct's right end (closed form, Shapiro vol. 1, ch. 4):

- out of the duct: the throat sees the duct's stagnation state, which is that of the first space;
- into the duct: the dynamic head behind the throat is lost, so the pressure in the duct is that of
  the second space, and mass flow follows from that pressure ratio and, choked, from none.

The blade's open area is that of ``ends/throttle.py``: the bore less the ellipse the blade shows.
"""

import numpy as np

from aircolumn import GasState, Network, perfect_gas, straight
from aircolumn.flow.ends.throttle import butterfly_area
from validation.check import Check
from validation.gas_constants import GAMMA, P0, T0, R

BORE = 0.05
CD = 0.85
ORIFICE = 4e-4
SOURCE = "Shapiro vol. 1 ch. 4 (closed form)"
ANGLES = (20.0, 45.0, 70.0)


def flux(p0, t0, p) -> float:
    """Mass flow per area, kg/(m2 s), from rest at (p0, t0) into pressure ``p``."""
    r = max(p / p0, (2 / (GAMMA + 1)) ** (GAMMA / (GAMMA - 1)))
    root = 2 * GAMMA / (GAMMA - 1) * (r ** (2 / GAMMA) - r ** ((GAMMA + 1) / GAMMA))
    return p0 / np.sqrt(R * t0) * np.sqrt(root)


def flow(area, ratio, inward) -> float:
    """Computed steady mass flow, kg/s, from P0 to ``ratio`` P0 through the throat."""
    net = Network(perfect_gas(GAMMA, R))
    net.duct("duct", straight(0.3, BORE), 30, GasState(pressure=ratio * P0, temperature=T0))
    net.reservoir("high", P0, T0)
    net.reservoir("low", ratio * P0, T0)
    net.restriction("duct", "right", "high" if inward else "low", area)
    net.opening("duct", "left", "low" if inward else "high")
    run = net.ready()
    run.march(0.25)
    prof = run.profile("duct")
    return abs(float(np.mean(prof.rho * prof.u))) * 0.25 * np.pi * BORE**2


def checks():
    """Mass flow within 0.1 %."""
    throats = {f"blade at {a:.0f} deg": CD * butterfly_area(BORE, 0.008, a, 5.0) for a in ANGLES}
    throats["orifice"] = CD * ORIFICE
    rows = []
    for name, area in throats.items():
        for ratio in (0.9, 0.4):
            for inward in (False, True):
                label = f"{name}, {'into' if inward else 'out of'} the duct, p2/p1 {ratio}: kg/s"
                exact = area * flux(P0, T0, ratio * P0)
                got = flow(area, ratio, inward)
                rows.append(Check("throttle", label, exact, got, 1e-3, SOURCE))
    return rows


def draw(axes):
    """Flow against blade angle."""
    angles = np.linspace(10, 75, 14)
    areas = [CD * butterfly_area(BORE, 0.008, a, 5.0) for a in angles]
    for ratio, line in ((0.9, "-"), (0.4, "--")):
        exact = [1e3 * a * flux(P0, T0, ratio * P0) for a in areas]
        axes.plot(angles, exact, "k" + line, lw=1, label=f"exact, p2/p1 = {ratio}")
        got = [1e3 * flow(a, ratio, False) for a in areas]
        axes.plot(angles, got, "o", mfc="none", label="computed")
    axes.set(xlabel="blade angle, deg", ylabel="flow, g/s", title="Throttle at the end of a duct")
    axes.legend()
