"""Cost per cell and step of both duct members: ``python -m validation.benchmark_kernel``.

Area change, friction, wall heat and composition on, one core, several mesh sizes in one run. The
cost of one step is fitted as fixed + per cell * cells: the fixed part is the two ends, the volumes
and the entry into the kernels; what a figure for n cells contains is fixed/n + per cell.
"""

import time

import numpy as np

from aircolumn import GasState, Network, Wall, straight, working_gas
from aircolumn.flow.gas.fuels import GASOLINE

MESHES = (40, 80, 160, 320)
REPEATS = 7


def ready(cells, conservative):
    """A cone of warm, partly burned gas in motion."""
    net = Network(working_gas(0.9, GASOLINE, 0.01).gas, conservative=conservative)
    net.duct(
        "pipe",
        straight(1.0, 0.05, 0.04),
        cells,
        GasState(
            pressure=lambda x: 1e5 + 5e3 * np.sin(2 * np.pi * x),
            temperature=300.0,
            burned=lambda x: 0.1 + 0.05 * np.sin(6 * x),
        ),
        Wall(friction=1.0, heat=1.0, roughness=1e-5, temperature=350.0),
    )
    net.closed("pipe", "left")
    net.closed("pipe", "right")
    return net.ready()


def step_cost(cells, conservative) -> float:
    """Least seconds a step over REPEATS marches of about 6000 steps."""
    run = ready(cells, conservative)
    run.march(1e-3)
    best = np.inf
    for _ in range(REPEATS):
        steps, start = run.steps, time.process_time()
        run.march(6000 * 0.9 / (cells * 400.0))
        best = min(best, (time.process_time() - start) / (run.steps - steps))
    return best


def main():
    """Print the table."""
    for conservative, name in ((True, "conservative"), (False, "mesh")):
        costs = np.array([step_cost(n, conservative) for n in MESHES])
        per_cell, fixed = np.polyfit(MESHES, costs, 1)
        listed = ", ".join(f"{n}: {1e9 * c / n:.1f}" for n, c in zip(MESHES, costs, strict=True))
        print(f"{name:13s} ns per cell and step at cells {listed}")
        print(f"{'':13s} fixed {1e9 * fixed:.0f} ns a step, {1e9 * per_cell:.1f} ns a cell")


if __name__ == "__main__":
    main()
