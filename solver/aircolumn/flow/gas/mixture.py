"""The three working gases (fresh air, fuel vapour, burned gas) in the form the kernels use.

Each is a thermally perfect gas: p = rho R T, cv(T) a polynomial of degree five fitted to the
species data over 220 to 3200 K. The fit keeps the kernels free of branches; how well it fits is
tested. Composition is frozen in the ducts; what burned gas in a cylinder holds beyond that in
equilibrium stands in a table (products.py).
"""

from __future__ import annotations

from collections import namedtuple
from collections.abc import Callable
from dataclasses import dataclass
from functools import lru_cache
from typing import TYPE_CHECKING, Any

import numpy as np

from aircolumn.constants import AIR_GAMMA, AIR_GAS_CONSTANT
from aircolumn.flow.gas import species as sp
from aircolumn.flow.gas.fuels import GASOLINE, Fuel
from aircolumn.flow.gas.kernels import HOTTEST
from aircolumn.flow.gas.products import products_table

if TYPE_CHECKING:
    from aircolumn.flow.gas.fuels import BlendedCp

DEGREE = 5
FIT_RANGE = (220.0, HOTTEST)  # K
FUEL_TRUSTED_TO = 1300.0  # K; above it fuel vapour is on the way to burning and weighs little

#: What the kernels receive: gas constants (J/(kg K)) and the cv coefficients (J/(kg K), in
#: powers of T/1000 K) of air (a), fuel vapour (f) and burned gas (b).
Gas = namedtuple("Gas", "Ra Rf Rb a0 a1 a2 a3 a4 a5 f0 f1 f2 f3 f4 f5 b0 b1 b2 b3 b4 b5")


@dataclass(frozen=True)
class WorkingGas:
    """The gases of one engine.

    gas: kernel constants. air_fuel_ratio: kg moist air per kg fuel. stoichiometric: the same at
    lambda 1. heat_release: J per kg fuel when air, fuel vapour and burned gas share the temperature
    at which sensible energy is zero (0 K on the fitted curves). released: J per kg fuel vapour at
    25 degC, less than the lower heating value where CO and H2 are left over. products: table of
    products.py. water: mole fraction of vapour in the air.
    """

    gas: Gas
    fuel: Fuel
    air_fuel_ratio: float
    stoichiometric: float
    released: float
    heat_release: float
    burned_moles: dict
    products: np.ndarray
    water: float = 0.0


def perfect_gas(gamma: float = AIR_GAMMA, gas_constant: float = AIR_GAS_CONSTANT) -> Gas:
    """A gas with constant heat capacities, the same for all three compositions (textbook cases).

    Parameters
    ----------
    gamma : float
        Ratio of heat capacities.
    gas_constant : float
        J/(kg K).

    Returns
    -------
    Gas

    Raises
    ------
    ValueError
        For a gamma that is not above 1, or a gas constant that is not above 0.

    Examples
    --------
    >>> perfect_gas().Ra
    287.05
    """
    if not 1.0 < gamma < np.inf:
        raise ValueError(f"gamma is {gamma}: a finite number above 1 is expected")
    if not 0.0 < gas_constant < np.inf:
        raise ValueError(f"the gas constant is {gas_constant}: a finite number above 0 is expected")
    row = [gas_constant / (gamma - 1.0)] + [0.0] * DEGREE
    return Gas(gas_constant, gas_constant, gas_constant, *(row * 3))


def fit_cv(molar_cp: Callable | BlendedCp, molar_mass: float, trusted_to: float = FIT_RANGE[1]) -> np.ndarray:
    """Coefficients (J/(kg K), powers of T/1000) of cv fitted to ``molar_cp(T)`` in J/(kmol K).

    Equal relative error over FIT_RANGE, points above ``trusted_to`` (K) weighing a tenth.
    """
    t = np.linspace(*FIT_RANGE, 1200)
    cv = (molar_cp(t) - sp.GAS_CONSTANT) / molar_mass
    weight = np.where(t <= trusted_to, 1.0, 0.1) / cv
    return np.polynomial.polynomial.polyfit(t / 1000.0, cv, DEGREE, w=weight)


def _blend(moles: dict) -> tuple[Any, Callable]:
    """Molar mass (kg/kmol) and molar cp function of a mixture given as {species: moles}."""
    total = sum(moles.values())
    mass = sum(n * s.molar_mass for s, n in moles.items()) / total
    return mass, lambda t: sum(n * s.molar_cp(t) for s, n in moles.items()) / total


def _energy(row: np.ndarray, temperature: float) -> float:
    t = temperature / 1000.0
    return temperature * sum(c * t**k / (k + 1) for k, c in enumerate(row))


def moist_air(vapour_mole_fraction: float) -> dict:
    """Mole fractions of air with the given water-vapour mole fraction."""
    dry = 1.0 - vapour_mole_fraction
    moles = {s: x * dry for s, x in sp.DRY_AIR.items()}
    moles[sp.H2O] = vapour_mole_fraction
    return moles


def moist_air_constant(vapour_mole_fraction: Any) -> Any:
    """Gas constant of moist air, J/(kg K); takes a number or an array."""
    return sp.GAS_CONSTANT / _blend(moist_air(vapour_mole_fraction))[0]


def stoichiometric_ratio(air: dict, fuel: Fuel = GASOLINE) -> float:
    """Kilograms of the given moist air that one kilogram of the fuel needs."""
    air_mass, _ = _blend(air)
    return fuel.oxygen_needed / air[sp.O2] * air_mass / fuel.molar_mass


def burned_products(air: dict, relative_ratio: float, fuel: Fuel = GASOLINE) -> dict:
    """Moles of products per mole of fuel at ``relative_ratio`` (lambda).

    Lean: complete combustion, oxygen left over. Rich: all oxygen used, CO and H2 in the water-gas
    equilibrium frozen at K = 3.5 (Heywood 1988, section 4.9.2, from memory).
    """
    c, h = fuel.carbon, fuel.hydrogen
    oxygen = relative_ratio * fuel.oxygen_needed
    moles = {s: x / air[sp.O2] * oxygen for s, x in air.items() if s is not sp.O2}
    water_in = moles.pop(sp.H2O)
    short = 2.0 * (fuel.oxygen_needed - oxygen)  # moles of CO + H2
    carbon_monoxide = 0.0
    if short > 0.0:
        carbon_monoxide = _water_gas_split(c, h / 2.0 + water_in, short)
    else:
        moles[sp.O2] = -short / 2.0
    moles[sp.CO] = carbon_monoxide
    moles[sp.H2] = max(short, 0.0) - carbon_monoxide
    moles[sp.CO2] = c - carbon_monoxide
    moles[sp.H2O] = h / 2.0 + water_in - moles[sp.H2]
    return moles


def _water_gas_split(carbon: float, hydrogen: float, short: float, k: float = 3.5) -> float:
    """CO moles x from k = [H2O][CO] / ([CO2][H2]), with H2 = short - x."""
    a = k - 1.0
    b = -(k * (carbon + short) + hydrogen - short)
    return (-b - np.sqrt(b * b - 4.0 * a * k * carbon * short)) / (2.0 * a)


@lru_cache(maxsize=64)
def working_gas(
    relative_ratio: float, fuel: Fuel = GASOLINE, vapour_mole_fraction: float = 0.0
) -> WorkingGas:
    """The three gases of an engine.

    The heating value of the CO and H2 left over from a rich mixture is not released (their
    formation enthalpies).

    Parameters
    ----------
    relative_ratio : float
        Lambda.
    fuel : Fuel
        See gas/fuels.py.
    vapour_mole_fraction : float
        Of water, in the air.

    Returns
    -------
    WorkingGas
    """
    air = moist_air(vapour_mole_fraction)
    products = burned_products(air, relative_ratio, fuel)
    air_mass, air_cp = _blend(air)
    burned_mass, burned_cp = _blend(products)
    rows = (
        fit_cv(air_cp, air_mass),
        fit_cv(fuel.molar_cp, fuel.molar_mass, FUEL_TRUSTED_TO),
        fit_cv(burned_cp, burned_mass),
    )
    constants = [sp.GAS_CONSTANT / m for m in (air_mass, fuel.molar_mass, burned_mass)]
    gas = Gas(*constants, *np.concatenate(rows))

    stoichiometric = stoichiometric_ratio(air, fuel)
    ratio = relative_ratio * stoichiometric
    t = sp.REFERENCE_TEMPERATURE
    left_over = _unreleased(products) / fuel.molar_mass
    enthalpy = [_energy(row, t) + r * t for row, r in zip(rows, constants, strict=True)]
    # Sensible enthalpies are counted from 0 K, the heating value from 25 degC: shift it.
    shift = (1.0 + ratio) * enthalpy[2] - enthalpy[1] - ratio * enthalpy[0]
    released = fuel.heating_value + fuel.latent_heat - left_over
    return WorkingGas(
        gas=gas,
        fuel=fuel,
        air_fuel_ratio=ratio,
        stoichiometric=stoichiometric,
        released=released,
        heat_release=released + shift,
        burned_moles=products,
        products=products_table(gas, products),
        water=vapour_mole_fraction,
    )


def _unreleased(products: dict) -> float:
    """Heating value, J per kmol of fuel, of the CO and H2 left in the products."""
    t = sp.REFERENCE_TEMPERATURE
    half_oxygen = 0.5 * sp.O2.molar_enthalpy(t)
    carbon = sp.CO.molar_enthalpy(t) + half_oxygen - sp.CO2.molar_enthalpy(t)
    hydrogen = sp.H2.molar_enthalpy(t) + half_oxygen - sp.H2O.molar_enthalpy(t)
    return products[sp.CO] * carbon + products[sp.H2] * hydrogen
