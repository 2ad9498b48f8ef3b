"""Water vapour in ambient air.

Saturation pressure over water (Buck 1996 form of Buck, J. Appl. Meteorol. 20, 1981):
    p = 611.21 exp((18.678 - t/234.5) t / (257.14 + t)),  t in degC
"""

from typing import Any

from numpy import exp

from aircolumn.constants import ZERO_CELSIUS


def water_saturation_pressure(temperature: Any) -> Any:
    """Saturation pressure of water vapour, Pa, at ``temperature`` (K; a number or an array)."""
    t = temperature - ZERO_CELSIUS
    return 611.21 * exp((18.678 - t / 234.5) * t / (257.14 + t))


LATENT_HEAT_OF_WATER = 2.45e6  # J/kg at 20 degC, to the percent from 0 to 40 degC (steam tables, from memory)


def vapour_mole_fraction(pressure: float, temperature: float, humidity: float) -> float:
    """Mole fraction of vapour at total ``pressure`` (Pa), K and relative humidity (0 to 1)."""
    return humidity * water_saturation_pressure(temperature) / pressure
