"""The engine file's cylinder in the words of the march."""

from math import pi, sqrt

import numpy as np

from aircolumn.engine.description.base import required
from aircolumn.engine.description.engine_file import Engine
from aircolumn.engine.model.geometry import Geometry
from aircolumn.engine.model.mixture import cooling, evaporated
from aircolumn.engine.model.valves import TABLE_ANGLES
from aircolumn.flow.cylinder.burn import LEAD, scattered_share, wiebe_timing
from aircolumn.flow.cylinder.filling import DIRECT, PORT, PREMIXED
from aircolumn.flow.cylinder.heat import LAWS
from aircolumn.flow.gas.mixture import WorkingGas
from aircolumn.flow.network.items import Cylinder

ALL = 1.0 - 1e-9  # of the fuel, but for rounding


def cylinder_of(engine: Engine, gas: WorkingGas, geometry: Geometry, phase: float, begin: float) -> Cylinder:
    """A cylinder of the engine; ``phase``: its firing top dead centre, ``begin``: crank angle at
    which the march starts, degrees."""
    block, c, walls = engine.block, engine.combustion, engine.cylinder_walls
    ca50 = required(c.ca50)  # 'best' has become an angle by now
    throw = 0.5 * block.stroke
    start, total = wiebe_timing(ca50, c.duration_10_90, c.form)
    piston_area = 0.25 * pi * block.bore**2
    top = sqrt((block.rod + throw) ** 2 - block.pin_offset**2)
    angle = np.radians(begin - phase)
    side = throw * np.sin(angle) - block.pin_offset
    height = throw * np.cos(angle) + np.sqrt(block.rod**2 - side**2)
    return Cylinder(
        throw=throw,
        rod=block.rod,
        pin_offset=block.pin_offset,
        area=piston_area,
        clearance=geometry.clearance,
        top=top,
        phase=phase,
        ivc=geometry.intake_seats,
        stroke=block.stroke,
        swept=geometry.swept,
        burn_start=start - LEAD * c.ca50_scatter,
        evo=geometry.exhaust_lifts,
        start_volume=geometry.clearance + piston_area * (top - height),
        heat_model=LAWS[walls.model],
        ca50=ca50,
        residual_factor=c.residual_factor,
        exchange_heat=walls.exchange_factor,
        heat_factor=walls.factor,
        head_wall=walls.head,
        piston_wall=walls.piston,
        liner_wall=walls.liner,
        air_fuel_ratio=gas.air_fuel_ratio,
        heat_release=gas.heat_release - (1.0 - c.efficiency) * gas.released,
        delivery=_delivery(engine, gas),
        **vars(gas.fuel.evaporates),
        cooling=cooling(engine, gas),
        injection_start=720.0 - engine.mixture.injection_start,
        injection_duration=engine.mixture.injection_duration,
        zones=float(c.zones),
        crevice_volume=engine.rings.crevices(geometry.clearance),
        crevice_wall=0.5 * (walls.piston + walls.liner),
        burn_table=scattered_share(TABLE_ANGLES, total, c.form, c.ca50_scatter),
    )


def _delivery(engine: Engine, gas: WorkingGas) -> int:
    """Premixed fuel that is still liquid in part reaches the cylinder like that of a port."""
    if engine.mixture.delivery == "direct":
        return DIRECT
    premixed = engine.mixture.delivery == "premixed" and evaporated(engine, gas) > ALL
    return PREMIXED if premixed else PORT
