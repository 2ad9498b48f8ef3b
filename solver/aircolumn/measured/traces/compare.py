"""Measured traces beside the model's: harmonics, and ringing while the valve is shut."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from aircolumn.measured.traces.cycles import AT, STEP

HARMONICS = 6
SHUT_MARGIN = 15.0  # deg, off both ends of the shut part
FINER = 16  # times the spectrum's own spacing, by zeros added
FEWEST_SWINGS = 1.5  # in the shut part: slower ones are no ringing


@dataclass(frozen=True)
class Harmonic:
    """number: swings in a cycle of 720 deg; amplitudes, Pa, measured and of the model; later: by how many deg
    of crank angle the measured one comes later."""

    number: int
    measured: float
    model: float
    later: float


@dataclass(frozen=True)
class Ringing:
    """Frequency, Hz, of the strongest swing while the intake valve is shut, measured and of the model;
    back: time there and back of a column that is shut at one end, s, measured and of the model."""

    measured: float
    model: float

    @property
    def back(self) -> tuple[float, float]:
        """1 / (2 f): a quarter wave passes four times in a swing."""
        return 0.5 / self.measured, 0.5 / self.model


def harmonics(measured: np.ndarray, model: np.ndarray) -> list[Harmonic]:
    """The first harmonics of two signals over AT, Pa (Fourier series of the cycle)."""
    found = []
    one, other = (2.0 * np.fft.rfft(s) / s.size for s in (measured, model))
    for k in range(1, HARMONICS + 1):
        phase = float(np.angle(other[k] / one[k])) if abs(one[k]) > 0.0 else 0.0
        found.append(Harmonic(k, float(abs(one[k])), float(abs(other[k])), phase / (2.0 * np.pi * k) * 720.0))
    return found


def ringing(measured: np.ndarray, model: np.ndarray, events: dict[str, float], rpm: float) -> Ringing | None:
    """Of two signals over AT while the intake valve is shut; None if either hardly rings there."""
    start = events["intake_closes"] + SHUT_MARGIN
    stop = events["intake_opens"] + (720.0 if events["intake_opens"] < events["intake_closes"] else 0.0)
    at = np.arange(start, stop - SHUT_MARGIN, STEP)
    found = [_strongest(np.interp(at % 720.0, AT, s, period=720.0)) for s in (measured, model)]
    if None in found:
        return None
    per_second = 6.0 * rpm  # deg
    return Ringing(*(float(f or 0.0) * per_second for f in found))


def _strongest(signal: np.ndarray) -> float | None:
    """Swings per deg of the strongest line of its spectrum (Hann's window, top of a parabola)."""
    x = np.arange(signal.size)
    rest = (signal - np.polyval(np.polyfit(x, signal, 1), x)) * np.hanning(signal.size)
    size = FINER * signal.size
    lines = np.abs(np.fft.rfft(rest, size))
    first = int(np.ceil(FEWEST_SWINGS * size / signal.size))
    k = first + int(np.argmax(lines[first:-1]))
    if k <= first or lines[k] <= 0.0:
        return None
    a, b, c = np.log(lines[k - 1 : k + 2])
    top = 0.5 * (a - c) / (a - 2.0 * b + c)
    return float((k + top) / size / STEP)
