"""A blowdown step of pressure ratio 4 into a duct at 300 K, followed for 1 m.

Exact Riemann solution as in case_shock_tubes (Toro, ch. 4). Once with gas at 300 K on both sides,
once with gas at 1000 K behind the step, as when an exhaust valve opens. The front must stand within
one cell of the exact shock after 1 m; pressure must fall all the way along the duct (a rise of up
to 1 % of the step is allowed, the limit for overshoots) and nothing may turn negative.
"""

import numpy as np

from aircolumn import GasState, Network, perfect_gas, straight
from validation.case_shock_tubes import exact, profile_exact
from validation.check import Check
from validation.gas_constants import GAMMA, P0, T0, R

STEP_AT, LENGTH, CELLS = 0.5, 1.8, 150  # cells of 12 mm
RATIO = 4.0
SOURCE = "Toro ch. 4 (closed form)"


def tube(hot):
    """(p_l, rho_l, p_r, rho_r) with gas of temperature ``hot`` (K) behind the step."""
    return RATIO * P0, RATIO * P0 / (R * hot), P0, P0 / (R * T0)


def march(hot):
    """Profile when the exact shock has gone 1 m, that time, and the exact solution."""
    state = exact(*tube(hot))
    time = 1.0 / state["shock"]
    net = Network(perfect_gas(GAMMA, R))
    net.duct(
        "duct",
        straight(LENGTH, 0.04),
        CELLS,
        GasState(
            pressure=lambda x: np.where(x < STEP_AT, RATIO * P0, P0),
            temperature=lambda x: np.where(x < STEP_AT, hot, T0),
        ),
    )
    # Waves of the fan reach the left end before the shock has gone 1 m: they leave there.
    net.calm("duct", "left", RATIO * P0, hot)
    net.calm("duct", "right", P0, T0)
    run = net.ready()
    run.march(time)
    return run.profile("duct"), time, state


def front(prof, level) -> float:
    """Where the pressure passes ``level``, m."""
    x, p = prof.x, prof.p
    k = np.flatnonzero(p > level)[-1]
    return float(x[k] + (p[k] - level) / (p[k] - p[k + 1]) * (x[k + 1] - x[k]))


def checks():
    """Front within one cell, pressure falling, states positive."""
    rows = []
    for hot in (300.0, 1000.0):
        name = f"blowdown step, {hot:.0f} K"
        prof, _, state = march(hot)
        away = abs(front(prof, 0.5 * (state["p"] + P0)) - STEP_AT - 1.0) / (LENGTH / CELLS)
        rise = float(np.max(np.diff(prof.p))) / ((RATIO - 1.0) * P0)
        rows += [
            Check(name, "front off after 1 m, cells", 1.0, away, 0, SOURCE, "at most"),
            Check(name, "largest rise along the duct", 0.01, rise, 0, SOURCE, "at most"),
            Check(name, "least p/p0", 0.99, prof.p.min() / P0, 0, SOURCE, "at least"),
            Check(name, "least T/T0", 0.5, prof.T.min() / T0, 0, SOURCE, "at least"),
        ]
    return rows


def draw(axes):
    """Pressure along the duct, computed and exact."""
    x = np.linspace(0, LENGTH, 2000)
    for hot, mark in ((300.0, "o"), (1000.0, "s")):
        prof, time, state = march(hot)
        _, _, p = profile_exact(state, *tube(hot), x + 0.5 - STEP_AT, time)
        axes.plot(x, p / P0, "k-", lw=0.8)
        axes.plot(prof.x, prof.p / P0, mark, ms=3, mfc="none", label=f"{hot:.0f} K behind")
    axes.set(xlabel="distance, m", ylabel="p / p0", title="Blowdown step after 1 m (12 mm cells)")
    axes.legend()
