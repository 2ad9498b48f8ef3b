"""The cylinder against ideal cycles.

Constant-volume cycle, no losses: efficiency 1 - r^(1 - gamma) (closed form), within 0.05 %.

Quasi-steady limit of VE (very slow engine, no heat transfer, no overlap): first law from intake
opening at TDC (residual at exhaust pressure) to closing at BDC gives

    VE = 1 - (pe/pi - 1) / (gamma (r - 1))

(Taylor, The Internal-Combustion Engine, vol. 1; Heywood 1988, ch. 5; closed form). Checked here
with gas pushed back into a short port and taken in again.
"""

import numpy as np

from aircolumn import GasState, Network, perfect_gas, straight
from validation.check import Check
from validation.engine_parts import ANGLES, cylinder
from validation.gas_constants import GAMMA, P0, T0, R


def constant_volume_efficiency(ratio) -> float:
    """Work over heat released from BDC through TDC to BDC."""
    fuel, release = 0.05, 1.0e7
    net = Network(perfect_gas(GAMMA, R))
    net.cylinder(
        "cylinder", cylinder(ratio, "bottom", heat_release=release, burn_start=-0.1), P0, T0, fuel=fuel
    )
    net.duct("clock", straight(0.1, 0.02), 4, GasState(pressure=P0, temperature=T0))
    net.closed("clock", "left")
    net.closed("clock", "right")
    run = net.ready(angle=540.0)
    omega = 2 * np.pi * 50.0
    run.march(2 * np.pi / omega, omega=omega, courant=0.2)
    return float(run.chambers.work[0] / (run.chambers.burned_fuel[0] * release))


def _window(start, stop, area, ramp=4.0):
    """Area table: fully open between ``start`` and ``stop`` degrees, ramps inside."""
    rise = np.clip((ANGLES - start) / ramp, 0.0, 1.0)
    fall = np.clip((stop - ANGLES) / ramp, 0.0, 1.0)
    return area * np.minimum(rise, fall)


def slow_engine_ve(ratio, pressure_ratio, rpm=30.0) -> float:
    """VE of a motored engine with intake at P0 and exhaust at pressure_ratio * P0."""
    net = Network(perfect_gas(GAMMA, R))
    net.reservoir("intake", P0, T0)
    net.reservoir("exhaust", pressure_ratio * P0, T0)
    net.cylinder("cylinder", cylinder(ratio, "bottom"), P0, T0)
    bore = straight(0.15, 0.05)
    for name, p, opens, closes in (
        ("in", P0, 360.0, 540.0),
        ("out", pressure_ratio * P0, 180.0, 360.0),
    ):
        net.duct(name, bore, 4, GasState(pressure=p, temperature=T0))
        table = _window(opens, closes, 1.5e-3)
        end, mouth = ("right", "left") if name == "in" else ("left", "right")
        net.valve(name, end, "cylinder", table, table)
        net.opening(name, mouth, {"in": "intake", "out": "exhaust"}[name])
    run = net.ready(angle=540.0)
    omega = rpm * np.pi / 30.0
    k = list(run.network.ends).index(("in", "right"))
    for _ in range(3):
        before = run.blocks.tally_ends[k, 0]
        run.march(4 * np.pi / omega, omega=omega)
    swept = net.cylinders[0].swept
    return float((run.blocks.tally_ends[k, 0] - before) / (P0 / (R * T0) * swept))


def checks():
    """Efficiencies at three compression ratios, VE at three pressure ratios."""
    rows = []
    for ratio, digits in ((8, 0.56472), (10, 0.60189), (12, 0.62989)):
        exact = 1 - ratio ** (1 - GAMMA)
        source = "Heywood ch. 5 (closed form)"
        rows.append(
            Check(
                "constant-volume cycle",
                f"efficiency, r = {ratio}",
                exact,
                constant_volume_efficiency(ratio),
                0.0005,
                source,
            )
        )
        rows.append(
            Check("constant-volume cycle", f"reference itself, r = {ratio}", digits, exact, 1e-5, source)
        )
    for pressure_ratio, digits in ((1.2, 0.98319), (1.5, 0.95798), (2.0, 0.91597)):
        exact = 1 - (pressure_ratio - 1) / (GAMMA * 8.5)
        source = "Taylor vol. 1; Heywood ch. 5 (closed form)"
        rows.append(
            Check(
                "quasi-steady VE",
                f"pe/pi = {pressure_ratio}",
                exact,
                slow_engine_ve(9.5, pressure_ratio),
                0.002,
                source,
            )
        )
        rows.append(
            Check("quasi-steady VE", f"reference itself, {pressure_ratio}", digits, exact, 1e-5, source)
        )
    return rows


def draw(axes):
    """Efficiency against compression ratio, VE against pressure ratio."""
    r = np.linspace(4, 14, 50)
    axes.plot(r, 1 - r ** (1 - GAMMA), "k-", lw=1, label="constant-volume efficiency, exact")
    some = (5, 8, 10, 12)
    axes.plot(some, [constant_volume_efficiency(v) for v in some], "o", mfc="none", label="computed")
    ratios = (1.0, 1.2, 1.5, 2.0)
    exact = [1 - (v - 1) / (GAMMA * 8.5) for v in ratios]
    axes.plot(ratios, exact, "k--", lw=1, label="quasi-steady VE (against pe/pi), exact")
    axes.plot(ratios, [slow_engine_ve(9.5, v) for v in ratios], "s", mfc="none", label="computed")
    axes.set(xlabel="compression ratio; pe/pi", ylabel="efficiency; VE", title="Ideal cycles")
    axes.legend()
