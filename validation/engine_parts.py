"""A bare cylinder for the ideal cycles: adiabatic, perfect gas, no friction."""

from math import pi

import numpy as np

from aircolumn.flow.compiled.lookup import TABLE_STEPS
from aircolumn.flow.cylinder.crank import swept_volume
from aircolumn.flow.network.items import Cylinder

ANGLES = np.linspace(0.0, 720.0, TABLE_STEPS + 1)


def cylinder(
    ratio, start_volume_at, *, heat_release=0.0, burn_start=0.0, burn_duration=0.2, air_fuel_ratio=15.0
):
    """A 0.5-litre cylinder whose march starts at BDC ("bottom") or TDC ("top")."""
    bore = stroke = 0.086
    rod = 0.1435
    swept = swept_volume(bore, stroke, rod)
    clearance = swept / (ratio - 1.0)
    return Cylinder(
        throw=0.5 * stroke,
        rod=rod,
        pin_offset=0.0,
        area=0.25 * pi * bore**2,
        clearance=clearance,
        top=rod + 0.5 * stroke,
        phase=0.0,
        ivc=540.0,
        stroke=stroke,
        swept=swept,
        burn_start=burn_start,
        evo=180.0,
        start_volume=clearance + (swept if start_volume_at == "bottom" else 0.0),
        air_fuel_ratio=air_fuel_ratio,
        heat_release=heat_release,
        burn_table=np.clip(ANGLES / burn_duration, 0.0, 1.0),
    )
