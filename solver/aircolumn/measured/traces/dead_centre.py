"""Whether a trace is motored or fired, and top dead centre from a motored one: the loss angle.

Cycles of compression alone repeat: their peaks scatter by some tenths of a per cent of their swing, and the
pressure falls as it rose. Cycles that burn scatter by 5 to 30 % (common practice, no source; measured here on
the engines of three laboratories: 0.2 % motored, 15 to 30 % fired), and are far from symmetrical unless they
burn late. One cycle, or a mean, tells by its symmetry and by how high it goes beside the model's motored one.

Without combustion the pressure is highest shortly before top dead centre, as heat and gas are lost. At the
peak dp = 0: with the first law of a perfect gas and V near its least,

    angle = [(gamma - 1)/gamma * (dQ/dangle) / p + V * (dm/dangle) / m] / (d2V/dangle2)

(the thermodynamic loss angle; Pipitone & Beccari, Applied Thermal Engineering 30, 2010, and any text on
cylinder-pressure measurement; from memory). The model's own motored cycle has it; how uncertain its heat is
(a factor of 1.35) is the angle's uncertainty, beside the spread of the measured peaks. An engine that loses
more than the model, as the pressure 90 degrees after over that 90 degrees before top dead centre tells, may
have a loss angle as many times as large: heat and leak near the peak are not those of the whole stroke.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from scipy.stats import t as student

from aircolumn.measured.traces.cycles import AT, STEP

AROUND = 6.0  # deg on both sides of the peak, in which a parabola is laid
HEAT_TRUE_TO = 0.35  # of the loss angle
SYMMETRIC = 1.08  # pressure 25 deg after over 25 deg before top dead centre: more is fired
REPEATS, SCATTERS = 0.015, 0.04  # spread of the swings over their mean: motored; fired
QUARTER = 90.0  # deg
RISING = (540.0, 690.0)  # deg: compression, before anything burns
ROUGHLY = 6.0  # deg, of a fired trace at the least: the charge is the model's
FEW = 5  # cycles: of fewer the spread tells nothing
HIGHER, LOWER = 1.25, 0.6  # times the swing of the model's motored cycle


@dataclass(frozen=True)
class DeadCentre:
    """offset: what the file's angles are too large by, deg; plus_minus: half-width of its 95 % interval;
    loss: the model's loss angle, deg; losses: what the pressure loses from 90 deg before to 90 deg after top
    dead centre, measured and in the model, relative."""

    offset: float
    plus_minus: float
    loss: float
    losses: tuple[float, float]


def burns(cycles: np.ndarray) -> bool:
    """Whether swings of cycles (n, angles) differ so much that they burn."""
    swings = np.ptp(cycles, axis=1)
    return bool(len(swings) >= FEW and swings.std(ddof=1) > SCATTERS * swings.mean())


def is_motored(cycles: np.ndarray, model: np.ndarray) -> bool | None:
    """Whether cylinder pressures of cycles (n, angles) are of compression alone, beside the model's motored
    ones (angles,); None if that cannot be told."""
    mean, swings = cycles.mean(axis=0), np.ptp(cycles, axis=1)
    scatter = float(swings.std(ddof=1) / swings.mean()) if len(swings) > 1 else 0.0
    if burns(cycles):
        return False
    top = peak_angle(mean)
    after, before = (
        np.interp((top + by) % 720.0, AT, mean) - mean.min() + model.min() for by in (25.0, -25.0)
    )
    if after / before >= SYMMETRIC:
        return False
    high = float(np.ptp(mean) / np.ptp(model))
    if high > HIGHER:
        return False
    if high > LOWER and (len(swings) < FEW or scatter < REPEATS):
        return True
    return None


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
    """From the motored pressures of cycles (n, angles), with their level, and the model's (angles,)."""
    peaks = np.array([peak_angle(one) for one in cycles])
    peaks = np.angle(np.exp(1j * np.radians(peaks - peaks[0])), deg=True) + peaks[0]
    loss = loss_angle(model)
    n = peaks.size
    random = student.ppf(0.975, n - 1) * peaks.std(ddof=1) / np.sqrt(n) if n > 1 else STEP
    offset = float(peaks.mean() + loss)
    losses = _lost(cycles.mean(axis=0), offset), _lost(model, 0.0)
    doubt = HEAT_TRUE_TO if losses[1] <= 0.0 else max(HEAT_TRUE_TO, losses[0] / losses[1] - 1.0)
    return DeadCentre(offset, float(np.hypot(random, doubt * loss)), loss, losses)


def by_compression(mean: np.ndarray, model: np.ndarray) -> tuple[float, float]:
    """(by how much a fired trace's angles are too large, half-width), deg: where its compression lies best
    over the model's, both over AT, the level left free. The half-width is what another charge, or gain,
    could make of it."""
    inside = (RISING[0] <= AT) & (RISING[1] >= AT)
    due = model[inside]
    shifts = np.arange(-360.0, 360.0, 2.0 * STEP)
    best = []
    for free in (False, True):
        left = []
        for by in shifts:
            found = np.interp(AT[inside] + by, AT, mean, period=720.0)
            gain = float(np.polyfit(due, found, 1)[0]) if free else 1.0
            rest = found - gain * due
            left.append(float(np.var(rest)) / max(float(np.var(found)), 1e-9))
        best.append(float(shifts[int(np.argmin(left))]))
    apart = abs((best[1] - best[0] + 360.0) % 720.0 - 360.0)
    return best[1], max(ROUGHLY, apart)


def _lost(pressure: np.ndarray, top: float) -> float:
    """1 less the pressure QUARTER deg after over that before top dead centre at ``top`` deg."""
    after, before = (np.interp((top + by) % 720.0, AT, pressure) for by in (QUARTER, -QUARTER))
    return float(1.0 - after / before)
