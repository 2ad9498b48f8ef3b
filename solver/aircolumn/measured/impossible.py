"""Measured figures that no engine of this file reaches at full load, and what most likely makes them so.

    mean effective pressure   4 pi T / V: drawing from the open air some 7 to 14 bar at the best
                              speed; above MOST_BMEP none, below LEAST_BMEP none at full load
    volumetric efficiency     of the logged air flow: tuned engines reach some 120 to 130 %
    air-fuel ratio            lambda at full load 0.7 to 1.1 for spark ignition; far outside it does not run
    factor of correction      0.8 (cold, high pressure) to 1.5 (3000 m and more)

All in proportion to the pressure that is drawn. Limits: common practice, no source; they are wide, as a file
that is refused for nothing costs more than one that looks strange.
"""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

from aircolumn.constants import ATMOSPHERE, GRAVITY
from aircolumn.display_units import percent
from aircolumn.errors import InputError, Problem
from aircolumn.measured.measured_curve import bmep_of, mean_of_pulls, stoichiometric_of, ve_of_air_flow
from aircolumn.measured.overlay import measured_air_flow

if TYPE_CHECKING:
    from aircolumn.engine.description.engine_file import Engine
    from aircolumn.measured.logs.pull_file import PullFile
    from aircolumn.measured.measured_curve import MeasuredCurve

LEAST_BMEP, MOST_BMEP = 3.5e5, 16.5e5  # Pa, of the best speed, drawn from the open air
USUAL_BMEP = (7e5, 13.5e5)
LEAST_VE, MOST_VE = 0.4, 1.45  # of the best speed
LAMBDA = (0.55, 1.7)
FACTORS = (0.75, 1.6)
#: What may have been mistaken: torque over what it should be.
MISTAKEN = {
    "it is N m, not kgf m": GRAVITY,
    "it is kgf m, not N m": 1.0 / GRAVITY,
    "it is N m, not lbf ft": 1.3558179,
    "it is lbf ft, not N m": 1.0 / 1.3558179,
    "it is N m, not daN m": 10.0,
    "it is daN m, not N m": 0.1,
    "it is lbf in, not lbf ft": 12.0,
    "it is lbf ft, not lbf in": 1.0 / 12.0,
    "it is lbf ft, not kgf m": 7.2330,
    "it is kgf m, not lbf ft": 1.0 / 7.2330,
}


def impossible(engine: Engine, curve: MeasuredCurve, unit: str) -> str:
    """Why the readings cannot be this engine's at full load, and the likely cause; "" if they can. unit: of
    torque, as read."""
    return next((text for text in _findings(engine, curve, unit) if text), "")


def check_possible(file: PullFile, engine: Engine, curve: MeasuredCurve) -> None:
    """Raise InputError for readings that cannot be those of the engine."""
    column = file.columns.get("torque")
    text = impossible(engine, curve, column.unit if column else "N m")
    if text:
        raise InputError(file.path, [Problem(file.heading_line, 1, "torque", text)])


def _findings(engine: Engine, curve: MeasuredCurve, unit: str) -> list[str]:
    drawn = _pressure_drawn(engine, curve) / ATMOSPHERE
    return [
        _torque(engine, curve, unit, drawn),
        _air(engine, curve, drawn),
        _mixture(engine, curve),
        _factor(curve),
    ]


def _pressure_drawn(engine: Engine, curve: MeasuredCurve) -> float:
    """Pressure in front of the engine, Pa: of the supply, or of the air outside."""
    supply = engine.intake.supply
    if supply is None:
        return float(np.mean(curve.air.pressure))
    return float(np.max([supply.at(n).source.pressure for n in curve.rpm]))


def _torque(engine: Engine, curve: MeasuredCurve, unit: str, drawn: float) -> str:
    best = float(np.nanmax(bmep_of(mean_of_pulls(curve.observed), engine))) / drawn
    if LEAST_BMEP <= best <= MOST_BMEP or (best < LEAST_BMEP and not curve.level_known):
        return ""
    more = best > MOST_BMEP
    said = (
        f"a mean effective pressure of {1e-5 * best * drawn:.3g} bar at the best speed"
        f" ({curve.name}, torque read in {unit}): at full load an engine of this displacement makes some 7"
        " to 14 bar"
    )
    fit = [text for text, share in MISTAKEN.items() if USUAL_BMEP[0] <= best / share <= USUAL_BMEP[1]]
    named = [text for text in fit if _unit_named(text, unit)]
    others = (
        "torque at the wheels (pull.wheel), another displacement"
        if more
        else "part load, torque at the wheels, another displacement"
    )
    causes = ", or ".join([*named[:1], others])
    return f"{said}. Likely: {causes}. Nothing is compared"


def _unit_named(text: str, unit: str) -> bool:
    """Whether a mistake is of this unit ("it is N m, not kgf m")."""
    wrong = text.split(", not ")[1]
    plain = unit.replace("*", " ").replace("kg m", "kgf m").replace("Nm", "N m")
    return wrong == plain or {wrong, plain} == {"lbf ft", "ft lbf"}


def _air(engine: Engine, curve: MeasuredCurve, drawn: float) -> str:
    flow = measured_air_flow(curve)
    if flow is None:
        return ""
    best = float(np.nanmax(mean_of_pulls(ve_of_air_flow(flow[0], curve.rpm, engine, curve.air))))
    outside = float(np.mean(curve.air.pressure)) / ATMOSPHERE
    best = best * outside / drawn
    if LEAST_VE <= best <= MOST_VE:
        return ""
    return (
        f"a volumetric efficiency of {percent(best, '.0f')} at the best speed ({curve.name}, from {flow[1]}):"
        " no engine"
        " breathes so at full load. Likely: the unit of the flow, part load, another displacement or"
        " number of"
        " cylinders. Nothing is compared"
    )


def _mixture(engine: Engine, curve: MeasuredCurve) -> str:
    ratio = curve.readings.get("air_fuel_ratio")
    if ratio is None or not np.isfinite(ratio).any():
        return ""
    found = float(np.nanmedian(ratio)) / stoichiometric_of(engine)
    if LAMBDA[0] <= found <= LAMBDA[1]:
        return ""
    return (
        f"lambda {found:.2f} ({curve.name}): no spark-ignition engine makes full load there. Likely:"
        " another fuel"
        " than the file's, or a gauge with a scale of its own (at_lambda_one under pull.columns). Nothing"
        " is compared"
    )


def _factor(curve: MeasuredCurve) -> str:
    factors = curve.readings.get("correction")
    if factors is None or FACTORS[0] <= float(np.nanmedian(factors)) <= FACTORS[1]:
        return ""
    return f"a factor of correction of {np.nanmedian(factors):.3g} ({curve.name}): no weather asks for it"
