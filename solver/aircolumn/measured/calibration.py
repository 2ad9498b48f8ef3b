"""What the engine file may have wrong, fitted to one manifold's pulls and tried on another's.

Unknowns x are found by weighted least squares (scipy.optimize.least_squares, trust region with
bounds) on the relative residuals (measured - predicted) / measured of torque and, where it was
logged, of air flow, at every speed:

    minimise r^T C^-1 r,  C = diag(s^2/n + model^2) + g_T g_T^T + g_a g_a^T + g_p g_p^T

s is the repeatability between pulls. The g are what is wrong alike at all speeds, one standard
uncertainty each: the scale of torque (with half the drift of the session) and of air flow, and the
barometer, whose wrong reading the model would follow (its effect by marching once more). Taken into
C they need no unknowns of their own (generalised least squares: Aitken 1935).

The covariance of x is (J^T C^-1 J)^-1, enlarged by chi^2 per degree of freedom where that exceeds 1
(Birge 1932). The intervals stated hold for all unknowns together at 95 % (Bonferroni).

Refused: sets whose collinearity index (Brun, Reichert & Kuensch 2001, Water Resour. Res. 37:
1/sqrt of the smallest eigenvalue of the normalised information matrix; they call 10 to 15 critical)
exceeds 10, and unknowns whose interval would be wider than what is plausible: the data cannot tell
them apart.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass
from math import pi
from typing import TYPE_CHECKING, Any

import numpy as np
from scipy.linalg import cholesky, solve_triangular
from scipy.optimize import least_squares
from scipy.stats import t as student

from aircolumn.curves.points import all_points
from aircolumn.display_units import unit
from aircolumn.engine.description.base import required
from aircolumn.engine.description.engine_file import Engine
from aircolumn.errors import RequestError
from aircolumn.measured.like_for_like import CONFIDENCE, shown_drift, spread_between_pulls
from aircolumn.measured.measured_curve import MeasuredCurve, displacement, mean_of_pulls
from aircolumn.measured.overlay import engine_at, measured_air_flow

if TYPE_CHECKING:
    from aircolumn.engine.description.measured import Accuracies
    from aircolumn.engine.description.pipes import PipePerCylinder
    from aircolumn.engine.description.valves import IntakeValve

MIXED = 0.3  # of the weakest direction (a unit vector): unknowns with less hardly take part in it
MODEL = 1e-3  # relative numerical uncertainty of a computed point
UNREPEATED = 0.005  # relative repeatability taken where pulls were not repeated
MOST_COLLINEAR = 10.0
SURE = 0.25  # of what is plausible: a wider interval that holds "nothing wrong" settles nothing
PRESSURE_STEP = 0.01  # relative, for the barometer's effect


@dataclass(frozen=True)
class Unknown:
    """What may be fitted: its meaning and kind of quantity (display_units.py), value when nothing is
    wrong, bounds of the fit, what is plausible, step of differences (SI), how it changes the
    engine (None: FMEP needs no new march), and what would settle it."""

    meaning: str
    kind: str
    neutral: float
    bounds: tuple[float, float]
    plausible: tuple[float, float]
    step: float
    apply: Callable | None
    measure: str


def _discharge(engine: Engine, factor: float) -> Engine:
    def scaled(valve: Any) -> Any:
        discharge = valve.discharge.changed(factor=valve.discharge.factor * factor)
        return valve.changed(discharge=discharge)

    return engine.with_intake(valve=engine.intake.valve.each(scaled))


def _warmer(pipe: PipePerCylinder, by: float) -> PipePerCylinder:
    if pipe.surroundings is not None:
        around = pipe.surroundings
        return pipe.changed(surroundings=around.changed(temperature=around.temperature + by))
    if pipe.wall_temperature is None:
        return pipe
    return pipe.changed(wall_temperature=pipe.wall_temperature + by)


def _walls(engine: Engine, by: float) -> Engine:
    i = engine.intake
    runner, port = (pipe.each(lambda p: _warmer(p, by)) for pipe in (i.runner, i.port))
    return engine.with_intake(runner=runner, port=port)


def _cam(engine: Engine, later: float) -> Engine:
    """Lobes on one shaft move together; else the intake's alone."""
    if engine.cam is not None:
        return engine.changed(cam=engine.cam.changed(advance=engine.cam.advance - later))
    return engine.with_intake(valve=engine.intake.valve.each(lambda v: _later(v, later)))


def _later(valve: IntakeValve, later: float) -> IntakeValve:
    if valve.duration is not None:
        return valve.changed(centreline_atdc=required(valve.centreline_atdc) + later)
    return valve.changed(
        opens_btdc=required(valve.opens_btdc) - later, closes_abdc=required(valve.closes_abdc) + later
    )


UNKNOWNS = {
    "discharge": Unknown(
        "times intake.valve.discharge.factor",
        "number",
        1.0,
        (0.7, 1.3),
        (0.9, 1.1),
        0.02,
        _discharge,
        "put the head on a flow bench, or log the air flow",
    ),
    "fmep": Unknown(
        "added to friction.constant",
        "mean pressure",
        0.0,
        (-1e5, 1e5),
        (-0.3e5, 0.3e5),
        0.05e5,
        None,
        "motor the engine on the dyno to measure its friction",
    ),
    "walls": Unknown(
        "walls of runner and port warmer by",
        "temperature difference",
        0.0,
        (-60.0, 120.0),
        (-20.0, 40.0),
        10.0,
        _walls,
        "measure the wall temperature of runner and port",
    ),
    "cam": Unknown(
        "intake cam (or the single camshaft) later by",
        "angle",
        0.0,
        (-15.0, 15.0),
        (-5.0, 5.0),
        1.5,
        _cam,
        "measure the valve events with a dial gauge and a degree wheel",
    ),
}


@dataclass(frozen=True)
class Calibration:
    """Fitted values (SI) by name, half-widths of their joint 95 % intervals and of each alone, the
    correlation between them, chi^2 per degree of freedom, evaluations of the whole curve, and the engine
    with the values in it."""

    values: dict[str, float]
    half_widths: dict[str, float]
    alone: dict[str, float]
    correlation: np.ndarray
    misfit: float
    evaluations: int
    engine: Engine

    def judgement(self, name: str) -> str:
        """Whether a fitted value is plausible."""
        u, value, wide = UNKNOWNS[name], self.values[name], self.half_widths[name]
        if min(abs(value - b) for b in u.bounds) < 1e-3 * (u.bounds[1] - u.bounds[0]):
            return "at its bound: something else is wrong"
        if abs(value - u.neutral) <= wide > SURE * (u.plausible[1] - u.plausible[0]):
            return f"not determined: {u.measure}"
        if u.plausible[0] <= value <= u.plausible[1]:
            return "plausible"
        if u.plausible[0] - wide <= value <= u.plausible[1] + wide:
            return "just plausible"
        return "not plausible: look for another cause"


def with_values(engine: Engine, values: dict[str, float]) -> Engine:
    """The engine with unknowns set (SI)."""
    for name, value in values.items():
        apply = UNKNOWNS[name].apply
        if apply is None:
            friction = engine.friction
            engine = engine.changed(friction=friction.changed(constant=friction.constant + value))
        else:
            engine = apply(engine, value)
    return engine


class Predictor:
    """Torque (N m) and air flow (kg/s) at a curve's speeds for values of unknowns; every march is
    kept, so that asking again costs nothing."""

    def __init__(
        self,
        engine: Engine,
        curve: MeasuredCurve,
        names: Sequence[str],
        progress: Callable[[int], object] | None = None,
    ) -> None:
        self.engines = [engine_at(engine, curve, k) for k in range(len(curve.rpm))]
        self.rpm = curve.rpm
        self.names = names
        self.kept: dict[tuple, np.ndarray] = {}
        self.progress: Callable[[int], object] = progress or (lambda points_done: None)
        self.marched = 0
        self.per_fmep = displacement(engine) / (4.0 * pi)  # N m per Pa

    def many(self, rows: Sequence[Any]) -> list[np.ndarray]:
        """For each row of values an array (2, s) of torque and air flow."""
        keys = [self._key(row) for row in rows]
        new = [key for key in dict.fromkeys(keys) if key not in self.kept]
        changed = [[with_values(e, dict(key)) for e in self.engines] for key in new]
        self.kept.update(zip(new, self._march(changed), strict=True))
        return [self._with_friction(key, row) for key, row in zip(keys, rows, strict=True)]

    def pressure_effect(self) -> np.ndarray:
        """Relative change of torque and air flow (2, s) per relative change of ambient pressure,
        with nothing wrong."""
        base = self.many([[UNKNOWNS[n].neutral for n in self.names]])[0]
        raised = []
        for engine in self.engines:
            air = engine.intake.ambient
            more = air.changed(pressure=air.pressure * (1.0 + PRESSURE_STEP))
            raised.append(engine.with_intake(ambient=more))
        return (self._march([raised])[0] / base - 1.0) / PRESSURE_STEP

    def _march(self, curves: Sequence[list[Engine]]) -> list[np.ndarray]:
        """Torque and air flow (2, s) of each of ``curves``, lists with an engine for each speed."""
        jobs = [
            ((c, k), engine, float(n), 1.0)
            for c, engines in enumerate(curves)
            for k, (engine, n) in enumerate(zip(engines, self.rpm, strict=True))
        ]
        found = all_points(jobs, lambda done, _: self.progress(self.marched + done)) if jobs else {}
        self.marched += len(jobs)
        return [
            np.array([[found[c, k].figures[f] for k in range(len(self.rpm))] for f in ("torque", "air_flow")])
            for c in range(len(curves))
        ]

    def _key(self, row: Any) -> tuple:
        pairs = zip(self.names, map(float, row), strict=True)
        return tuple((n, v) for n, v in pairs if UNKNOWNS[n].apply is not None)

    def _with_friction(self, key: tuple[tuple[str, float], ...], row: Any) -> np.ndarray:
        values = self.kept[key].copy()
        if "fmep" in self.names:
            values[0] -= row[list(self.names).index("fmep")] * self.per_fmep
        return values


class _Problem:
    """Whitened residuals of one manifold and their derivatives."""

    def __init__(
        self, engine: Engine, curve: MeasuredCurve, names: Sequence[str], predictor: Predictor
    ) -> None:
        self.names, self.predictor = names, predictor
        self.unknowns = [UNKNOWNS[n] for n in names]
        flow = measured_air_flow(curve)
        torque = mean_of_pulls(curve.observed)
        self.measured = np.array([torque, mean_of_pulls(flow[0]) if flow else np.full_like(torque, np.nan)])
        self.used = np.isfinite(self.measured)
        self.whiten = cholesky(self._covariance(engine.pull.accuracy, curve, flow), lower=True)

    def _covariance(
        self, accuracy: Accuracies, curve: MeasuredCurve, flow: tuple[np.ndarray, str] | None
    ) -> np.ndarray:
        pairs = [(curve.observed, accuracy.torque)]
        if flow:
            pairs.append((flow[0], accuracy.air_flow))
        random, scales = np.zeros(self.used.shape), []
        for k, (values, scale) in enumerate(pairs):
            spread, freedom = spread_between_pulls([values], relative=True)
            spread = spread / np.sqrt(len(values)) if freedom else UNREPEATED
            random[k] = np.hypot(spread, MODEL)
            drift = 0.5 * abs(shown_drift([values])) * (len(values) - 1)
            g = np.zeros(self.used.shape)
            g[k] = np.hypot(scale, drift)
            scales.append(g)
        share = accuracy.barometer / float(np.mean(curve.air.pressure))
        scales.append(self.predictor.pressure_effect() * share)
        c = np.diag(random[self.used] ** 2)
        for g in scales:
            c += np.outer(g[self.used], g[self.used])
        return c

    def residuals(self, x: np.ndarray) -> np.ndarray:
        """Whitened residuals at ``x``."""
        return self._whitened(self.predictor.many([x])[0])

    def _whitened(self, predicted: np.ndarray) -> np.ndarray:
        r = (self.measured - predicted)[self.used] / self.measured[self.used]
        return solve_triangular(self.whiten, r, lower=True)

    def jacobian(self, x: np.ndarray) -> np.ndarray:
        """Derivatives by differences towards the middle of the bounds, all marched together."""
        steps = [u.step if v < np.mean(u.bounds) else -u.step for u, v in zip(self.unknowns, x, strict=True)]
        rows = [x, *(np.asarray(x) + np.eye(len(x))[k] * h for k, h in enumerate(steps))]
        base, *moved = [self._whitened(p) for p in self.predictor.many(rows)]
        return np.array([(m - base) / h for m, h in zip(moved, steps, strict=True)]).T


def calibrate(
    engine: Engine,
    curve: MeasuredCurve,
    names: Sequence[str],
    progress: Any = None,
    predictor: Any = None,
) -> Calibration:
    """Fit the unknowns ``names`` to a manifold's pulls.

    progress(points marched) is called as it goes; predictor: one to use again. Raises RequestError
    for unknown names and for more than the data can tell apart.
    """
    names = list(dict.fromkeys(names))
    wrong = [n for n in names if n not in UNKNOWNS]
    if wrong or not names:
        known = ", ".join(UNKNOWNS)
        raise RequestError(f"cannot calibrate '{', '.join(wrong)}'; there are: {known}")
    predictor = predictor or Predictor(engine, curve, names, progress)
    problem = _Problem(engine, curve, names, predictor)
    start = np.array([u.neutral for u in problem.unknowns])
    count = int(problem.used.sum())
    if count < 2 * len(names):
        raise RequestError(f"{count} measured values are too few to fit {len(names)} unknowns")
    _check_told_apart(problem, start, names)
    low, high = np.array([u.bounds for u in problem.unknowns]).T
    fit = least_squares(
        problem.residuals,
        start,
        problem.jacobian,
        (low, high),
        x_scale=0.5 * (high - low),
        ftol=1e-3,
        xtol=1e-4,
        gtol=1e-6,
    )
    jacobian = problem.jacobian(fit.x)
    freedom = count - len(names)
    misfit = 2.0 * fit.cost / freedom
    covariance = np.linalg.inv(jacobian.T @ jacobian) * max(1.0, misfit)
    deviations = np.sqrt(np.diag(covariance))
    values = dict(zip(names, map(float, fit.x), strict=True))
    return Calibration(
        values,
        dict(zip(names, _half_widths(deviations, freedom, len(names)), strict=True)),
        dict(zip(names, _half_widths(deviations, freedom, 1), strict=True)),
        covariance / np.outer(deviations, deviations),
        misfit,
        len(predictor.kept),
        with_values(engine, values),
    )


def _about(kind: str, value: float) -> str:
    """A value to two digits, with its unit."""
    shown = unit(kind)
    return f"{float(shown.of(value)):.2g} {shown.name}".rstrip()


def _half_widths(deviations: np.ndarray, freedom: int, together: int) -> list[float]:
    """Of intervals that so many hold together."""
    level = 1.0 - (1.0 - CONFIDENCE) / (2.0 * together)
    return [float(v) for v in student.ppf(level, freedom) * deviations]


def _check_told_apart(problem: _Problem, start: np.ndarray, names: Sequence[str]) -> None:
    """Raise RequestError if the data cannot tell the unknowns apart where the fit starts."""
    jacobian = problem.jacobian(start)
    information = jacobian.T @ jacobian
    size = np.sqrt(np.diag(information))
    if np.any(size == 0.0):
        blind = ", ".join(n for n, s in zip(names, size, strict=True) if s == 0.0)
        raise RequestError(f"nothing measured depends on {blind}; leave it out")
    eigenvalues, vectors = np.linalg.eigh(information / np.outer(size, size))
    index = 1.0 / np.sqrt(max(eigenvalues[0], 1e-300))
    advice = "fit fewer unknowns, log air flow, or repeat the pulls"
    if index > MOST_COLLINEAR:
        mixed = [n for n, s in zip(names, np.abs(vectors[:, 0]), strict=True) if s > MIXED]
        raise RequestError(
            f"the data cannot tell {' and '.join(mixed)} apart (collinearity index {index:.1f}, at"
            f" most {MOST_COLLINEAR:.0f}): different values of them give the same curve; {advice}"
        )
    deviations = np.sqrt(np.diag(np.linalg.inv(information)))
    wide = _half_widths(deviations, len(jacobian) - len(names), len(names))
    rooms = [0.5 * (u.plausible[1] - u.plausible[0]) for u in problem.unknowns]
    said = [
        f"{name} better than +-{_about(u.kind, w)} (plausible: +-{_about(u.kind, room)})"
        for name, u, w, room in zip(names, problem.unknowns, wide, rooms, strict=True)
        if w > room
    ]
    if said:
        raise RequestError(f"the data cannot tell {', '.join(said)}; {advice}")
