"""What cycles of a cylinder's pressure say: mean pressures, peaks, slopes, burn, and how much they scatter.

IMEP is the work of a cycle over the swept volume. Its coefficient of variation, standard deviation over mean,
is 1 to 3 % where an engine runs smoothly; beyond about 10 % a car drives badly (Heywood 1988, section 9.4.2,
from memory). In double logarithms compression and expansion are straight lines; their slopes, by least
squares, are the polytropic exponents n of p V^n (Heywood, section 9.2.2).
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np
from scipy.stats import t as student

from aircolumn.engine.model.operating_point import lengthened
from aircolumn.measured.traces.cycles import AT
from aircolumn.measured.traces.heat_release import HeatRelease
from aircolumn.measured.traces.pegging import COMPRESSION

if TYPE_CHECKING:
    from aircolumn.engine.description.engine_file import Engine

EXPANSION = (60.0, 10.0)  # deg before the exhaust valve opens: from, to
BOTTOM = 180.0  # deg


@dataclass(frozen=True, eq=False)
class Indicated:
    """Of each cycle: imep, gross (compression and expansion alone), peak, Pa; peak_angle, deg; exponents of
    compression and expansion of the mean cycle, measured and of the model."""

    imep: np.ndarray
    gross: np.ndarray
    peak: np.ndarray
    peak_angle: np.ndarray
    exponents: tuple[float, float]
    exponents_due: tuple[float, float]

    @property
    def variation(self) -> float | None:
        """Coefficient of variation of IMEP; None of fewer than three cycles, or where the mean is nearly
        nothing."""
        if self.imep.size < 3 or abs(float(self.imep.mean())) < 0.1 * float(np.abs(self.gross).max()):
            return None
        return float(self.imep.std(ddof=1) / self.imep.mean())


def indicated(cycles: np.ndarray, model: np.ndarray, volume: np.ndarray, exhaust_opens: float) -> Indicated:
    """Of cylinder pressures (n, angles), Pa, over AT, with their level, and the model's (angles,); volume:
    of the cylinder, m3."""
    angle = (AT + BOTTOM) % 720.0 - BOTTOM  # from bottom dead centre on
    strokes = np.abs(angle) <= BOTTOM
    order = np.argsort(angle[strokes])
    swept = float(np.ptp(volume))
    around = np.append(volume, volume[0])
    imep = np.trapezoid(np.append(cycles, cycles[:, :1], axis=1), around, axis=1) / swept
    gross = np.trapezoid(cycles[:, strokes][:, order], volume[strokes][order], axis=1) / swept
    peak = np.argmax(cycles, axis=1)
    return Indicated(
        imep,
        gross,
        cycles.max(axis=1),
        (AT[peak] + 360.0) % 720.0 - 360.0,
        *(_exponents(one, volume, exhaust_opens) for one in (cycles.mean(axis=0), model)),
    )


def _exponents(pressure: np.ndarray, volume: np.ndarray, exhaust_opens: float) -> tuple[float, float]:
    spans = (COMPRESSION, (exhaust_opens - EXPANSION[0], exhaust_opens - EXPANSION[1]))
    found = []
    for first, last in spans:
        inside = (first <= AT) & (last >= AT) & (pressure > 0.0)
        found.append(-float(np.polyfit(np.log(volume[inside]), np.log(pressure[inside]), 1)[0]))
    return found[0], found[1]


@dataclass(frozen=True)
class Burn:
    """For the engine file: ca50, duration_10_90 at its speed, ca50_scatter (None: of too few cycles), deg;
    plus_minus: half-widths of the 95 % intervals of the first two by the cycles' scatter, deg (None: one
    cycle)."""

    ca50: float
    duration_10_90: float
    ca50_scatter: float | None
    plus_minus: tuple[float, float] | None


def burn_of(engine: Engine, found: HeatRelease, rpm: float, stretch: float) -> Burn:
    """Keys of the engine file that give the burn that was measured; stretch: by which residual gas lengthens
    it in the model."""
    at_speed = engine.changed(combustion=engine.combustion.changed(reference_speed=rpm))
    own = lengthened(at_speed, rpm) * stretch
    n = len(found.angles)
    widths = None
    if n > 1:
        spread = np.array([found.angles[:, 1], (found.angles[:, 2] - found.angles[:, 0]) / own]).std(
            1, ddof=1
        )
        half = student.ppf(0.975, n - 1) * spread / np.sqrt(n)
        widths = float(half[0]), float(half[1])
    return Burn(found.ca50, found.duration / own, found.scatter, widths)


def with_burn(engine: Engine, burn: Burn, rpm: float) -> Engine:
    """The engine that burns as measured at ``rpm``."""
    keys = {"ca50": burn.ca50, "duration_10_90": burn.duration_10_90, "reference_speed": rpm}
    if burn.ca50_scatter is not None:
        keys["ca50_scatter"] = burn.ca50_scatter
    return engine.changed(combustion=engine.combustion.changed(**keys))
