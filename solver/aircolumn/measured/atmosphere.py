"""Torque and power at the atmosphere of a standard.

corrected = observed x factor, the factor from total pressure p, dry pressure pd = p - vapour
pressure, and the temperature t (degC) of the air the engine draws. At full load, spark ignition,
no supercharging. All formulas, reference states and ranges are from memory:

SAE J1349 (June 1990 form)  1.180 (99 kPa / pd) sqrt((t + 273)/298) - 0.18. Friction does not
    change with the atmosphere: with a mechanical efficiency of 85 %, c brake = g indicated -
    friction gives c = g / 0.85 - 0.15 / 0.85, rounded to 1.18 g - 0.18.
SAE J607 (withdrawn, in use on many dynos)  (29.92 inHg / pd) sqrt((t_F + 460)/520); here on brake
    torque. Some applied it to torque plus friction and took friction off again: that reads higher
    by (factor - 1) x friction / brake. Ask which was done.
DIN 70020  (101.3 kPa / p) sqrt((t + 273)/293), no humidity
ISO 1585 (1992), spark ignition  (99 kPa / pd)^1.2 ((t + 273)/298)^0.6; the exponents also in
    directive 80/1269/EEC, by which engines are stated "EEC". An older form with exponents 1 and
    0.5 is in print under the same name: it differs by 0.8 % at 95 kPa. Ask which one was used.

Outside the range in which a standard allows its factor the value still follows, with a warning.
The ranges of pressure and temperature are from memory. For the factors 0.93 to 1.07 no source was
found, nor any limit for J607 and DIN 70020, where J1349's pressures and temperatures are used:
they only warn (common practice, no source).
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from typing import TYPE_CHECKING, Any

import numpy as np

from aircolumn.constants import ATMOSPHERE, INCH_OF_MERCURY, ZERO_CELSIUS
from aircolumn.errors import RequestError, no_such
from aircolumn.flow.gas.humid_air import water_saturation_pressure

if TYPE_CHECKING:
    import xarray as xr

    from aircolumn.engine.description.engine_file import Engine


@dataclass(frozen=True)
class Atmosphere:
    """Air the engine draws: total pressure (Pa), temperature (K), relative humidity (0 to 1);
    numbers or arrays of one shape."""

    pressure: Any
    temperature: Any
    humidity: Any

    @property
    def vapour_pressure(self) -> Any:
        """Partial pressure of water vapour, Pa."""
        return self.humidity * water_saturation_pressure(self.temperature)

    @property
    def dry_pressure(self) -> Any:
        """Pressure without the vapour, Pa."""
        return self.pressure - self.vapour_pressure


def same_vapour(humidity: Any, measured_at: Any, temperature: Any) -> np.ndarray:
    """Relative humidity at ``temperature`` of air in which it was ``humidity`` at ``measured_at``
    (K): warmed or cooled, air keeps its vapour pressure, not its relative humidity."""
    return humidity * water_saturation_pressure(measured_at) / water_saturation_pressure(temperature)


@dataclass(frozen=True)
class Standard:
    """One standard: formula of (dry Pa, total Pa, K), its reference in words, allowed ranges of
    pressure (Pa, dry or total), temperature (K) and factor."""

    title: str
    reference: str
    formula: Callable
    pressures: tuple = (90e3, 105e3)
    temperatures: tuple = (288.15, 308.15)
    factors: tuple | None = None
    dry: bool = True


def _kelvin(temperature: Any) -> Any:
    """t + 273 as the standards write it, from a true absolute temperature."""
    return temperature - 0.15


def _j1349(dry: Any, _: Any, temperature: Any) -> Any:
    return 1.180 * (99e3 / dry) * np.sqrt(_kelvin(temperature) / 298.0) - 0.18


def _j607(dry: Any, _: Any, temperature: Any) -> Any:
    fahrenheit = 1.8 * (temperature - ZERO_CELSIUS) + 32.0
    return 29.92 * INCH_OF_MERCURY / dry * np.sqrt((fahrenheit + 460.0) / 520.0)


def _din(_: float, total: float, temperature: float) -> float:
    return 101.3e3 / total * np.sqrt(_kelvin(temperature) / 293.0)


def _iso(dry: Any, _: Any, temperature: Any) -> Any:
    return (99e3 / dry) ** 1.2 * (_kelvin(temperature) / 298.0) ** 0.6


STANDARDS = {
    "j1349": Standard("SAE J1349", "99 kPa dry, 25 degC", _j1349, factors=(0.93, 1.07)),
    "j607": Standard("SAE J607", "29.92 inHg dry, 60 degF", _j607),
    "din70020": Standard("DIN 70020", "101.3 kPa, 20 degC", _din, dry=False),
    "iso1585": Standard(
        "ISO 1585, spark ignition", "99 kPa dry, 25 degC", _iso, (80e3, 110e3), factors=(0.93, 1.07)
    ),
}
#: How torque and power of a file may be stated: as measured, or corrected by a standard.
OBSERVED = "observed"
STATEMENTS = (OBSERVED, *STANDARDS)


def title_of(name: str) -> str:
    """A standard's title; "as measured" for "observed"."""
    return "as measured" if name == OBSERVED else STANDARDS[name].title


def check_standard(name: str) -> None:
    """Raise RequestError for a standard that is not known."""
    if name not in STANDARDS:
        raise RequestError(no_such("standard", name, STANDARDS))


def check_draws_itself(engine: Engine) -> None:
    """Raise RequestError for supplied air, for which the standards' factors are not."""
    if engine.intake.supply is not None:
        raise RequestError(
            "the factors of the standards are for engines that draw from the open"
            " air; this one has intake.supply"
        )


def factor(standard: str, air: Atmosphere) -> Any:
    """Corrected over observed torque or power; 1 for "observed". KeyError for unknown names."""
    if standard == OBSERVED:
        return 1.0
    return STANDARDS[standard].formula(air.dry_pressure, air.pressure, air.temperature)


def convert(value: float, stated: str, wanted: str, air: Atmosphere) -> float:
    """A torque or power stated by one standard (or "observed"), as another states it."""
    return value / factor(stated, air) * factor(wanted, air)


def add_corrected(data: xr.Dataset, engine: Engine, standard: str) -> float:
    """A curve's Dataset with torque_corrected and power_corrected: what the engine would be said
    to have by ``standard``, run in its file's ambient air. Returns the factor."""
    a = engine.intake.ambient
    ratio = float(factor(standard, Atmosphere(a.pressure, a.temperature, a.humidity)))
    for name in ("torque", "power"):
        title = f"{data[name].attrs['long_name']} at {STANDARDS[standard].title}"
        data[f"{name}_corrected"] = ratio * data[name]
        data[f"{name}_corrected"].attrs = {**data[name].attrs, "long_name": title}
    data.attrs["standard"] = STANDARDS[standard].title
    return ratio


def warnings(standard: str, air: Atmosphere) -> list[str]:
    """What the standard does not allow about this atmosphere, in words."""
    if standard == OBSERVED:
        return []
    s = STANDARDS[standard]
    pressure = air.dry_pressure if s.dry else air.pressure
    checks = [
        ("dry pressure" if s.dry else "pressure", pressure, s.pressures, 1e-3, 0.0, "kPa"),
        ("inlet-air temperature", air.temperature, s.temperatures, 1.0, -ZERO_CELSIUS, "degC"),
    ]
    if s.factors:
        checks.append(("factor", factor(standard, air), s.factors, 1.0, 0.0, ""))
    found = []
    for name, values, (low, high), scale, shift, unit in checks:
        least, most = (float(f(values)) for f in (np.min, np.max))
        if least < low or most > high:
            worst = least if least < low else most
            said = [f"{scale * v + shift:.4g}" for v in (worst, low, high)]
            found.append(
                f"{s.title}: {name} {said[0]} {unit} is outside {said[1]} to {said[2]} {unit}".replace(
                    "  ", " "
                ).rstrip()
            )
    return found


def pressure_at_altitude(altitude: float) -> float:
    """Pressure of the standard atmosphere, Pa, at ``altitude`` (m, troposphere).

    ISO 2533: T = 288.15 - 0.0065 H, p = 101325 (T / 288.15)^5.25588, H the geopotential altitude
    (taken equal to the altitude: 0.02 % apart at 1000 m).
    """
    return ATMOSPHERE * ((288.15 - 0.0065 * altitude) / 288.15) ** 5.25588
