"""A finite pulse in a widening cone, where no closed form exists, against Clawpack.

Cone of 1 m from 30 to 60 mm bore, right-running simple-wave pulse of 20 % pressure. The reference
is Clawpack's second-order method on 3200 cells, Richardson-extrapolated with 1600 (an independent
code; installed with the ``clawpack`` extra, which needs a Fortran compiler).
"""

import numpy as np

from aircolumn import GasState, Network, perfect_gas, straight
from validation.check import Check
from validation.gas_constants import A0, GAMMA, P0, T0, R

NEEDS = ("clawpack",)
SHAPE = straight(1.0, 0.03, 0.06)
AMPLITUDE, CENTRE, WIDTH, TIME = 0.2, 0.35, 0.08, 0.35 / A0
SOURCE = "Clawpack 5, second order (Richardson limit)"


def start(x):
    """rho, u, p of the pulse."""
    p = P0 * (1 + AMPLITUDE * np.exp(-(((x - CENTRE) / WIDTH) ** 2)))
    amount = (p / P0) ** ((GAMMA - 1) / (2 * GAMMA))
    rho = P0 / (R * T0) * amount ** (2 / (GAMMA - 1))
    return rho, 2 * A0 / (GAMMA - 1) * (amount - 1), p


def taper(x):
    """d ln F/dx of the cone."""
    return 2 * (0.06 - 0.03) / SHAPE.bore(x)


def ready(cells, conservative=True):
    """The solver's run of the pulse at its start."""
    net = Network(perfect_gas(GAMMA, R), conservative=conservative)
    net.duct(
        "cone",
        SHAPE,
        cells,
        GasState(
            pressure=lambda x: start(x)[2],
            temperature=lambda x: start(x)[2] / (start(x)[0] * R),
            velocity=lambda x: start(x)[1],
        ),
    )
    for side in ("left", "right"):
        net.calm("cone", side, P0, T0)
    return net.ready()


def march(cells, conservative=True):
    """The pulse at TIME."""
    run = ready(cells, conservative)
    run.march(TIME)
    return run


def reference():
    """Places and pressures of the Richardson limit (cell centres of 1600 cells)."""
    from validation.claw import solve

    x, _, _, coarse, _ = solve(1600, 1.0, TIME, start, taper)
    _, _, _, fine, _ = solve(3200, 1.0, TIME, start, taper)
    merged = 0.5 * (fine[0::2] + fine[1::2])
    return x, merged + (merged - coarse) / 3.0


def error(prof, x, exact) -> float:
    """Mean pressure error over the amplitude, where no wave from an end has arrived."""
    inside = (prof.x > 0.42) & (prof.x < 0.95)
    from scipy.interpolate import CubicSpline

    wanted = CubicSpline(x, exact)(prof.x[inside])
    return float(np.mean(np.abs(prof.p[inside] - wanted))) / (AMPLITUDE * P0)


def checks():
    """Agreement on a fine mesh, and the order on the way there."""
    x, exact = reference()
    errors = [error(march(n).profile("cone"), x, exact) for n in (50, 100, 200, 400)]
    order = np.log2(errors[0] / errors[2]) / 2
    mesh = error(march(400, conservative=False).profile("cone"), x, exact)
    return [
        Check("tapered pulse", "mean error at 400 cells", 1e-5, errors[3], 0, SOURCE, "at most"),
        Check("tapered pulse", "order from 50 to 200 cells", 2.5, order, 0, SOURCE, "at least"),
        Check(
            "tapered pulse",
            "error at 50 cells",
            mesh,
            errors[0],
            0,
            "error of 'mesh' at 400 cells",
            "at most",
        ),
    ]


def draw(axes):
    """Pulse at the start and at the end."""
    x, exact = reference()
    prof = march(100).profile("cone")
    axes.plot(x, start(x)[2] / 1e5, "k:", lw=1, label="start")
    axes.plot(x, exact / 1e5, "k-", lw=1, label="Clawpack, Richardson limit")
    axes.plot(prof.x, prof.p / 1e5, "o", ms=3, mfc="none", label="computed, 100 cells")
    axes.set(xlabel="distance, m", ylabel="pressure, bar", title="Finite pulse in a widening cone")
    axes.legend()
