"""Top dead centre from a motored trace: the loss angle.

Without combustion the pressure is highest shortly before top dead centre, as heat and gas are lost. At the
peak dp = 0: with the first law of a perfect gas and V near its least,

    angle = [(gamma - 1)/gamma * (dQ/dangle) / p + V * (dm/dangle) / m] / (d2V/dangle2)

(the thermodynamic loss angle; Pipitone & Beccari, Applied Thermal Engineering 30, 2010, and any text on
cylinder-pressure measurement; from memory). The model's own motored cycle has it; how uncertain its heat is
(a factor of 1.35) is the angle's uncertainty, beside the spread of the measured peaks.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from scipy.stats import t as student

from aircolumn.measured.traces.cycles import AT, STEP

AROUND = 6.0  # deg on both sides of the peak, in which a parabola is laid
HEAT_TRUE_TO = 0.35  # of the loss angle
SYMMETRIC = 1.08  # pressure 25 deg after over 25 deg before top dead centre: more is fired


@dataclass(frozen=True)
class DeadCentre:
    """offset: what the file's angles are too large by, deg; plus_minus: half-width of its 95 % interval;
    loss: the model's loss angle, deg."""

    offset: float
    plus_minus: float
    loss: float


def is_motored(pressure: np.ndarray) -> bool:
    """Whether a cylinder's mean pressure over AT is of compression alone."""
    top = peak_angle(pressure)
    after, before = (np.interp((top + by) % 720.0, AT, pressure) for by in (25.0, -25.0))
    return bool(after / before < SYMMETRIC)


def peak_angle(pressure: np.ndarray) -> float:
    """Angle of the highest pressure over AT, deg from -360 to 360: the top of a parabola through what is
    near it."""
    k = int(np.argmax(pressure))
    n = int(AROUND / STEP)
    near = np.arange(k - n, k + n + 1)
    x = STEP * (near - k)
    a, b, _ = np.polyfit(x, np.take(pressure, near, mode="wrap"), 2)
    top = k * STEP - 0.5 * b / a
    return float((top + 360.0) % 720.0 - 360.0)


def loss_angle(pressure: np.ndarray) -> float:
    """By how much the peak of the model's motored pressure lies before top dead centre, deg."""
    return -peak_angle(pressure)


def dead_centre(cycles: np.ndarray, model: np.ndarray) -> DeadCentre:
    """From the motored pressures of cycles (n, angles) and the model's (angles,)."""
    peaks = np.array([peak_angle(one) for one in cycles])
    peaks = np.angle(np.exp(1j * np.radians(peaks - peaks[0])), deg=True) + peaks[0]
    loss = loss_angle(model)
    n = peaks.size
    random = student.ppf(0.975, n - 1) * peaks.std(ddof=1) / np.sqrt(n) if n > 1 else STEP
    return DeadCentre(float(peaks.mean() + loss), float(np.hypot(random, HEAT_TRUE_TO * loss)), loss)
