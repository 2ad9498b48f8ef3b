"""Reflection of small waves at each kind of end against frequency, from a pulse and its transform.

Acoustic limits (closed form), pressure reflected over pressure arriving, at the end:

- closed +1; open into still air -1 (no mean flow: Kinsler & Frey);
- open, gas flowing in from rest at Mach M: h0 fixed, R = -(1 - M)/(1 + M) (quasi-steady inflow);
- calm 0;
- choked nozzle at Mach M: R = (1 - (g-1) M/2)/(1 + (g-1) M/2) (Marble & Candel, J. Sound Vib. 55,
  1977, compact nozzle);
- throttle of effective area At at Mach M, subsonic, into a space at pressure pb: A rho u =
  At m(p0, rho0, pb) with the stagnation state of the duct, linearised at constant entropy
  (quasi-steady isentropic throat, Shapiro vol. 1, ch. 4): R = (Z - 1)/(Z + 1), Z = dp/(rho a du);
- vessel of volume V behind the open bore of area A: R = (z - 1)/(z + 1), z = a A/(2 pi i f V);
- step and junction: see case_acoustics.
"""

import numpy as np
from scipy.optimize import brentq

from aircolumn import GasState, Network, perfect_gas, straight
from validation.case_acoustics import STRENGTH
from validation.check import Check
from validation.gas_constants import A0, GAMMA, P0, T0, R

LENGTH, START, PROBE, WIDTH = 2.0, 1.55, 1.78, 0.03
BORE = 0.04
AREA = 0.25 * np.pi * BORE**2
RHO0 = P0 / (R * T0)
BAND = (100.0, 1500.0)
MACH = 0.2


def with_end(attach, velocity=0.0):
    """Complex reflection against frequency at the right end made by ``attach(net)``."""

    def pulse(x):
        return STRENGTH * np.exp(-(((x - START) / WIDTH) ** 2))

    net = Network(perfect_gas(GAMMA, R))
    net.duct(
        "pipe",
        straight(LENGTH, BORE),
        400,
        GasState(
            pressure=lambda x: P0 * (1 + pulse(x)),
            temperature=lambda x: T0 * (1 + (GAMMA - 1) / GAMMA * pulse(x)),
            velocity=lambda x: velocity + P0 * pulse(x) / (RHO0 * A0),
        ),
    )
    net.calm("pipe", "left", P0, T0)
    attach(net)
    record = net.ready().march(3.4e-3, probes={"here": ("pipe", PROBE)})
    time = np.arange(0.0, 3.3e-3, 2e-6)
    p = np.interp(time, record.time, record.probes["here"].p) / P0 - 1
    u = (np.interp(time, record.time, record.probes["here"].u) - velocity) * RHO0 * A0 / P0
    frequency = np.fft.rfftfreq(8 * time.size, 2e-6)
    to_end, back = 0.5 * (p + u), 0.5 * (p - u)
    ratio = np.fft.rfft(back, 8 * time.size) / np.fft.rfft(to_end, 8 * time.size)
    way = LENGTH - record.probes["here"].x
    delay = way / (A0 + velocity) + way / (A0 - velocity)
    use = (frequency > BAND[0]) & (frequency < BAND[1])
    frequency = frequency[use]
    return frequency, ratio[use] * np.exp(2j * np.pi * frequency * delay)


def open_end(net):
    """Open into still air at the duct's own pressure."""
    net.reservoir("air", P0, T0)
    net.opening("pipe", "right", "air")


def inflow_end(net):
    """Gas flowing in from a reservoir at rest."""
    rise = 1 + 0.5 * (GAMMA - 1) * MACH**2
    net.reservoir("air", P0 * rise ** (GAMMA / (GAMMA - 1)), T0 * rise)
    net.opening("pipe", "right", "air")


def nozzle_end(net):
    """Choked nozzle."""
    power = (GAMMA + 1) / (2 * (GAMMA - 1))
    ratio = (2 / (GAMMA + 1) * (1 + 0.5 * (GAMMA - 1) * MACH**2)) ** power / MACH
    net.reservoir("low", 0.2 * P0, T0)
    net.restriction("pipe", "right", "low", AREA / ratio)


THROTTLE_MACH = 0.1
THROTTLE = 0.45 * AREA


def throat_flow(p, u, beyond):
    """kg/s through the throttle from duct pressure ``p`` and velocity ``u``, constant entropy."""
    rho = RHO0 * (p / P0) ** (1 / GAMMA)
    rise = 1 + 0.5 * (GAMMA - 1) * u * u * rho / (GAMMA * p)
    p0, rho0 = p * rise ** (GAMMA / (GAMMA - 1)), rho * rise ** (1 / (GAMMA - 1))
    r = beyond / p0
    root = 2 * GAMMA / (GAMMA - 1) * p0 * rho0 * (r ** (2 / GAMMA) - r ** ((GAMMA + 1) / GAMMA))
    return THROTTLE * np.sqrt(root), AREA * rho * u


def throttle_pressure() -> float:
    """Pressure beyond the throttle that gives THROTTLE_MACH in the duct."""

    def surplus(beyond):
        through, arriving = throat_flow(P0, THROTTLE_MACH * A0, beyond)
        return through - arriving

    return brentq(surplus, 0.6 * P0, P0)


def throttle_end(net):
    """Throttle with flow."""
    net.reservoir("low", throttle_pressure(), T0)
    net.restriction("pipe", "right", "low", THROTTLE)


def throttle_formula(f):
    """R of the throttle."""
    beyond, u, d = throttle_pressure(), THROTTLE_MACH * A0, 1e-6

    def balance(p, v):
        through, arriving = throat_flow(p, v, beyond)
        return through - arriving

    by_p = (balance(P0 * (1 + d), u) - balance(P0 * (1 - d), u)) / (2 * P0 * d)
    by_u = (balance(P0, u * (1 + d)) - balance(P0, u * (1 - d))) / (2 * u * d)
    z = -by_u / by_p / (RHO0 * A0)
    return (z - 1) / (z + 1) + 0 * f


VOLUME = 5e-5


def vessel_end(net):
    """Vessel of VOLUME m3."""
    net.vessel("box", VOLUME, P0, T0)
    net.opening("pipe", "right", "box")


def vessel_formula(f):
    """R of the vessel."""
    z = A0 * AREA / (2j * np.pi * f * VOLUME)
    return (z - 1) / (z + 1)


half = 0.5 * (GAMMA - 1) * MACH
#: end: (attach, mean velocity, exact R(f))
ENDS = {
    "closed": (lambda net: net.closed("pipe", "right"), 0.0, lambda f: 1.0 + 0 * f),
    "open": (open_end, 0.0, lambda f: -1.0 + 0 * f),
    "open, inflow at M 0.2": (inflow_end, -MACH * A0, lambda f: -(1 - MACH) / (1 + MACH) + 0 * f),
    "calm": (lambda net: net.calm("pipe", "right", P0, T0), 0.0, lambda f: 0.0 * f),
    "choked nozzle, M 0.2": (nozzle_end, MACH * A0, lambda f: (1 - half) / (1 + half) + 0 * f),
    "throttle, M 0.1": (throttle_end, THROTTLE_MACH * A0, throttle_formula),
    "vessel 0.05 L": (vessel_end, 0.0, vessel_formula),
}


def checks():
    """Largest distance in the complex plane over the band."""
    rows = []
    for name, (attach, velocity, exact) in ENDS.items():
        f, got = with_end(attach, velocity)
        worst = float(np.max(np.abs(got - exact(f))))
        label = f"{name}: worst |R - exact|"
        rows.append(Check("reflection", label, 0.01, worst, 0, "see the case's head", "at most"))
    return rows


def draw(axes):
    """Real part of R against frequency."""
    marks = iter("osv^D<x")
    for name, (attach, velocity, exact) in ENDS.items():
        f, got = with_end(attach, velocity)
        axes.plot(f, np.real(exact(f)), "k-", lw=0.8)
        axes.plot(f[::12], np.real(got[::12]), next(marks), mfc="none", ms=5, label=name)
    axes.set(xlabel="frequency, Hz", ylabel="real part of R", title="Reflection at duct ends")
    axes.legend(fontsize=8, loc="center right")
