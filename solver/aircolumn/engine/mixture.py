"""The gases an engine breathes: its air, its fuel, what burns of them."""

from aircolumn.description.models import Engine
from aircolumn.description.parts import given
from aircolumn.gas.humid_air import vapour_mole_fraction
from aircolumn.gas.mixture import WorkingGas, moist_air, stoichiometric_ratio, working_gas


def ambient_gas(engine: Engine) -> WorkingGas:
    """The three gases for this engine's air and mixture."""
    a, m = engine.intake.ambient, engine.mixture
    vapour = vapour_mole_fraction(a.pressure, a.temperature, a.humidity)
    ratio = m.relative_air_fuel_ratio
    if ratio is None:
        ratio = given(m.air_fuel_ratio) / stoichiometric_ratio(moist_air(vapour))
    return working_gas(ratio, m.heating_value, vapour)


def premixed_fuel(engine, gas) -> float:
    """Fuel-vapour share of what comes in through the throttle."""
    premixed = engine.mixture.delivery == "premixed"
    return 1.0 / (1.0 + gas.air_fuel_ratio) if premixed else 0.0


def drawn_gas_constant(engine) -> float:
    """Gas constant of what comes in through the throttle, J/(kg K)."""
    gas = ambient_gas(engine)
    fuel = premixed_fuel(engine, gas)
    return gas.gas.Ra + fuel * (gas.gas.Rf - gas.gas.Ra)
