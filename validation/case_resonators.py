"""Frequencies of a quarter-wave duct and of a neck on a volume, at 2 % amplitude.

Quarter-wave duct, 0.5 m, radius 20 mm, 300 K: a/(4 L), L with the end correction of Levine &
Schwinger, Phys. Rev. 73 (1948) (unflanged) or Norris & Sheng, J. Sound Vib. 135 (1989) (flanged,
from memory). Neck 0.3 m, radius 20 mm, on 3.0 L: tan(k L) = A/(k V) (closed form, pressure-release
end). The opening lets gas out at ambient pressure and in from rest, as the solver always does.
"""

import numpy as np
from scipy.optimize import brentq

from aircolumn import GasState, Network, perfect_gas, straight
from aircolumn.flow.ends.openings import end_correction
from validation.check import Check, frequency_of
from validation.gas_constants import A0, GAMMA, P0, T0, R

RADIUS = 0.020


def quarter_wave_signal(extra: float, cells=50, amplitude=0.02):
    """Time and wall pressure of a duct closed at one end, open at the other, ``extra`` m longer."""
    length = 0.5 + extra

    def pressure(x):
        return P0 * (1 + amplitude * np.cos(0.5 * np.pi * x / length))

    def temperature(x):
        return T0 * (pressure(x) / P0) ** ((GAMMA - 1) / GAMMA)

    net = Network(perfect_gas(GAMMA, R))
    net.reservoir("air", P0, T0)
    net.duct(
        "pipe",
        straight(length, 2 * RADIUS),
        cells,
        GasState(pressure=pressure, temperature=temperature),
    )
    net.closed("pipe", "left")
    net.opening("pipe", "right", "air")
    record = net.ready().march(8 * 4 * length / A0, probes={"wall": ("pipe", 0.0)})
    return record.time, record.probes["wall"].p


def quarter_wave(extra: float) -> float:
    """Frequency, Hz, of that duct."""
    time, p = quarter_wave_signal(extra)
    return frequency_of(time, p, A0 / (4 * (0.5 + extra)))


def neck_and_volume(cells=40, amplitude=0.02) -> float:
    """Frequency, Hz, of a vessel breathing through a neck."""
    net = Network(perfect_gas(GAMMA, R))
    net.reservoir("air", P0, T0)
    start = 1 + amplitude
    net.vessel("vessel", 3.0e-3, P0 * start, T0 * start ** ((GAMMA - 1) / GAMMA))

    def pressure(x):
        return P0 * (1 + amplitude * (1 - x / 0.3))

    net.duct(
        "neck",
        straight(0.3, 2 * RADIUS),
        cells,
        GasState(
            pressure=pressure,
            temperature=lambda x: T0 * (pressure(x) / P0) ** ((GAMMA - 1) / GAMMA),
        ),
    )
    net.opening("neck", "left", "vessel")
    net.opening("neck", "right", "air")
    record = net.ready().march(6 / 64.0, probes={})
    return frequency_of(record.time, record.volumes["vessel"].p, 64.0)


def exact_neck() -> float:
    """First root of tan(k L) = A / (k V), Hz."""
    area = np.pi * RADIUS**2
    k = brentq(lambda k: np.tan(0.3 * k) * k - area / 3.0e-3, 0.1, 3.0)
    return k * A0 / (2 * np.pi)


def checks():
    """Within 0.3 % of the exact linear value."""
    rows = []
    kinds = (
        ("no end correction", 0.0, 173.609),
        ("unflanged", end_correction("plain", 2 * RADIUS), 169.452),
        ("flanged", end_correction("flanged", 2 * RADIUS), 168.086),
    )
    for name, extra, digits in kinds:
        source = "Levine & Schwinger 1948; Norris & Sheng 1989 (from memory)"
        rows.append(Check("quarter wave", f"{name}, Hz", digits, quarter_wave(extra), 0.003, source))
        exact = A0 / (4 * (0.5 + extra))
        rows.append(Check("quarter wave", f"{name}, reference itself", digits, exact, 1e-5, source))
    source = "tan(kL) = A/(kV) (closed form)"
    rows.append(Check("Helmholtz (neck and volume)", "Hz", exact_neck(), neck_and_volume(), 0.003, source))
    rows.append(Check("Helmholtz (neck and volume)", "reference itself", 63.9625, exact_neck(), 1e-5, source))
    return rows


def draw(axes):
    """Pressure at the wall of the quarter-wave duct."""
    time, p = quarter_wave_signal(0.0)
    axes.plot(1e3 * time, p / P0, "-", lw=1.2, label="computed")
    for k in range(9):
        label = "exact periods" if k == 0 else None
        axes.axvline(1e3 * k * 2.0 / A0, color="k", lw=0.8, ls=":", label=label)
    axes.set(xlabel="time, ms", ylabel="p / p0 at the wall", title="Quarter-wave duct, 0.5 m")
    axes.legend(loc="upper right")
