"""Flow-bench readings to discharge coefficients, and back.

A bench holds a constant pressure difference across the valve and reads volume flow at room state.
Flow into the cylinder is drawn from the room, so the room is what lies upstream; flow out of it
(exhaust valves, and intake valves in reverse) is blown into the room from a cylinder at room
pressure plus the difference, taken at room temperature. With the isentropic flow per area
m'(upstream, T, downstream) of ends/nozzle.py (Heywood 1988, appendix C),

    Cd = rho Q / (A m'),   rho: of the room, A: the reference area stated, of all valves measured
                           together

The same states turn Cd back into the reading.
"""

from collections.abc import Sequence

import numpy as np

from aircolumn.constants import AIR_GAMMA, AIR_GAS_CONSTANT
from aircolumn.flow.ends.nozzle import mass_flux


def _flux_and_density(
    depression: float, pressure: float, temperature: float, blown: bool
) -> tuple[float, float]:
    rt = AIR_GAS_CONSTANT * temperature
    upstream = pressure + depression if blown else pressure
    flux = mass_flux(upstream, upstream / rt, AIR_GAMMA, upstream - depression)
    return flux, pressure / rt


def discharge_coefficients(
    flow: Sequence[float],
    area: np.ndarray,
    depression: float,
    pressure: float,
    temperature: float,
    blown: bool,
) -> np.ndarray:
    """Cd of each reading; flow m3/s, area m2 (arrays), depression and room pressure Pa, K; blown:
    out of the cylinder."""
    flux, rho = _flux_and_density(depression, pressure, temperature, blown)
    return rho * np.asarray(flow, dtype=float) / (np.asarray(area, dtype=float) * flux)


def bench_flow(
    coefficient: np.ndarray,
    area: np.ndarray,
    depression: float,
    pressure: float,
    temperature: float,
    blown: bool,
) -> np.ndarray:
    """Volume flow, m3/s, the bench would read."""
    flux, rho = _flux_and_density(depression, pressure, temperature, blown)
    return np.asarray(coefficient) * np.asarray(area) * flux / rho
