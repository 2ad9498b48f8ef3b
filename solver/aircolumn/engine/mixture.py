"""The gases an engine breathes: its air, its fuel, what burns of them."""

from aircolumn.description.models import Engine
from aircolumn.description.parts import given
from aircolumn.gas.humid_air import vapour_mole_fraction
from aircolumn.gas.kernels import cv_coefficients, cv_from, energy, gas_constant
from aircolumn.gas.mixture import WorkingGas, moist_air, stoichiometric_ratio, working_gas
from aircolumn.gas.species import REFERENCE_TEMPERATURE
from aircolumn.network.declared import GasState


def ambient_gas(engine: Engine) -> WorkingGas:
    """The three gases for this engine's air and mixture."""
    a, m = engine.intake.ambient, engine.mixture
    vapour = vapour_mole_fraction(a.pressure, a.temperature, a.humidity)
    ratio, fuel = m.relative_air_fuel_ratio, m.burnt
    if ratio is None:
        ratio = given(m.air_fuel_ratio) / stoichiometric_ratio(moist_air(vapour), fuel)
    return working_gas(ratio, fuel, vapour)


def drawn(engine: Engine, gas: WorkingGas) -> GasState:
    """What comes in through the throttle, at the pressure of its source: air, or air with vapour
    that has cooled it:

        h_air(T) + f h_vapour(T) = h_air(T_source) + f (h_vapour(25 degC) - L)

    f: vapour per kilogram of air, from liquid of 25 degC; L: latent heat.
    """
    air = engine.intake.source
    vapour = engine.mixture.vapour_share / gas.air_fuel_ratio
    share = vapour / (1.0 + vapour)
    if share == 0.0:
        return GasState(air.pressure, air.temperature)
    g, t = gas.gas, air.temperature
    liquid = enthalpy(g, 1.0, REFERENCE_TEMPERATURE) - gas.fuel.latent_heat
    held = (1.0 - share) * enthalpy(g, 0.0, t) + share * liquid
    for _ in range(5):  # Newton
        cp = cv_from(cv_coefficients(g, share, 0.0), t) + gas_constant(g, share, 0.0)
        t -= (enthalpy(g, share, t) - held) / cp
    return GasState(air.pressure, float(t), fuel=share)


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
    warm, cold = (enthalpy(gas.gas, 1.0, t) for t in (_wall(engine), REFERENCE_TEMPERATURE))
    return taken - (1.0 - m.from_charge) * (warm - cold)


def _wall(engine) -> float:
    """Temperature of the intake port's wall, K; of what is around it, if the wall follows that."""
    port = engine.intake.port
    if port.wall_temperature is not None:
        return port.wall_temperature
    around = port.surroundings
    return REFERENCE_TEMPERATURE if around is None else around.temperature


def enthalpy(gas, fuel: float, temperature: float) -> float:
    """Of air with a mass fraction of fuel vapour, J/kg."""
    return energy(gas, fuel, 0.0, temperature) + gas_constant(gas, fuel, 0.0) * temperature
