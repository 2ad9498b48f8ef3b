"""A finite wave on a closed end: X_r = 2 X_i - 1, X = (p/p0)^((gamma-1)/(2 gamma)).

Incident 1.2 -> 1.43335, 1.5 -> 2.20059 (isentropic law), 0.8 -> 0.63531 (Benson, The
Thermodynamics and Gas Dynamics of Internal Combustion Engines, vol. 1; closed form). The wave is a
smooth ramp that has not broken when it meets the wall.
"""

import numpy as np

from aircolumn import GasState, Network, perfect_gas, straight
from validation.check import Check
from validation.gas_constants import A0, GAMMA, P0, T0, R

SOURCE = "Benson vol. 1 (closed form)"
EXPONENT = 2 * GAMMA / (GAMMA - 1)


def reflected(ratio) -> float:
    """Pressure ratio computed at the wall behind a wave of pressure ratio ``ratio``."""
    x_wave = ratio ** (1 / EXPONENT)

    def x_at(z):
        return 1 + (x_wave - 1) * 0.5 * (1 - np.tanh((z - 2.5) / 0.3))

    net = Network(perfect_gas(GAMMA, R))
    net.duct(
        "pipe",
        straight(4.0, 0.04),
        300,
        GasState(
            pressure=lambda z: P0 * x_at(z) ** EXPONENT,
            temperature=lambda z: T0 * x_at(z) ** 2,
            velocity=lambda z: 2 * A0 / (GAMMA - 1) * (x_at(z) - 1),
        ),
    )
    net.calm("pipe", "left", P0, T0)
    net.closed("pipe", "right")
    run = net.ready()
    record = run.march(3.3 / A0, probes={"wall": ("pipe", 4.0)})
    farthest = np.max if ratio > 1.0 else np.min  # before the tail of the wave arrives
    return float(farthest(record.probes["wall"].p) / P0)


def checks():
    """Within 0.1 %."""
    rows = []
    for ratio, digits in ((1.2, 1.43335), (1.5, 2.20059), (0.8, 0.63531)):
        exact = (2 * ratio ** (1 / EXPONENT) - 1) ** EXPONENT
        rows.append(
            Check("closed end", f"reflected, incident {ratio}", exact, reflected(ratio), 1e-3, SOURCE)
        )
        rows.append(Check("closed end", f"{ratio}, reference itself", digits, exact, 1e-5, SOURCE))
    return rows


def draw(axes):
    """Reflected against incident pressure ratio."""
    ratio = np.linspace(0.7, 1.6, 50)
    axes.plot(ratio, (2 * ratio ** (1 / EXPONENT) - 1) ** EXPONENT, "k-", lw=1, label="exact")
    some = (0.8, 0.9, 1.1, 1.2, 1.35, 1.5)
    axes.plot(some, [reflected(v) for v in some], "o", mfc="none", label="computed")
    axes.set(xlabel="incident p / p0", ylabel="reflected p / p0", title="Wave on a closed end")
    axes.legend()
