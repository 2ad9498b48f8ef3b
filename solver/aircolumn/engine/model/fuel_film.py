"""What the port's wall, the intake valve and the charge give to fuel that is sprayed at the valve.

Fuel lies as a film on the wall and on the back of the valve and evaporates there, as far as these can give
its heat of evaporation. All of it can be vapour only if the film is at least as warm as T_d, at which the
vapour of the whole charge is saturated (gas/volatility.py); so the walls give at most

    Q = h (WETTED A_port (T_wall - T_d) + A_valve (T_valve - T_d))

h: ``mixture.film_coefficient``, that of a film of 0.1 mm of liquid (conductivity of gasoline and alcohols
0.1 to 0.2 W/(m K): tables, from memory); A_port: inner surface of the port; A_valve: of the heads. What they
cannot give of m_f L the air gives before the valve shuts, as far as it comes to that: LEAST of it at any
rate, and at most ``mixture.airborne``, the share of the fuel that evaporates as drops. Drops of the spray
(0.1 mm) take up some hundredths of their heat in the time that they have, those that the valve tears off
(0.02 mm) a third: with h d / k = 2 of a sphere at rest and 25 K between air and drop. The rest evaporates
from the walls of the cylinder and as the charge is compressed, and costs no filling. m_f is that of a full
cylinder of outside air. WETTED and T_valve are from memory, without source: half of a port is wet, and intake
valves run at 200 to 300 degC.
"""

from __future__ import annotations

from math import pi
from typing import TYPE_CHECKING

import numpy as np

from aircolumn.engine.model.geometry import geometry_of
from aircolumn.engine.model.mixture import ambient_gas, port_wall
from aircolumn.engine.model.piping import pipe_sections

if TYPE_CHECKING:
    from aircolumn.engine.description.engine_file import Engine
    from aircolumn.flow.gas.mixture import WorkingGas

WETTED = 0.5  # of the port's surface
VALVE_TEMPERATURE = 523.0  # K
LEAST = 0.1  # of the heat of evaporation, from the charge; common practice, no source
COLDEST, WARMEST, STEPS = 230.0, 450.0, 221  # K, where T_d is looked for


def with_film(engine: Engine, rpm: float) -> Engine:
    """The engine with the share of heat that the charge gives at a speed, rev/min, if it follows from this
    balance: of a liquid sprayed at the port, where the file states none."""
    if not follows_from_walls(engine):
        return engine
    share = charge_share(engine, ambient_gas(engine), rpm)
    return engine.changed(mixture=engine.mixture.changed(charge_cooling=share))


def follows_from_walls(engine: Engine) -> bool:
    """Whether the share is found by the balance."""
    m = engine.mixture
    return m.delivery == "port" and m.charge_cooling is None and m.burnt.latent_heat > 0.0


def charge_share(engine: Engine, gas: WorkingGas, rpm: float) -> float:
    """Share of the fuel's heat of evaporation that the charge gives."""
    left = 1.0 - heat_of_walls(engine, gas) / heat_needed(engine, gas, rpm)
    return float(min(max(left, LEAST), max(engine.mixture.airborne, LEAST)))


def heat_needed(engine: Engine, gas: WorkingGas, rpm: float) -> float:
    """Heat of evaporation of a cylinder's fuel, W."""
    air = engine.intake.source
    mass = air.pressure / (gas.gas.Ra * air.temperature) * geometry_of(engine).swept
    return mass / gas.air_fuel_ratio * gas.fuel.latent_heat * rpm / 120.0


def heat_of_walls(engine: Engine, gas: WorkingGas) -> float:
    """What a port's wall and its valves can give at most, W."""
    port, valve = engine.intake.port, engine.intake.valve
    cones = pipe_sections(port, engine.intake.runner.last_bore)
    surface = sum(0.5 * pi * (c.start + c.end) / c.roundness * c.length for c in cones)
    heads = 0.25 * pi * valve.diameter**2 * valve.count
    film = dew_point(engine, gas)
    wall = WETTED * surface * max(port_wall(engine) - film, 0.0)
    return engine.mixture.film_coefficient * (wall + heads * max(VALVE_TEMPERATURE - film, 0.0))


def dew_point(engine: Engine, gas: WorkingGas) -> float:
    """Temperature, K, at which the vapour of all fuel is saturated in the charge."""
    fuel = 1.0 / gas.air_fuel_ratio * gas.gas.Rf
    vapour = fuel / (fuel + gas.gas.Ra) * engine.intake.source.pressure
    t = np.linspace(COLDEST, WARMEST, STEPS)
    return float(np.interp(vapour, gas.fuel.evaporates.pressure(t, 1.0), t))
