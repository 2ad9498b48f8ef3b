"""The prediction laid over a measured pull: at the air that was drawn and the mixture that was run.

Measured VE, by what was logged (the first there is):

    air flow           m_dot / (n V rpm/120 rho)                    delivered air
    fuel flow          m_dot = fuel flow x air-fuel ratio           delivered air
    torque             VE (IMEP measured / IMEP predicted), with IMEP measured = BMEP + the model's
                       FMEP: trapped air through the model's efficiency, so the weakest: a wrong
                       friction or burn makes it wrong and cannot be told from a wrong filling
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

from aircolumn.curves.points import compute_points
from aircolumn.engine.description.base import required
from aircolumn.engine.description.engine_file import Engine
from aircolumn.engine.description.intake import Ambient
from aircolumn.engine.description.supply import Supply
from aircolumn.measured.like_for_like import half_width, spread_between_pulls
from aircolumn.measured.measured_curve import (
    MeasuredCurve,
    bmep_of,
    is_logged,
    mean_of_pulls,
    ve_of_air_flow,
)

if TYPE_CHECKING:
    from aircolumn.protocols import ProgressCallback

AIR_FLOW, FUEL_FLOW, TORQUE = "air flow", "fuel flow and air-fuel ratio", "torque (less certain)"
FAILURE = "failure"
PREDICTED = ("ve", "ve_delivered", "torque", "imep", "fmep", "air_flow")


@dataclass(frozen=True)
class Overlay:
    """One manifold, measured and predicted, at each speed (arrays (s,), SI).

    predicted: figures of cycle.FIGURES by name, torque as observed. ve: measured; ve_from: what
    from. torque: measured mean at the standard; correction: corrected over observed;
    torque_half_width: of the mean's interval (NaN without repeats).
    """

    curve: MeasuredCurve
    predicted: dict[str, np.ndarray]
    ve: np.ndarray
    ve_from: str
    torque: np.ndarray
    correction: np.ndarray
    torque_half_width: np.ndarray

    @property
    def torque_predicted(self) -> np.ndarray:
        """Predicted torque at the same standard, N m."""
        return self.predicted["torque"] * self.correction

    @property
    def ve_predicted(self) -> np.ndarray:
        """Predicted VE of the kind that was measured."""
        return self.predicted["ve" if self.ve_from == TORQUE else "ve_delivered"]

    @property
    def torque_off(self) -> np.ndarray:
        """Predicted torque less measured over measured; NaN where torque is not the engine's."""
        off = self.torque_predicted / self.torque - 1.0
        return off if self.curve.level_known else np.full_like(off, np.nan)

    @property
    def ve_off(self) -> np.ndarray:
        """Predicted VE over measured VE, less 1, at each speed; NaN where VE is from torque that is not the
        engine's."""
        off = self.ve_predicted / self.ve - 1.0
        return off if self.curve.level_known or self.ve_from != TORQUE else np.full_like(off, np.nan)


def engine_at(engine: Engine, curve: MeasuredCurve, k: int) -> Engine:
    """The engine in the air and with the mixture of the pulls at speed number ``k``."""
    air = curve.air
    ambient = Ambient.model_construct(
        pressure=float(np.mean(air.pressure[:, k])),
        temperature=float(np.mean(air.temperature[:, k])),
        humidity=float(np.mean(air.humidity[:, k])),
    )
    engine = engine.with_intake(ambient=ambient, **_supplied(engine, curve, k))
    measured = curve.readings.get("air_fuel_ratio")
    ratio = np.nan if measured is None else mean_of_pulls(measured)[k]
    if np.isfinite(ratio):
        mixture = engine.mixture.changed(air_fuel_ratio=float(ratio), relative_air_fuel_ratio=None)
        engine = engine.changed(mixture=mixture)
    return engine


def _supplied(engine: Engine, curve: MeasuredCurve, k: int) -> dict[str, Supply]:
    """The supply at the pressure and temperature that were logged behind it, of an engine that has one."""
    supply = engine.intake.supply
    if supply is None:
        return {}
    supply = supply.at(float(curve.rpm[k]))
    logged = {
        key: float(mean_of_pulls(curve.readings[channel])[k])
        for key, channel in (("pressure", "manifold_pressure"), ("temperature", "manifold_temperature"))
        if channel in curve.readings
    }
    return {"supply": supply.changed(**{key: [v] for key, v in logged.items() if np.isfinite(v)})}


def predict(
    engine: Engine, curve: MeasuredCurve, progress: ProgressCallback | None = None
) -> dict[str, np.ndarray]:
    """Figures at each speed of the curve, and under FAILURE why a point could not be computed (its
    figures are NaN), else "". Raises ComputationError if none could be."""
    jobs = [(k, engine_at(engine, curve, k), float(n), 1.0) for k, n in enumerate(curve.rpm)]
    found, failures = compute_points(jobs, progress)
    figures = {
        f: np.array([found[k].figures[f] if k in found else np.nan for k in range(len(jobs))])
        for f in PREDICTED
    }
    reasons = [failures.get(k, "") for k in range(len(jobs))]
    return {**figures, FAILURE: np.array(reasons, dtype=object)}


def overlay(engine: Engine, curve: MeasuredCurve, predicted: dict) -> Overlay:
    """Measured beside predicted (see predict)."""
    ve, source = measured_ve(engine, curve, predicted)
    observed, corrected = mean_of_pulls(curve.observed), mean_of_pulls(curve.corrected)
    spread, freedom = spread_between_pulls([curve.corrected], relative=True)
    share = half_width(spread, freedom, curve.pulls, np.inf)  # against a value known exactly
    return Overlay(curve, predicted, ve, source, corrected, corrected / observed, share * corrected)


def measured_air_flow(curve: MeasuredCurve) -> tuple[np.ndarray, str] | None:
    """(air flow of each pull, kg/s, (pulls, s); what from), or None if it was not logged."""
    r = curve.readings
    if is_logged(r, "air_flow"):
        return r["air_flow"], AIR_FLOW
    if is_logged(r, "fuel_flow") and is_logged(r, "air_fuel_ratio"):
        return r["fuel_flow"] * r["air_fuel_ratio"], FUEL_FLOW
    return None


def measured_ve(
    engine: Engine, curve: MeasuredCurve, predicted: dict[str, np.ndarray] | None
) -> tuple[np.ndarray, str]:
    """(VE at each speed, what from)."""
    flow = measured_air_flow(curve)
    if flow is not None:
        return mean_of_pulls(ve_of_air_flow(flow[0], curve.rpm, engine, curve.air)), flow[1]
    if not curve.level_known:
        return np.full(len(curve.rpm), np.nan), TORQUE
    predicted = required(predicted)
    imep = bmep_of(mean_of_pulls(curve.observed), engine) + predicted["fmep"]
    return predicted["ve"] * imep / predicted["imep"], TORQUE
