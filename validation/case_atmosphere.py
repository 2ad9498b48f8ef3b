"""Atmosphere corrections: one value each (at 97.5 kPa, 30 degC, 40 % humidity, worked by hand), the
reference states (factor 1), the friction J1349 assumes, altitude against ISO 2533, and the vapour against
CoolProp.

The formulas of the standards, and so the worked values, are from memory alone: no worked example that is
printed elsewhere was found. They check the arithmetic, to the rounding of the values.
"""

from importlib.util import find_spec

import numpy as np

from aircolumn.flow.gas.humid_air import water_saturation_pressure
from aircolumn.measured.atmosphere import STANDARDS, Atmosphere, convert, factor, pressure_at_altitude
from validation.check import Check

DAY = Atmosphere(97.5e3, 303.15, 0.40)
WORKED = {"j1349": 1.04958, "j607": 1.08372, "din70020": 1.05656, "iso1585": 1.05063}
#: Reference states: total pressure (Pa, dry air), temperature (K).
REFERENCE = {
    "j1349": (99e3, 298.15),
    "j607": (29.92 * 3386.389, 288.7056),
    "din70020": (101.3e3, 293.15),
    "iso1585": (99e3, 298.15),
}


def checks():
    """Every check of the atmosphere."""
    rows = []
    for name, value in WORKED.items():
        title = STANDARDS[name].title
        rows.append(
            Check(
                "correction",
                title,
                value,
                float(factor(name, DAY)),
                6e-6,
                "by hand; formula from memory alone",
            )
        )
        at = Atmosphere(*REFERENCE[name], 0.0)
        rows.append(
            Check("correction", f"{title} at its reference", 1.0, float(factor(name, at)), 5e-5, "definition")
        )
        back = convert(convert(250.0, "observed", name, DAY), name, "observed", DAY)
        rows.append(Check("correction", f"{title} and back", 250.0, float(back), 1e-12, "identity"))
    rows.append(Check("correction", "dry pressure, Pa", 95801.9, DAY.dry_pressure, 1e-6, "worked"))
    for altitude, p in ((0.0, 101325.0), (1000.0, 89874.6)):
        ours = pressure_at_altitude(altitude)
        rows.append(Check("atmosphere", f"pressure at {altitude:.0f} m", p, ours, 1e-6, "ISO 2533"))
    rows.append(_friction_of_j1349())
    if find_spec("CoolProp"):
        from CoolProp.HumidAirProp import HAPropsSI

        theirs = HAPropsSI("P_w", "T", 303.15, "P", 97.5e3, "R", 0.4)
        ours = 0.4 * water_saturation_pressure(303.15)
        rows.append(Check("atmosphere", "vapour pressure", theirs, ours, 0.006, "CoolProp"))
    return rows


def _friction_of_j1349() -> Check:
    """J1349's formula is g / 0.85 - 0.15 / 0.85 rounded: with friction that does not change, a
    brake torque of 85 % of the indicated. On such an engine both must agree."""
    indicated, friction = 100.0, 15.0
    g = 99e3 / DAY.dry_pressure * np.sqrt(303.0 / 298.0)
    exact = (indicated * g - friction) / (indicated - friction)
    return Check(
        "correction",
        "J1349 against unchanged friction",
        exact,
        float(factor("j1349", DAY)),
        5e-4,
        "first principles",
    )
