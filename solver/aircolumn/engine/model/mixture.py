"""The gases an engine breathes: its air, its fuel, what burns of them."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

from aircolumn.engine.description.base import required
from aircolumn.engine.description.engine_file import Engine
from aircolumn.flow.gas.humid_air import (
    LATENT_HEAT_OF_WATER,
    vapour_mole_fraction,
    water_saturation_pressure,
)
from aircolumn.flow.gas.kernels import cv_coefficients, cv_from, energy, gas_constant
from aircolumn.flow.gas.mixture import WorkingGas, moist_air, stoichiometric_ratio, working_gas
from aircolumn.flow.gas.species import H2O, REFERENCE_TEMPERATURE
from aircolumn.flow.network.items import GasState, along

if TYPE_CHECKING:
    from aircolumn.engine.description.supply import AirState
    from aircolumn.flow.gas.mixture import Gas

HALVINGS = 40  # of the vapour that might be
WATER_HALVINGS = 14
MOLAR_MASS_OF_AIR = 28.96  # kg/kmol, dry
COLDEST = 100.0  # K, of a mixture that is tried


def ambient_gas(engine: Engine) -> WorkingGas:
    """The three gases for this engine's air and mixture.

    No air is above saturation: what a supply cannot hold at its pressure and temperature has condensed before
    it, and what evaporating fuel cools out of a mixture has condensed there and given off its heat.
    """
    water = water_of_source(engine)
    gas = _gas_with(engine, water)
    if engine.mixture.vapour_share == 0.0:
        return gas
    low, high = 0.0, water  # what is held falls as more is left in it, as less heat was given off
    if _saturated(drawn(engine, gas)) >= water:
        return gas
    for _ in range(WATER_HALVINGS):
        water = 0.5 * (low + high)
        gas = _gas_with(engine, water)
        low, high = (water, high) if _saturated(drawn(engine, gas)) >= water else (low, water)
    return gas


def water_of_source(engine: Engine) -> float:
    """Mole fraction of vapour in the air that the engine takes in, at most what it can hold."""
    a = engine.intake.ambient
    return min(vapour_mole_fraction(a.pressure, a.temperature, a.humidity), _saturated(engine.intake.source))


def _saturated(air: Any) -> float:
    """Mole fraction of vapour that air of a pressure and temperature can hold."""
    return float(water_saturation_pressure(air.temperature) / air.pressure)


def _gas_with(engine: Engine, water: float) -> WorkingGas:
    """The gases of the mixture with so much vapour in the air."""
    m = engine.mixture
    ratio, fuel = m.relative_air_fuel_ratio, m.burnt
    if ratio is None:
        ratio = required(m.air_fuel_ratio) / stoichiometric_ratio(moist_air(water), fuel)
    return working_gas(ratio, fuel, water)


def drawn(engine: Engine, gas: WorkingGas) -> GasState:
    """What comes in through the throttle, at the pressure of its source: air, or air with vapour
    that has cooled it:

        h_air(T) + f h_vapour(T) = h_air(T_source) + f (h_vapour(25 degC) - L)

    f: vapour per kilogram of air, from liquid of 25 degC; L: latent heat. No more evaporates than
    until the vapour is saturated at T (gas/volatility.py); the rest goes on as liquid.
    """
    m, air = engine.mixture, engine.intake.source
    wanted = m.vapour_share / gas.air_fuel_ratio
    if wanted == 0.0:
        return GasState(air.pressure, air.temperature)
    condensed = max(water_of_source(engine) - gas.water, 0.0) * H2O.molar_mass / MOLAR_MASS_OF_AIR
    given_off = condensed * LATENT_HEAT_OF_WATER

    def spare(vapour: Any) -> Any:
        """Saturation pressure less that of so much vapour, Pa."""
        state = _cooled(gas, air, vapour, given_off)
        moles = state.fuel * gas.gas.Rf / gas_constant(gas.gas, state.fuel, 0.0)
        evaporated = vapour * gas.air_fuel_ratio
        most = gas.fuel.evaporates.pressure(state.temperature, evaporated)
        return most - moles * air.pressure

    if spare(wanted) < 0.0:
        low, high = 0.0, wanted
        for _ in range(HALVINGS):
            wanted = 0.5 * (low + high)
            low, high = (low, wanted) if spare(wanted) < 0.0 else (wanted, high)
    return _cooled(gas, air, wanted, given_off)


def _cooled(gas: WorkingGas, air: AirState, vapour: float, given_off: float) -> GasState:
    """The state of air in which ``vapour`` (kg per kg of air) has evaporated, with what heat (J per kg of
    air) water has given off that condensed."""
    share = vapour / (1.0 + vapour)
    g, t = gas.gas, air.temperature
    liquid = enthalpy(g, 1.0, REFERENCE_TEMPERATURE) - gas.fuel.latent_heat
    held = (1.0 - share) * (enthalpy(g, 0.0, t) + given_off) + share * liquid
    for _ in range(8):  # Newton
        t = max(t - (enthalpy(g, share, t) - held) / _heat_capacity(g, share, t), COLDEST)
    return GasState(air.pressure, float(t), fuel=share)


def _heat_capacity(g: Gas, share: float, t: float) -> float:
    """cp of air with vapour, J/(kg K)."""
    return cv_from(cv_coefficients(g, share, 0.0), t) + gas_constant(g, share, 0.0)


def evaporated(engine: Engine, gas: WorkingGas) -> float:
    """Share of the fuel that is vapour where it comes in through the throttle."""
    share = along(drawn(engine, gas).fuel, 0.0)
    return float(share / (1.0 - share) * gas.air_fuel_ratio)


def cooling(engine: Engine, gas: WorkingGas) -> float:
    """Heat that a kilogram of liquid fuel of 25 degC takes from the charge, J: the share
    ``from_charge`` of its latent heat L, less what the vapour of the rest brings along, which has
    evaporated from the port's wall and leaves it at the wall's temperature:

        s L - (1 - s) (h_vapour(T_wall) - h_vapour(25 degC))

    What direct injection leaves on walls brings nothing along.
    """
    m = engine.mixture
    taken = m.from_charge * gas.fuel.latent_heat
    if m.delivery == "direct":
        return taken
    warm, cold = (enthalpy(gas.gas, 1.0, t) for t in (port_wall(engine), REFERENCE_TEMPERATURE))
    return taken - (1.0 - m.from_charge) * (warm - cold)


def port_wall(engine: Engine) -> float:
    """Temperature of the intake port's wall, K; of what is around it, if the wall follows that."""
    port = engine.intake.port
    if port.wall_temperature is not None:
        return port.wall_temperature
    around = port.surroundings
    return REFERENCE_TEMPERATURE if around is None else around.temperature


def enthalpy(gas: Gas, fuel: float, temperature: float) -> float:
    """Enthalpy of air with a mass fraction of fuel vapour, J/kg."""
    return energy(gas, fuel, 0.0, temperature) + gas_constant(gas, fuel, 0.0) * temperature
