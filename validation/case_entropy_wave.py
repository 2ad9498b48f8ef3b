"""Density and composition carried along at constant pressure and velocity.

rho(x - u t), Y(x - u t), p and u constant: exact for any profile (closed form). One passage of a
loop at 100 m/s, density varying by +-20 %, burned share between 0.2 and 0.8.
"""

import numpy as np

from aircolumn import GasState, Network, perfect_gas, straight
from validation.check import Check
from validation.gas_constants import GAMMA, P0, T0, R

SPEED = 100.0
SOURCE = "advection (closed form)"


def profile(x):
    """Density, kg/m3, and burned share."""
    wave = np.sin(2 * np.pi * x)
    return P0 / (R * T0) * (1 + 0.2 * wave), 0.5 + 0.3 * wave


def errors(cells, share=0.5, conservative=True):
    """Mean errors of density (relative), burned share and velocity (over SPEED)."""
    net = Network(perfect_gas(GAMMA, R), conservative=conservative)
    net.duct(
        "loop",
        straight(1.0, 0.05),
        cells,
        GasState(
            pressure=P0,
            temperature=lambda x: P0 / (R * profile(x)[0]),
            velocity=SPEED,
            burned=lambda x: profile(x)[1],
        ),
    )
    net.join(("loop", "left"), ("loop", "right"))
    run = net.ready()
    time = share / SPEED
    run.march(time)
    prof = run.profile("loop")
    rho, burned = profile(prof.x - SPEED * time)
    return (
        float(np.mean(np.abs(prof.rho / rho - 1))),
        float(np.mean(np.abs(prof.burned - burned))),
        float(np.mean(np.abs(prof.u / SPEED - 1))),
    )


def checks():
    """Third order, and pressure and velocity left alone."""
    found = np.array([errors(n) for n in (50, 100, 200)])
    order = np.log2(found[0] / found[2]) / 2
    return [
        Check("entropy wave", "order in density", 2.7, order[0], 0, SOURCE, "at least"),
        Check("entropy wave", "order in composition", 2.7, order[1], 0, SOURCE, "at least"),
        Check("entropy wave", "density error, 50 cells", 1e-5, found[0, 0], 0, SOURCE, "at most"),
        Check("entropy wave", "velocity error, 50 cells", 1e-12, found[0, 2], 0, SOURCE, "at most"),
    ]


def draw(axes):
    """Mean density error against cells."""
    meshes = (25, 50, 100, 200)
    axes.loglog(meshes, [errors(n)[0] for n in meshes], "o-", label="density")
    axes.loglog(meshes, [errors(n)[1] for n in meshes], "s--", label="burned share")
    axes.set(xlabel="cells", ylabel="mean error", title="Density and composition carried along")
    axes.legend()
