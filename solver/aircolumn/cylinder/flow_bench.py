"""Flow-bench readings to discharge coefficients, and back.

A bench draws air from the room through the valve at a constant depression and reads volume flow at
room state. With the isentropic flow per area m'(p, T, p - depression) of ends/nozzle.py (Heywood
1988, appendix C),

    Cd = rho Q / (A m'),   A: the reference area stated, of all valves measured together.

The same room state turns Cd back into the reading.
"""

import numpy as np

from aircolumn.ends.nozzle import mass_flux

GAMMA, GAS_CONSTANT = 1.4, 287.05  # dry air near room temperature


def _flux_and_density(depression, pressure, temperature):
    rho = pressure / (GAS_CONSTANT * temperature)
    flux = mass_flux(pressure, rho, GAMMA, pressure - depression)
    return flux, rho


def discharge_coefficients(flow, area, depression, pressure, temperature) -> np.ndarray:
    """Cd of each reading; flow m3/s, area m2 (arrays), depression and room pressure Pa, K."""
    flux, rho = _flux_and_density(depression, pressure, temperature)
    return rho * np.asarray(flow, dtype=float) / (np.asarray(area, dtype=float) * flux)


def bench_flow(coefficient, area, depression, pressure, temperature) -> np.ndarray:
    """Volume flow, m3/s, the bench would read."""
    flux, rho = _flux_and_density(depression, pressure, temperature)
    return np.asarray(coefficient) * np.asarray(area) * flux / rho
