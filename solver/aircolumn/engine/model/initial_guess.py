"""First guesses the march of an engine starts from; forgotten within a few cycles."""

from __future__ import annotations

from typing import TYPE_CHECKING

from aircolumn.constants import AIR_GAMMA
from aircolumn.engine.description.engine_file import Engine
from aircolumn.engine.model.geometry import Geometry
from aircolumn.engine.model.inlet import smallest_area
from aircolumn.flow.ends.nozzle import mass_flux
from aircolumn.flow.ends.throttle import butterfly_area
from aircolumn.flow.gas.mixture import WorkingGas

if TYPE_CHECKING:
    from aircolumn.engine.description.intake import Throttle

EXHAUST_TEMPERATURE = 900.0  # K
CHARGE_TEMPERATURE = 350.0  # K
CRANKCASE_TEMPERATURE = 350.0  # K; what comes back from there on the intake stroke is air
BURNED_SHARE = 0.05
FILLING = 0.9
BURNED_GAMMA = 1.35  # of what stays in the clearance volume as it expands


def back_pressure(engine: Engine) -> float:
    """Pressure at the exhaust's end, Pa."""
    return engine.exhaust.outlet.pressure or engine.intake.ambient.pressure


def throttle_area(throttle: Throttle) -> float:
    """Effective area, m2."""
    area = butterfly_area(throttle.bore, throttle.shaft, throttle.angle, throttle.closed_angle)
    return throttle.discharge_coefficient * area


def suction(engine: Engine, gas: WorkingGas, geometry: Geometry, rpm: float) -> float:
    """A plenum pressure to start from, Pa: what comes in through the throttle is what an engine
    draws that fills to FILLING of an ideal one, whose residual gas expands to the plenum's
    pressure: VE = 1 - (pe/p - 1) / (gamma (r - 1)) (Heywood 1988, section 5.6)."""
    air = engine.intake.source
    if engine.intake.throttle is None:
        return air.pressure
    area = smallest_area(engine, throttle_area(engine.intake.throttle))
    rho, behind = air.pressure / (gas.gas.Ra * air.temperature), back_pressure(engine)
    most = FILLING * geometry.swept * engine.block.cylinders * rpm / 120.0 * rho / air.pressure
    residual = 1.0 / (BURNED_GAMMA * (engine.block.compression_ratio - 1.0))
    low, high = 0.0, air.pressure
    for _ in range(20):  # the difference falls with p: halving cannot miss
        p = 0.5 * (low + high)
        draws = most * (p - residual * (behind - p))
        low, high = (p, high) if area * mass_flux(air.pressure, rho, AIR_GAMMA, p) > draws else (low, p)
    return high
