"""What sets the level of a transducer that measures changes alone.

Of a cylinder: compression follows p V^n = C, so that with a wrong level d the readings are C V^-n - d: C and
d by least squares over compression, n as stated (Lapuerta, Armas & Molina, Applied Thermal Engineering 23,
2003, and Randolph, SAE 900170, compare such methods; from memory). An error of 0.01 in n moves the level by
about 0.1 % of the pressure at the end of the range.
"""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

from aircolumn.measured.traces.cycles import AT

if TYPE_CHECKING:
    from aircolumn.engine.description.traces import Pegging

COMPRESSION = (600.0, 680.0)  # deg: intake long shut, spark not yet


def polytropic_level(readings: np.ndarray, volume: np.ndarray, exponent: float) -> np.ndarray:
    """What is to be added to readings so that compression is polytropic.

    Parameters
    ----------
    readings : (..., angles) array
        Pa, over AT.
    volume : (angles,) array
        Of the cylinder, m3.
    exponent : float

    Returns
    -------
    (...) array
        Pa.

    Examples
    --------
    >>> volume = 1e-4 + 4e-4 * 0.5 * (1.0 - np.cos(np.radians(AT)))
    >>> float(np.round(polytropic_level(50.0 * volume**-1.3 - 2e4, volume, 1.3), 6))
    20000.0
    """
    inside = (COMPRESSION[0] <= AT) & (COMPRESSION[1] >= AT)
    shape = volume[inside] ** -exponent
    columns = np.column_stack([shape, np.full(shape.size, -1.0)])
    found = np.linalg.lstsq(
        columns, np.moveaxis(readings[..., inside], -1, 0).reshape(shape.size, -1), rcond=None
    )
    return found[0][1].reshape(readings.shape[:-1])


def level_of(readings: np.ndarray, pegged: Pegging, volume: np.ndarray, model: np.ndarray) -> np.ndarray:
    """What is to be added to the readings (cycles, angles), Pa, of a channel: (cycles,); model: its
    prediction."""
    if pegged.to == "polytropic":
        return polytropic_level(readings, volume, pegged.exponent)
    if pegged.to == "mean":
        return model.mean() - readings.mean(axis=-1)
    if pegged.to == "level":
        k = round((pegged.at or 0.0) % 720.0 / (AT[1] - AT[0])) % AT.size
        near = np.take(readings, range(k - 3, k + 4), axis=-1, mode="wrap")
        return (pegged.pressure or 0.0) - near.mean(axis=-1)
    return np.zeros(readings.shape[:-1])
