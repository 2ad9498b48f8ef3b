"""One computed value beside its reference."""

from dataclasses import dataclass

import numpy as np


@dataclass(frozen=True)
class Check:
    """A computed value, its reference, the tolerance and the source.

    kind: "relative" (|computed/reference - 1| <= tolerance), "absolute", "at most" or "at least"
    (the tolerance is then unused and the reference is the bound), "reported" (relative, and a miss
    is shown but does not fail: for engines whose geometry is guessed).
    """

    case: str
    quantity: str
    reference: float
    computed: float
    tolerance: float
    source: str
    kind: str = "relative"

    @property
    def error(self) -> float:
        """What is compared with the tolerance."""
        if self.kind in ("relative", "reported"):
            return abs(self.computed / self.reference - 1.0)
        if self.kind == "absolute":
            return abs(self.computed - self.reference)
        sign = 1.0 if self.kind == "at most" else -1.0
        return max(sign * (self.computed - self.reference), 0.0)

    @property
    def passed(self) -> bool:
        """Whether the check holds (never with NaN)."""
        return bool(np.isfinite(self.computed)) and (self.kind == "reported" or not self.missed)

    @property
    def missed(self) -> bool:
        """Whether the error is beyond the tolerance."""
        return not self.error <= (0.0 if self.kind in ("at most", "at least") else self.tolerance)


def frequency_of(time, signal, guess: float) -> float:
    """Frequency, Hz, of a decaying oscillation by least squares, started at ``guess``."""
    from scipy.optimize import curve_fit

    def model(t, amplitude, decay, frequency, phase, offset, drift):
        swing = amplitude * np.exp(-decay * t) * np.cos(2 * np.pi * frequency * t + phase)
        return swing + offset + drift * t

    centre = float(np.mean(signal))
    start = (float(np.ptp(signal)) / 2, 1.0, guess, 0.0, centre, 0.0)
    values, _ = curve_fit(model, time, signal, p0=start, maxfev=20000)
    return float(abs(values[2]))
