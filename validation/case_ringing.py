"""How fast a shut pipe stops ringing, against Kirchhoff's boundary-layer damping.

Amplitude of a standing wave of small amplitude at w falls as exp(-k t) with

    k = (1/r) sqrt(nu w / 2) (1 + (gamma - 1)/sqrt(Pr))

(Kirchhoff 1868; Pierce, Acoustics, section 10-5; wide tube: r >> sqrt(nu/w)). Walls without the
layer (duct/layer.py) let the same pipe ring hundreds of times as long.
"""

import numpy as np
from scipy.optimize import curve_fit

from aircolumn import GasState, Network, Wall, perfect_gas, straight
from aircolumn.flow.gas.kernels import viscosity
from validation.check import Check
from validation.gas_constants import GAMMA, P0, T0, R

PIPES = ((0.042, 1.0), (0.042, 0.52), (0.030, 0.25), (0.050, 2.0))  # bore, length, m
PRANDTL = 0.71
SWING = 100.0  # Pa


def kirchhoff(bore, length) -> float:
    """Decay of the fundamental, 1/s."""
    sound, density = np.sqrt(GAMMA * R * T0), P0 / (R * T0)
    omega = np.pi * sound / length
    shear = np.sqrt(0.5 * omega * viscosity(T0) / density) / (0.5 * bore)
    return shear * (1.0 + (GAMMA - 1.0) / np.sqrt(PRANDTL))


def ringing(bore, length, friction=1.0):
    """Time and pressure at one end, both ends shut."""
    net = Network(perfect_gas(GAMMA, R))
    state = GasState(pressure=lambda x: P0 + SWING * np.cos(np.pi * x / length), temperature=T0)
    net.duct("pipe", straight(length, bore), 60, state, Wall(friction=friction, temperature=T0))
    net.closed("pipe", "left")
    net.closed("pipe", "right")
    record = net.ready().march(0.2, probes={"end": ("pipe", 0.0)})
    return record.time, record.probes["end"].p - P0


def decay(bore, length, friction=1.0) -> float:
    """Decay of the computed ringing, 1/s, after the layer has formed."""

    def swing(t, height, rate, omega, phase):
        return height * np.exp(-rate * t) * np.cos(omega * t + phase)

    t, p = ringing(bore, length, friction)
    late = t > 0.03
    omega = np.pi * np.sqrt(GAMMA * R * T0) / length
    values, _ = curve_fit(swing, t[late], p[late], p0=(SWING, 5.0, omega, 0.0))
    return float(values[1])


def checks():
    """Decay of four pipes; without friction almost none."""
    source = "Kirchhoff 1868 (closed form)"
    rows = [
        Check(
            "ringing pipe",
            f"decay, bore {1e3 * d:.0f} mm, length {length:g} m, 1/s",
            kirchhoff(d, length),
            decay(d, length),
            0.05,
            source,
        )
        for d, length in PIPES
    ]
    none = decay(*PIPES[1], friction=0.0) / kirchhoff(*PIPES[1])
    return [
        *rows,
        Check(
            "ringing pipe", "decay by the scheme alone, over Kirchhoff's", 0.01, none, 0.0, source, "at most"
        ),
    ]


def draw(axes):
    """A ringing pipe and the envelope."""
    d, length = PIPES[1]
    t, p = ringing(d, length)
    axes.plot(1e3 * t, p, color="#888888", lw=0.6, label="computed")
    axes.plot(1e3 * t, SWING * np.exp(-kirchhoff(d, length) * t), "k-", label="Kirchhoff")
    axes.set(xlabel="time, ms", ylabel="pressure at the end, Pa", title="Ringing of a shut pipe")
    axes.legend()
