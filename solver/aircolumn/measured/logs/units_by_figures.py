"""Units that a log does not name, but its figures tell."""

from collections.abc import Sequence
from dataclasses import replace

import numpy as np

from aircolumn.measured.logs.channels import scale_of
from aircolumn.measured.logs.choose import power_over_torque
from aircolumn.measured.logs.guess import UNKNOWN, LogColumn

NEAR = 0.01  # relative: torque times speed is power
#: What may be meant where power, or torque, has a unit.
CHOICES = {"torque": ("N*m", "lbf*ft", "kgf*m", "daN*m"), "power": ("kW", "hp", "PS", "W")}
#: Atmospheres lie between these figures, and in no two units alike.
BAROMETERS = {
    "bar": (0.8, 1.1),
    "psi": (11.5, 15.8),
    "inHg": (24.0, 32.0),
    "kPa": (80.0, 110.0),
    "mmHg": (600.0, 795.0),
    "mbar": (800.0, 1100.0),
    "Pa": (8e4, 1.1e5),
}


def with_units(found: Sequence[LogColumn], cells: dict[int, np.ndarray]) -> list[LogColumn]:
    """The columns, each UNKNOWN unit as the figures tell it (cells: by number of column; scaled here); those
    whose figures do not tell stay UNKNOWN."""
    result = []
    for c in found:
        unit = c.unit
        if unit == UNKNOWN:
            unit = _barometer(cells[c.number]) if c.channel == "barometer" else _by_the_other(c, found, cells)
            if unit != UNKNOWN:
                factor, shift = scale_of(c.channel, unit)
                cells[c.number] = factor * cells[c.number] + shift
        result.append(replace(c, unit=unit))
    return result


def _barometer(values: np.ndarray) -> str:
    middle = float(np.nanmedian(values)) if np.isfinite(values).any() else 0.0
    return next((u for u, (low, high) in BAROMETERS.items() if low <= middle <= high), UNKNOWN)


def _by_the_other(c: LogColumn, found: Sequence[LogColumn], cells: dict[int, np.ndarray]) -> str:
    """The unit of torque by that of power, or the other way round."""
    other = {"torque": "power", "power": "torque"}[c.channel]
    speed = next((cells[f.number] for f in found if f.channel == "rpm"), None)
    known = next((cells[f.number] for f in found if f.channel == other and f.unit != UNKNOWN), None)
    if speed is None or known is None:
        return UNKNOWN
    own = cells[c.number]
    share = (
        power_over_torque(known, own, speed)
        if c.channel == "torque"
        else 1.0 / power_over_torque(own, known, speed)
    )
    fit = {u: abs(share / scale_of(c.channel, u)[0] - 1.0) for u in CHOICES[c.channel]}
    best = min(fit, key=lambda u: fit[u])
    return best if fit[best] < NEAR else UNKNOWN
