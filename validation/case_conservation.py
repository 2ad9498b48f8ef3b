"""What must not change: mass and energy in a closed duct, and gas at rest in a taper.

Closed duct with a pulse of +-20 %, ten round trips; air at rest in cones and kinked ducts at meshes
from two cells up (closed form: nothing happens).
"""

import numpy as np

from aircolumn import GasState, Network, Shape, perfect_gas, straight, working_gas
from aircolumn.flow.gas.fuels import GASOLINE
from validation.check import Check
from validation.gas_constants import A0, GAMMA, P0, T0, R

SOURCE = "conservation laws (closed form)"
TAPERS = {
    "cone 10:1": straight(0.5, 0.01, 0.1),
    "kinked": Shape([0.0, 0.3, 0.37, 1.0], [0.05, 0.02, 0.06, 0.03]),
}


def drift():
    """Relative change of mass and energy."""

    def pressure(x):
        return P0 * (1 + 0.2 * np.sin(3 * np.pi * x) * np.exp(-20 * (x - 0.5) ** 2))

    net = Network(perfect_gas(GAMMA, R))
    net.duct("box", straight(1.0, 0.05), 60, GasState(pressure=pressure, temperature=T0))
    net.closed("box", "left")
    net.closed("box", "right")
    run = net.ready()
    before = run.held("box")
    run.march(20.0 / A0)
    after = run.held("box")
    return [abs(after.mass / before.mass - 1.0), abs(after.energy / before.energy - 1.0)]


def rest(shape, cells) -> float:
    """Largest velocity over sound speed after 0.1 s of gas at rest, burned gas mixed in."""
    net = Network(working_gas(0.9, GASOLINE, 0.01).gas)
    net.duct("cone", shape, cells, GasState(pressure=P0, temperature=400.0, burned=0.3))
    net.closed("cone", "left")
    net.closed("cone", "right")
    run = net.ready()
    run.march(0.1)
    prof = run.profile("cone")
    return float(np.max(np.abs(prof.u) / prof.a))


def checks():
    """Drift and velocities at rounding level."""
    mass, energy = drift()
    rows = [
        Check("closed duct", "mass drift", 1e-12, mass, 0.0, SOURCE, "at most"),
        Check("closed duct", "energy drift", 1e-12, energy, 0.0, SOURCE, "at most"),
    ]
    for name, shape in TAPERS.items():
        for cells in (2, 5, 20, 100):
            u = rest(shape, cells)
            label = f"{name}, {cells} cells: u/a"
            rows.append(Check("gas at rest", label, 1e-9, u, 0.0, SOURCE, "at most"))
    return rows


def draw(axes):
    """Velocity left in gas at rest against cells."""
    meshes = (2, 3, 5, 10, 20, 50, 100)
    for name, mark in zip(TAPERS, "os", strict=True):
        left = [max(rest(TAPERS[name], n), 1e-18) for n in meshes]
        axes.loglog(meshes, left, mark + "-", mfc="none", label=name)
    axes.axhline(1e-9, color="k", lw=1, label="allowed")
    axes.set(xlabel="cells", ylabel="largest |u| / a after 0.1 s", title="Gas at rest in a taper")
    axes.legend()
