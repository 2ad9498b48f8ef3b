"""The cylinder against ideal cycles.

Constant-volume cycle, no losses: efficiency 1 - r^(1 - gamma) (closed form), within 0.05 %.

Throttled engine run very slowly (no heat transfer, no overlap, valves at the dead centres): first law
from intake opening at TDC (residual at exhaust pressure) to closing at BDC gives

    VE = 1 - (pe/pi - 1) / (gamma (r - 1))

(Taylor, The Internal-Combustion Engine, vol. 1; Heywood 1988, ch. 5; closed form), and isentropic
blow-down the residual share (``closed_form``). Manifold pressures of 40 to 100 kPa; gas is pushed back
into a short port and taken in again.
"""

import numpy as np

from aircolumn import GasState, Network, perfect_gas, straight
from validation.check import Check
from validation.engine_parts import ANGLES, cylinder
from validation.gas_constants import GAMMA, P0, T0, R

FUEL, RELEASE = 0.05, 4.0e7  # share of the fresh charge; J/kg of it
PART_LOAD = (1.0, 1.2, 1.5, 2.0, 2.5)  # exhaust over manifold pressure: 100 to 40 kPa in the manifold
VALVE = 3e-4  # m2, small against the port: blow-down does not swing past the pressure outside


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


def slow_engine(ratio, manifold, rpm=30.0) -> tuple[float, float]:
    """(VE, residual share at BDC) of an engine between a manifold at this pressure, Pa, and an exhaust at
    P0."""
    net = Network(perfect_gas(GAMMA, R))
    net.reservoir("intake", manifold, T0, fuel=FUEL)
    net.reservoir("exhaust", P0, T0, burned=1.0)
    burning = cylinder(ratio, "bottom", heat_release=RELEASE, burn_start=-0.1)
    net.cylinder("cylinder", burning, manifold, T0, fuel=FUEL)
    bore = straight(0.15, 0.05)
    for name, state, opens, closes in (
        ("in", GasState(pressure=manifold, temperature=T0, fuel=FUEL), 360.0, 540.0),
        ("out", GasState(pressure=P0, temperature=T0, burned=1.0), 180.0, 360.0),
    ):
        net.duct(name, bore, 4, state)
        table = _window(opens, closes, VALVE)
        end, mouth = ("right", "left") if name == "in" else ("left", "right")
        net.valve(name, end, "cylinder", table, table)
        net.opening(name, mouth, {"in": "intake", "out": "exhaust"}[name])
    run = net.ready(angle=540.0)
    omega = rpm * np.pi / 30.0
    k = list(run.network.ends).index(("in", "right"))
    for _ in range(4):
        before = run.blocks.tally_ends[k, 0]
        run.march(4 * np.pi / omega, omega=omega)
    fresh = float(run.blocks.tally_ends[k, 0] - before)
    held = float(run.blocks.volumes[0, list(net.volumes).index("cylinder"), 0])
    return fresh / (manifold / (R * T0) * burning.swept), 1.0 - fresh / held


def closed_form(ratio, pressure_ratio) -> tuple[float, float]:
    """(VE, residual share) of the constant-volume cycle; pressure_ratio: exhaust over manifold.

    The charge at BDC from the first law of the intake stroke, the residual from isentropic blow-down of what
    stays (Heywood 1988, ch. 5, throttled cycle)::

        x = (1/r) (pe/pi)^(1/gamma) / (1 + q / (cv T1 r^(gamma - 1)))^(1/gamma)
        T1 = Ti (1 - x) / (1 - (pe/pi + gamma - 1) / (gamma r)),    q = (1 - x) FUEL RELEASE
    """
    x = 0.05
    for _ in range(100):
        t1 = T0 * (1.0 - x) / (1.0 - (pressure_ratio + GAMMA - 1.0) / (GAMMA * ratio))
        q = (1.0 - x) * FUEL * RELEASE
        hotter = 1.0 + q * (GAMMA - 1.0) / (R * t1 * ratio ** (GAMMA - 1.0))
        x = (pressure_ratio / hotter) ** (1.0 / GAMMA) / ratio
    return 1.0 - (pressure_ratio - 1.0) / (GAMMA * (ratio - 1.0)), x


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
    source = "Taylor vol. 1; Heywood ch. 5 (closed form)"
    for pressure_ratio in PART_LOAD:
        exact = closed_form(9.5, pressure_ratio)
        found = slow_engine(9.5, P0 / pressure_ratio)
        for name, due, computed in zip(("VE", "residual share"), exact, found, strict=True):
            rows.append(
                Check("slow engine", f"{name}, pe/pi = {pressure_ratio}", due, computed, 0.001, source)
            )
    for pressure_ratio, digits in ((1.2, 0.98319), (1.5, 0.95798), (2.0, 0.91597)):
        exact = closed_form(9.5, pressure_ratio)[0]
        rows.append(Check("slow engine", f"reference itself, {pressure_ratio}", digits, exact, 1e-5, source))
    return rows


def draw(axes):
    """Efficiency against compression ratio, VE against pressure ratio."""
    r = np.linspace(4, 14, 50)
    axes.plot(r, 1 - r ** (1 - GAMMA), "k-", lw=1, label="constant-volume efficiency, exact")
    some = (5, 8, 10, 12)
    axes.plot(some, [constant_volume_efficiency(v) for v in some], "o", mfc="none", label="computed")
    exact = [closed_form(9.5, v) for v in PART_LOAD]
    found = [slow_engine(9.5, P0 / v) for v in PART_LOAD]
    for k, (name, mark) in enumerate((("VE", "s"), ("residual share", "^"))):
        axes.plot(PART_LOAD, [v[k] for v in exact], "k--", lw=1, label=f"{name}, slow engine, exact")
        axes.plot(PART_LOAD, [v[k] for v in found], mark, mfc="none", label="computed")
    axes.set(xlabel="compression ratio; pe/pi", ylabel="efficiency; VE; residual share", title="Ideal cycles")
    axes.legend()
