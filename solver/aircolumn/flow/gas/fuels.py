"""Fuels as data: what they are made of, what they release, what their evaporation takes.

Heating values are lower ones at 25 degC, of the liquid where the fuel is one (as handbooks give
them); latent heats at 25 degC, 0 for gases. Sources, all from memory unless said otherwise:

gasoline   C8.26 H15.5 and vapour heat capacity: Heywood, Internal Combustion Engine Fundamentals
           (1988), table 4.10. 43.1 MJ/kg: what hydrocarbons of this H/C release, 2.95 MJ to a kg of
           stoichiometric air as blends of alkanes and aromatics do by their heats of formation
           (recomputed in tests/flow/test_fuels_energy.py); certification gasoline has 43.0 to 43.1.
           The 44.0 of table D.4, with which it is often printed, is more than any hydrocarbon that
           gasoline is made of releases (2.93 to 3.00 MJ to a kg of air). 350 kJ/kg: of the size
           measured on hydrocarbon blendstocks (Chupka et al., SAE 2015-01-0763; Heywood's 305 is
           near that of iso-octane)
ethanol, methanol, methane, propane   heating values from the heats of formation of the NASA set
           (species.py; computed); latent heats 42.3 and 37.4 kJ/mol: CRC Handbook, checked against
           CoolProp in the tests
e10, e85   10 and 85 % of ethanol by volume in gasoline, densities 0.745 and 0.789 kg/L; latent
           heats add by mass
"""

from collections.abc import Callable
from dataclasses import dataclass, replace
from typing import Any

import numpy as np

from aircolumn.flow.gas import species as sp
from aircolumn.flow.gas import volatility
from aircolumn.flow.gas.volatility import Volatility

CARBON, HYDROGEN, OXYGEN = 12.011, 1.00794, 15.9994  # kg/kmol
_CALORIE = 4184.0  # J/kcal


@dataclass(frozen=True)
class Fuel:
    """Atoms in a mean molecule; lower heating value and latent heat, J/kg; molar heat capacity of
    the vapour, J/(kmol K), as a function of temperature (K, array); how it evaporates."""

    carbon: float
    hydrogen: float
    oxygen: float
    heating_value: float
    latent_heat: float
    molar_cp: Callable
    volatility: Volatility

    @property
    def molar_mass(self) -> float:
        """kg/kmol."""
        return CARBON * self.carbon + HYDROGEN * self.hydrogen + OXYGEN * self.oxygen

    @property
    def oxygen_needed(self) -> float:
        """Molecules of O2 that burn one molecule."""
        return self.carbon + self.hydrogen / 4.0 - self.oxygen / 2.0

    @property
    def evaporates(self) -> Volatility:
        """How it does, or that it is a gas."""
        return self.volatility if self.latent_heat > 0.0 else volatility.GASEOUS


def gasoline_cp(temperature: np.ndarray) -> np.ndarray:
    """Molar heat capacity of gasoline vapour, J/(kmol K); held constant above 1500 K."""
    t = np.minimum(np.asarray(temperature, dtype=float), 1500.0) / 1000.0
    a1, a2, a3, a4, a5 = -24.078, 256.63, -201.68, 64.75, 0.5808
    return _CALORIE * (a1 + a2 * t + a3 * t**2 + a4 * t**3 + a5 / t**2)


@dataclass(frozen=True)
class BlendedCp:
    """Molar heat capacity of a blend of two fuels, given the second's mole fraction."""

    first: Callable
    second: Callable
    share: float

    def __call__(self, temperature: np.ndarray) -> np.ndarray:
        return (1.0 - self.share) * self.first(temperature) + self.share * self.second(temperature)


def like_gasoline(carbon: Any, hydrogen: Any, oxygen: Any, heating_value: Any, latent_heat: Any) -> Fuel:
    """A fuel of the user's own: it evaporates as gasoline does, and its vapour has gasoline's heat
    capacity per kilogram."""
    like = GASOLINE.volatility
    known = Fuel(carbon, hydrogen, oxygen, heating_value, latent_heat, gasoline_cp, like)
    return replace(known, molar_cp=ScaledCp(known.molar_mass / GASOLINE.molar_mass))


@dataclass(frozen=True)
class ScaledCp:
    """Gasoline's molar heat capacity times a factor."""

    scale: float

    def __call__(self, temperature: Any) -> Any:
        return self.scale * gasoline_cp(temperature)


def pure(
    species: sp.Species,
    carbon: int,
    hydrogen: int,
    oxygen: int,
    evaporation: float = 0.0,
    evaporates: Volatility = volatility.GASEOUS,
) -> Fuel:
    """A fuel of one species; evaporation: heat at 25 degC, J/kmol, 0 for a gas."""
    t = sp.REFERENCE_TEMPERATURE
    released = (
        species.molar_enthalpy(t)
        + (carbon + hydrogen / 4.0 - oxygen / 2.0) * sp.O2.molar_enthalpy(t)
        - carbon * sp.CO2.molar_enthalpy(t)
        - hydrogen / 2.0 * sp.H2O.molar_enthalpy(t)
        - evaporation
    )
    mass = species.molar_mass
    heating_value, latent_heat = float(released) / mass, evaporation / mass
    return Fuel(carbon, hydrogen, oxygen, heating_value, latent_heat, species.molar_cp, evaporates)


def blend(first: Fuel, second: Fuel, mass_share: float) -> Fuel:
    """Two fuels mixed, ``mass_share`` of the second."""
    moles = np.array([(1.0 - mass_share) / first.molar_mass, mass_share / second.molar_mass])
    part, other = moles / moles.sum()

    def by_mole(name: str) -> Any:
        return float(part * getattr(first, name) + other * getattr(second, name))

    def by_mass(name: str) -> Any:
        return (1.0 - mass_share) * getattr(first, name) + mass_share * getattr(second, name)

    return Fuel(
        by_mole("carbon"),
        by_mole("hydrogen"),
        by_mole("oxygen"),
        by_mass("heating_value"),
        by_mass("latent_heat"),
        BlendedCp(first.molar_cp, second.molar_cp, float(other)),
        volatility.blended(first.volatility, second.volatility, mass_share),
    )


def _by_volume(share: float) -> float:
    """Mass share of ethanol in gasoline from its share by volume."""
    heavy, light = 0.789 * share, 0.745 * (1.0 - share)
    return heavy / (heavy + light)


GASOLINE = Fuel(8.26, 15.5, 0.0, 43.1e6, 350e3, gasoline_cp, volatility.GASOLINE)
ETHANOL = pure(sp.C2H5OH, 2, 6, 1, 42.3e6, volatility.ETHANOL)
METHANOL = pure(sp.CH3OH, 1, 4, 1, 37.4e6, volatility.METHANOL)

FUELS = {
    "gasoline": GASOLINE,
    "e10": blend(GASOLINE, ETHANOL, _by_volume(0.10)),
    "e85": blend(GASOLINE, ETHANOL, _by_volume(0.85)),
    "ethanol": ETHANOL,
    "methanol": METHANOL,
    "methane": pure(sp.CH4, 1, 4, 0, evaporates=volatility.METHANE),
    "propane": pure(sp.C3H8, 3, 8, 0, evaporates=volatility.PROPANE),
}
