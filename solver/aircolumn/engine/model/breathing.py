"""How hard an engine draws through its intake, by the geometry alone."""

from __future__ import annotations

from math import pi, sqrt
from typing import TYPE_CHECKING

from aircolumn.constants import AIR_GAMMA
from aircolumn.engine.model.geometry import geometry_of
from aircolumn.engine.model.mixture import ambient_gas
from aircolumn.engine.model.piping import intake_piping
from aircolumn.engine.model.valves import forward_area

if TYPE_CHECKING:
    from aircolumn.engine.description.engine_file import Engine


def sound_of(engine: Engine) -> float:
    """Speed of sound in the outside air, m/s."""
    return sqrt(AIR_GAMMA * ambient_gas(engine).gas.Ra * engine.intake.ambient.temperature)


def mach_index(engine: Engine, rpm: float) -> float:
    """Inlet Mach index Z = piston area x mean piston speed / (mean effective area of the open intake valves
    x sound speed) at a speed, rev/min (Taylor, The Internal Combustion Engine, vol. 1, from memory;
    validation/case_mach_index.py)."""
    sizes = geometry_of(engine)
    area = forward_area(engine.intake.valve, sizes.intake_opens, sizes.intake_closes)
    return _swept(engine, rpm) / (float(area[area > 0.0].mean()) * sound_of(engine))


def gas_velocity(engine: Engine, rpm: float) -> float:
    """Mean gas velocity, m/s, in the narrowest place of runner and port at a speed, rev/min: piston area x
    mean piston speed over the area there (common practice, no source). It counts the air as drawn all cycle
    long at the piston's mean speed, whatever the valves do."""
    return _swept(engine, rpm) / (0.25 * pi * float(intake_piping(engine).shape.diameter.min()) ** 2)


def _swept(engine: Engine, rpm: float) -> float:
    """Piston area times mean piston speed, m3/s."""
    return 0.25 * pi * engine.block.bore**2 * 2.0 * engine.block.stroke * rpm / 60.0
