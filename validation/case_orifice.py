"""Choked flow and the blowdown of a vessel.

Choked orifice: m sqrt(R T0)/(A p0) = 0.684731, critical ratio 0.528282 (closed form). Vessel of
500 cm3 blowing down through 1 cm2 into a much lower pressure, adiabatic, choked all the time
(closed form, e.g. Owczarek, Fundamentals of Gas Dynamics):

    p/p0 = (1 + (gamma-1)/2 t/tau)^(-2 gamma/(gamma-1)),
    tau = V/(A a0) ((gamma+1)/2)^((gamma+1)/(2 (gamma-1)))
"""

import numpy as np

from aircolumn import GasState, Network, perfect_gas, straight
from aircolumn.flow.ends.nozzle import choking_ratio, mass_flux
from validation.check import Check
from validation.gas_constants import A0, GAMMA, T0, R

SOURCE = "Shapiro vol. 1 ch. 4; Owczarek (closed form)"


def blowdown(times):
    """p/p0 of the vessel at ``times``."""
    net = Network(perfect_gas(GAMMA, R))
    net.vessel("vessel", 500e-6, 10e5, T0)
    net.reservoir("air", 1e5, T0)
    net.orifice("vessel", "air", 1e-4)
    # The march takes its step from ducts: a closed one beside the vessel.
    net.duct("clock", straight(0.1, 0.02), 20, GasState(pressure=1e5, temperature=T0))
    net.closed("clock", "left")
    net.closed("clock", "right")
    record = net.ready().march(max(times) + 1e-4, probes={})
    return np.interp(times, record.time, record.volumes["vessel"].p / 10e5)


def checks():
    """Coefficients to rounding, blowdown within 0.1 %."""
    critical = choking_ratio(GAMMA)
    rho = 1e5 / (R * T0)
    flow = mass_flux(1e5, rho, GAMMA, 0.3e5) * np.sqrt(R * T0) / 1e5
    tau = 500e-6 / (1e-4 * A0) * (0.5 * (GAMMA + 1)) ** ((GAMMA + 1) / (2 * (GAMMA - 1)))
    rows = [
        Check("choked orifice", "m sqrt(R T0)/(A p0)", 0.684731, flow, 1e-6, SOURCE),
        Check("choked orifice", "critical ratio", 0.528282, critical, 1e-6, SOURCE),
        Check("vessel blowdown", "tau, s", 24.8834e-3, tau, 1e-5, SOURCE),
    ]
    times = np.array([1e-3, 5e-3])
    exact = (1 + 0.5 * (GAMMA - 1) * times / tau) ** (-2 * GAMMA / (GAMMA - 1))
    for t, e, digits, got in zip(times, exact, (0.94550, 0.75896), blowdown(times), strict=True):
        label = f"p/p0 at {1e3 * t:.0f} ms"
        rows.append(Check("vessel blowdown", label, e, got, 0.001, SOURCE))
        rows.append(Check("vessel blowdown", f"{label}, reference itself", digits, e, 1e-5, SOURCE))
    return rows


def draw(axes):
    """Pressure of the vessel against time."""
    tau = 500e-6 / (1e-4 * A0) * (0.5 * (GAMMA + 1)) ** ((GAMMA + 1) / (2 * (GAMMA - 1)))
    t = np.linspace(0, 0.03, 25)
    exact = (1 + 0.5 * (GAMMA - 1) * t / tau) ** (-2 * GAMMA / (GAMMA - 1))
    axes.plot(1e3 * t, exact, "k-", lw=1, label="exact")
    axes.plot(1e3 * t, blowdown(t), "o", mfc="none", label="computed")
    axes.set(xlabel="time, ms", ylabel="p / p0", title="Vessel blowing down, choked")
    axes.legend()
